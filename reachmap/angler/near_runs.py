"""Drawn hazards near the water of a run, and the places to stand left out for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from reachmap.base.grouped import Rows
from reachmap.base.words import HazardWay

NEAR = ("number", "kind", "note", "distance_m", "way", "toward", "left_out")
"""Columns of the layer `hazards_near` that are needed."""

ORDER: Mapping[str, int] = {way.value: place for place, way in enumerate(HazardWay)}
"""Ways to come to a hazard, what matters most first."""


def near_of(near: Rows) -> list[dict[str, Any]]:
    """Return the hazards near a run at one flow, each hazard once, what matters most first.

    Parameters
    ----------
    near
        The run's rows of the layer `hazards_near` at that flow, columns `NEAR`.

    Returns
    -------
    list
        Cells named as a station's (`hazard_kind` and so on), `number` and `left_out`, the sum over
        the pieces; way and distance are those of the first way in the order of `HazardWay`, its
        least distance.
    """
    order = np.array([ORDER[way] for way in near["way"]], dtype=np.int32)
    found: dict[int, dict[str, Any]] = {}
    for row in near[np.lexsort((near["distance_m"], order))]:
        one = found.setdefault(int(row["number"]), _first_row(row))
        one["left_out"] += int(row["left_out"])
    return by_weight(list(found.values()))


def by_weight(near: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return hazards, what matters most first: those straight off last, then by distance."""
    far = [row["hazard_way"] == HazardWay.STRAIGHT for row in near]
    return [near[at] for at in np.lexsort(([row["hazard_distance_m"] for row in near], far))]


def left_out_by_kind(near: Sequence[Mapping[str, Any]]) -> dict[str, int]:
    """Return how many places were left out by kind of hazard, from `near_of`'s rows."""
    counts: dict[str, int] = {}
    for row in near:
        if row["left_out"] > 0:
            counts[row["hazard_kind"]] = counts.get(row["hazard_kind"], 0) + row["left_out"]
    return dict(sorted(counts.items()))


def looked_everywhere(water: Rows, stands: Rows) -> bool:
    """Return whether every hazard could be looked for from every piece and place of a run.

    Parameters
    ----------
    water, stands
        The run's rows of those layers at one flow.
    """
    known = np.isfinite(stands["looked_m"])
    return bool(len(known) and known.all() and np.isin(water["code"], stands["water"]).all())


def _first_row(row: np.void) -> dict[str, Any]:
    """Return the cells of a hazard, none of its pieces counted yet."""
    return {
        "number": int(row["number"]),
        "hazard_kind": row["kind"],
        "hazard_note": row["note"],
        "hazard_distance_m": float(row["distance_m"]),
        "hazard_way": row["way"],
        "hazard_toward": row["toward"],
        "left_out": 0,
    }

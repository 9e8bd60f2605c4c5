"""Joining of a main river line that was drawn in several pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Part
from reachmap.markup.features import Feature

MEET_M = 5.0
"""Largest gap between the foot of one piece and the head of the next [m] (our choice, 1-20: the
accuracy of drawing by hand on a picture)."""


def joined_mains(features: Sequence[Feature]) -> tuple[tuple[Feature, ...], list[str]]:
    """Return the river's features with pieces of the main line that meet joined, and a note.

    Pieces are joined only head to foot, all of them into one line, and only where their order is
    unique; otherwise they stay separate, which is a fault.

    Parameters
    ----------
    features
        Features of the layer `river`.
    """
    mains = [one for one in features if one.shape is not None and one.values["part"] is Part.MAIN]
    order = _order(mains) if len(mains) > 1 else None
    if order is None:
        return tuple(features), []
    pieces = [mains[index] for index in order]
    coords: FloatArray = shapely.get_coordinates([one.shape for one in pieces])
    again = np.r_[False, (np.diff(coords, axis=0) == 0).all(axis=1)]
    whole = replace(
        pieces[0],
        shape=LineString(coords[~again]),
        values={**pieces[0].values, "name": next((n for n in map(_name, pieces) if n), "")},
        wrong=frozenset().union(*(one.wrong for one in pieces)),
    )
    names = ", ".join(one.where for one in pieces)
    note = f"The main river line was drawn in {len(pieces)} pieces that meet: joined ({names})."
    others = [one for one in features if one not in mains]
    return (whole, *others), [note]


def _order(mains: Sequence[Feature]) -> list[int] | None:
    """Return the pieces' order downstream; None where they do not make one chain."""
    heads = np.array([one.shape.coords[0] for one in mains if one.shape is not None])[:, :2]
    feet = np.array([one.shape.coords[-1] for one in mains if one.shape is not None])[:, :2]
    apart = np.hypot(*(feet[:, None] - heads[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    meets = apart <= MEET_M
    if (
        meets.sum() != len(mains) - 1
        or (meets.sum(axis=0) > 1).any()
        or (meets.sum(axis=1) > 1).any()
    ):
        return None
    (first,) = np.flatnonzero(~meets.any(axis=0))
    order = [int(first)]
    while meets[order[-1]].any():
        order.append(int(np.argmax(meets[order[-1]])))
    return order if len(order) == len(mains) else None


def _name(feature: Feature) -> str:
    """Return a piece's name."""
    return str(feature.values.get("name", ""))

"""Runs over the flows in sentences: why a run is in shape or not, and at which flows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from reachmap.base.arrays import BoolArray
from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words, rounded_flow
from reachmap.base.words import UnitSystem
from reachmap.text.hazards import EVERY_PLACE
from reachmap.text.numbers import text_of
from reachmap.text.odds import window_words
from reachmap.text.terms import LACKS

IN_SHAPE = noted("in shape")
NO_STAND = noted("No place with room to cast was found at its best flow.")


def why_words(lacks: Iterable[object]) -> str:
    """Return what keeps a run out of shape, from words of `Lack`; missing ones are skipped.

    Examples
    --------
    >>> why_words(["thin", "slow"]), why_words([None])
    ('too thin and too slow', '')
    """
    return tr(" and ").join(tr(LACKS[word]) for lack in lacks if (word := text_of(lack)))


def shape_words(row: Mapping[str, Any]) -> str:
    """Return why a run is in shape or not, from a row of the table of runs by flow."""
    return tr(IN_SHAPE) if row["in_shape"] else why_words((row["why"], row["why_too"]))


def csv_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of the table of runs by flow with its reason in words, in one column."""
    columns = {name: value for name, value in row.items() if name != "why_too"}
    return columns | {"why": shape_words(row)}


def run_note(run: Mapping[str, Any], mine: pd.DataFrame, units: UnitSystem) -> str:
    """Return the note on a row of the layer `runs`.

    Parameters
    ----------
    run
        The row.
    mine
        The run's rows of the table of runs by flow, flows rising.
    units
        The reach folder's units.
    """
    words = [one for one in (window_words(run, units), shape_note(mine, units)) if one]
    if math.isfinite(run["best_flow_m3_s"]) and math.isnan(run["minutes"]):
        words.append(tr(NO_STAND))
    if not run["places"] and run["left_out"]:
        words.append(tr(EVERY_PLACE))
    return " ".join(words)


def shape_note(mine: pd.DataFrame, units: UnitSystem) -> str:
    """Return when a run comes into shape, is best and is gone, in one line.

    Parameters
    ----------
    mine
        The run's rows of the table of runs by flow, flows rising.
    units
        The reach folder's units.
    """
    flows = _flow_names(mine, units)
    shaped = mine["in_shape"].to_numpy(dtype=bool)
    if not shaped.any():
        return tr("In shape at none of these flows.")
    best = flows[int(np.where(shaped, mine["score"].to_numpy(dtype=float), -1).argmax())]
    inside = np.flatnonzero(shaped)
    first, last = flows[inside[0]], flows[inside[-1]]
    from_start, to_end = inside[0] == 0, inside[-1] == len(flows) - 1
    if inside[0] == inside[-1]:
        return tr("In shape at {first} only.", first=first)
    if from_start and to_end:
        sentence = tr(
            "In shape from {first} to {last} and perhaps beyond, best at {best}",
            first=first,
            last=last,
            best=best,
        )
    elif from_start:
        sentence = tr("In shape up to {last}, best at {best}, gone above", last=last, best=best)
    elif to_end:
        sentence = tr(
            "Comes into shape at {first}, best at {best}, still in shape at {last}",
            first=first,
            best=best,
            last=last,
        )
    else:
        sentence = tr(
            "Comes into shape at {first}, best at {best}, gone above {last}",
            first=first,
            best=best,
            last=last,
        )
    gaps = _gaps(shaped, flows)
    return (
        tr("{sentence}; not {gaps}.", sentence=sentence, gaps=", ".join(gaps))
        if gaps
        else f"{sentence}."
    )


def _flow_names(mine: pd.DataFrame, units: UnitSystem) -> list[str]:
    """Return the flows of a table in words; steps between the mapped flows are rounded."""
    steps = mine["between"].to_numpy(dtype=bool) if "between" in mine else np.zeros(len(mine), bool)
    return [
        flow_words(rounded_flow(float(flow), units) if step else float(flow), units)
        for flow, step in zip(mine["flow"], steps, strict=True)
    ]


def _gaps(shaped: BoolArray, flows: Sequence[str]) -> list[str]:
    """Return the stretches of flows out of shape between others in shape."""
    turns = np.flatnonzero(np.diff(shaped.astype(np.int8)))
    ends = [(int(a) + 1, int(b)) for a, b in pairwise(turns) if not shaped[a + 1]]
    return [
        tr("at {a}", a=flows[a]) if a == b else tr("from {a} to {b}", a=flows[a], b=flows[b])
        for a, b in ends
    ]

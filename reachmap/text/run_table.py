"""Runs over the flows in sentences: why one fishes or not, and when it comes into shape."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.hazards import EVERY_PLACE
from reachmap.text.numbers import text_of
from reachmap.text.terms import LACKS

IN_SHAPE = "in shape"
NO_STAND = "No place with room to cast was found at its best flow."


def why_words(lacks: Iterable[object]) -> str:
    """Return what keeps a run out of shape, from words of `Lack`; missing ones say nothing.

    Examples
    --------
    >>> why_words(["thin", "slow"]), why_words([None])
    ('too thin and too slow', '')
    """
    return " and ".join(LACKS[word] for lack in lacks if (word := text_of(lack)))


def shape_words(row: Mapping[str, Any]) -> str:
    """Return why a run is in shape or not, from a row of the table of runs by flow."""
    return IN_SHAPE if row["in_shape"] else why_words((row["why"], row["why_too"]))


def csv_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of the table of runs by flow with its reason in words, in one column."""
    told = {name: value for name, value in row.items() if name != "why_too"}
    return told | {"why": shape_words(row)}


def run_note(run: Mapping[str, Any], mine: pd.DataFrame, units: UnitSystem) -> str:
    """Return what to know of a row of the layer `runs`.

    Parameters
    ----------
    run
        The row.
    mine
        The run's rows of the table of runs by flow, flows rising.
    units
        The reach folder's units.
    """
    words = [shape_note(mine, units)]
    if math.isfinite(run["best_flow_m3_s"]) and math.isnan(run["minutes"]):
        words.append(NO_STAND)
    if not run["places"] and run["left_out"]:
        words.append(EVERY_PLACE)
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
    flows = [flow_words(float(flow), units) for flow in mine["flow"]]
    shaped = mine["in_shape"].to_numpy(dtype=bool)
    good = [flow for flow, shape in zip(flows, shaped, strict=True) if shape]
    if not good:
        return "In shape at none of these flows."
    best = flows[int(np.where(shaped, mine["score"].to_numpy(dtype=float), -1).argmax())]
    first, last = good[0], good[-1]
    if first == last:
        return f"In shape at {first} only."
    if first == flows[0] and last == flows[-1]:
        told = f"In shape from {first} to {last} and perhaps beyond, best at {best}"
    elif first == flows[0]:
        told = f"In shape up to {last}, best at {best}, gone above"
    elif last == flows[-1]:
        told = f"Comes into shape at {first}, best at {best}, still in shape at {last}"
    else:
        told = f"Comes into shape at {first}, best at {best}, gone above {last}"
    inner = flows[flows.index(first) : flows.index(last)]
    gaps = [flow for flow in inner if flow not in good]
    return f"{told}; not at {', '.join(gaps)}." if gaps else f"{told}."

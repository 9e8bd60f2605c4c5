"""The runs as plain values for the page's script: texts, and places in the page's coordinates."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.language import tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.base.words_runs import OnlyFrom
from reachmap.outputs.equals import equals_of
from reachmap.outputs.webmap.runs import Run, RunAtFlow
from reachmap.text.map_page import covered_words
from reachmap.text.numbers import both, text_of, time_words
from reachmap.text.odds import factor_words, odds_words
from reachmap.text.places import places_rows
from reachmap.text.run_lines import SURE, card_row
from reachmap.text.terms import WADED

Placed = Callable[[FloatArray], FloatArray]
"""Transforms points of the project's CRS, shape (n, 2) [m], into the page's coordinates."""


def run_values(
    runs: Sequence[Run], flows: Sequence[int], units: UnitSystem, placed: Placed, *, with_log: bool
) -> list[dict[str, Any]]:
    """Return the runs at some flows as plain JSON values.

    Parameters
    ----------
    runs
        From the head of the reach down.
    flows
        Indices of the flows, ascending.
    units
        The reach folder's units.
    placed
        Transforms points into the page's coordinates.
    with_log
        Whether the angler's own log is included.
    """
    states = [[run.at[index] for index in flows] for run in runs]
    places = [
        one.piece.place if one.piece is not None else (math.nan, math.nan)
        for mine in states
        for one in mine
    ]
    equals = [equals_of([run.at[index].row for run in runs]) for index in flows]
    at = iter(placed(np.array(places, dtype=np.float64).reshape(-1, 2)))
    return [
        {
            "name": run.name,
            "side": run.side,
            "own": run.own,
            "note": run.note,
            "best": None if run.best_flow is None else flow_words(run.best_flow, units),
            "at": [
                _at_flow(one, units, next(at), equal.get(run.name, ()), with_log=with_log)
                for one, equal in zip(mine, equals, strict=True)
            ],
        }
        for run, mine in zip(runs, states, strict=True)
    ]


def _curve(state: RunAtFlow) -> list[int] | None:
    """Return a run's odds at one flow with their bounds; None where it cannot be fished."""
    odds = [state.number(name) for name in ("odds", "odds_low", "odds_high")]
    return None if None in odds else [round(one) for one in odds if one is not None]


def _out_of_reach(state: RunAtFlow) -> tuple[float, float]:
    """Return the shares of a run's water that casts get to from the other bank alone, and not."""
    other = {"left": OnlyFrom.RIGHT, "right": OnlyFrom.LEFT}
    bank = "" if state.piece is None else state.piece.side
    across = state.beyond.get(other[bank], 0.0) if bank in other else 0.0
    return across, state.beyond.get(OnlyFrom.BOAT, 0.0)


def _at_flow(
    state: RunAtFlow, units: UnitSystem, at: FloatArray, equal: Sequence[str], *, with_log: bool
) -> dict[str, Any]:
    """Return a run at one flow; length and minutes where it has water there.

    `equal` are the runs that the map cannot tell it apart from.
    """
    piece = state.piece
    water = piece.water if piece is not None else state.water or {}
    score, minutes = state.number("score"), state.number("minutes")
    return {
        "shape": state.in_shape,
        "why": state.why,
        "kind": state.kind,
        "code": state.row["code"],
        "score": None if score is None else round(score),
        "odds": odds_words(state.row, equal),
        "first": state.number("rank_low") == 1 and not equal,
        "curve": _curve(state),
        "covered": covered_words(state.covered, *_out_of_reach(state)),
        "depth": both("depth", state.number("depth_m"), units),
        "speed": both("speed", state.number("speed_m_s"), units),
        "length": both("distance", state.number("length_m"), units) if state.kind else "",
        "minutes": "" if minutes is None else time_words(minutes),
        "instead": state.row["instead"],
        "sure": tr(SURE.get(text_of(water.get("confidence")), "")),
        "fished": text_of(water.get("code")),
        "water": text_of(water.get("kind")) or state.kind,
        "prime": state.prime,
        "wade": tr(WADED.get(text_of(state.row["wade"]), "")),
        "noStand": state.no_stand,
        "standing": [list(row) for row in places_rows(state.places, units)],
        "log": state.logged if with_log else "",
        "lines": [*state.lines, *filter(None, (factor_words(state.row),))],
        "pick": state.pick,
        "boat": state.by_boat,
        "where": state.texts.where,
        "from": state.texts.bank,
        "time": state.texts.minutes,
        "mind": state.texts.mind,
        "shut": state.texts.shut,
        "guide": state.texts.why,
        "seven": [card_row(line) for line in state.texts.lines],
        "place": [round(float(value)) for value in at] if np.isfinite(at).all() else None,
        "bank": piece.side if piece is not None else "",
        "off": None if piece is None else round(piece.offset_m, 1),
    }

"""The table of runs by flow: which stretch fishes at which flow, and why not at the others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd

from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.product import Product
from reachmap.outputs.standing import Standing, by_water, together
from reachmap.outputs.webmap.popups.cards import FACTORS, side_words
from reachmap.outputs.webmap.say import flow_names, flows_said, number_of, text_of

NO_STAND = Standing(0)
"""Where no place to stand was found."""


@dataclass(frozen=True, slots=True)
class RunAtFlow:
    """One run at one flow; numbers are None where nobody knows, `in_shape` where not worked out."""

    in_shape: bool | None
    why: str = ""
    kind: str = ""
    score: float | None = None
    depth_m: float | None = None
    speed_m_s: float | None = None
    instead: str = ""
    confidence: str = ""
    prime: bool = False
    wade: str = ""
    fished: int = 0
    logged: str = ""
    lines: tuple[str, ...] = ()
    standing: Standing = NO_STAND

    @property
    def no_stand(self) -> bool:
        """Return whether no place to stand was found from which to fish it."""
        return self.wade in {"no", "unknown"}

    @property
    def letter(self) -> str:
        """Return the sign of the table: the water's letter, a dot for no, a question mark."""
        if self.in_shape is None:
            return "?"
        return (
            (BY_KIND[self.kind].letter if self.kind in BY_KIND else "✓") if self.in_shape else "·"
        )

    @property
    def heard(self) -> str:
        """Return the table's cell in words."""
        if self.in_shape is None:
            return "not worked out"
        if not self.in_shape:
            return f"leave it: {self.why}" if self.why else "leave it"
        if self.prime:
            return f"prime: {BY_KIND[self.kind].words.lower()}" if self.kind in BY_KIND else "prime"
        return f"fishes: {BY_KIND[self.kind].words.lower()}" if self.kind in BY_KIND else "fishes"


@dataclass(frozen=True, slots=True)
class Run:
    """A run and how it stands at each flow, in the order of the product's labels."""

    name: str
    side: str
    own: bool
    note: str
    minutes: float | None
    best_flow: float | None
    length_m: float | None
    at: tuple[RunAtFlow, ...]


def runs_by_flow(product: Product) -> tuple[Run, ...]:
    """Return every run of the product, from the head of the reach down.

    The report's own table is taken where there is one; what it leaves out is worked out from the
    layers `water` and `runs`.
    """
    frame = product.layers["runs"]
    told = {
        (str(row.get("run")), str(row.get("flow_label"))): row
        for row in product.report.get("runs_by_flow") or ()
    }
    cards = product.report.get("cards") or {}
    best, names = _best_water(product.layers["water"]), flow_names(product)
    rows = sorted(frame.to_dict("records"), key=lambda row: _known(row.get("station_m")) or 0.0)
    told_runs = (_run(row, product.labels, told, cards, best) for row in rows)
    standing = _standing(product)
    return tuple(
        replace(
            run,
            note=flows_said(run.note, names),
            at=tuple(
                replace(state, standing=standing.get((label, run.name), NO_STAND))
                for label, state in zip(product.labels, run.at, strict=True)
            ),
        )
        for run in told_runs
    )


def _standing(product: Product) -> dict[tuple[str, str], Standing]:
    """Return depth stood in and room behind of each run, by label of the flow and its name."""
    water, stands = product.layers["water"], by_water(product.layers["stations"])
    parts: dict[tuple[str, str], list[Standing]] = {}
    for label, run, code in zip(water["flow_label"], water["run"], water["code"], strict=True):
        here = stands.get((str(label), str(code)), NO_STAND)
        parts.setdefault((str(label), str(run)), []).append(here)
    return {key: together(found) for key, found in parts.items()}


def _run(
    row: Mapping[str, Any],
    labels: Sequence[str],
    told: Mapping[tuple[str, str], Mapping[str, Any]],
    cards: Mapping[str, Any],
    best: Mapping[tuple[str, str], Mapping[str, Any]],
) -> Run:
    """Return one run."""
    name = str(row["run"])
    fishes = {part.strip() for part in str(row.get("flows_in_shape") or "").split(",")} - {""}
    spread = []
    for label in labels:
        lines = tuple(str(line) for line in (cards.get(name) or {}).get(label) or ())
        water = best.get((name, label))
        entry = told.get((name, label))
        spread.append(
            _from_report(entry, water, lines)
            if entry is not None
            else _from_layers(label in fishes, water, lines)
        )
    return Run(
        name,
        side_words(row.get("side")),
        str(row.get("named_by")) == "angler",
        text_of(row.get("note")),
        _known(row.get("minutes")),
        _known(row.get("best_flow")),
        _known(row.get("length_m")),
        tuple(spread),
    )


def _from_report(
    entry: Mapping[str, Any], water: Mapping[str, Any] | None, lines: tuple[str, ...]
) -> RunAtFlow:
    """Return a run at a flow as the report tells it."""
    shape = entry.get("in_shape")
    return RunAtFlow(
        None if shape is None else bool(shape),
        text_of(entry.get("why")),
        text_of(entry.get("kind")),
        _known(entry.get("score")),
        _known(entry.get("depth_m")),
        _known(entry.get("speed_m_s")),
        text_of(entry.get("instead")),
        text_of((water or {}).get("confidence")),
        text_of(entry.get("prime")) == "yes",
        text_of(entry.get("wade")),
        int(_known(entry.get("times_fished")) or 0),
        text_of(entry.get("log_words")),
        lines,
    )


def _from_layers(
    in_shape: bool, water: Mapping[str, Any] | None, lines: tuple[str, ...]
) -> RunAtFlow:
    """Return a run at a flow from its best water."""
    if water is None:
        return RunAtFlow(in_shape, "no water worth a swing was found here", lines=lines)
    kind = str(water.get("kind"))
    words = BY_KIND[kind].words.lower() if kind in BY_KIND else kind
    why = f"its {words} is the best of it" if in_shape else _weakest(water)
    return RunAtFlow(
        in_shape,
        why,
        kind,
        _known(water.get("score")),
        _known(water.get("depth_m")),
        _known(water.get("speed_m_s")),
        "",
        text_of(water.get("confidence")),
        text_of(water.get("prime")) == "yes",
        text_of(water.get("wade")),
        lines=lines,
    )


def _weakest(water: Mapping[str, Any]) -> str:
    """Return which factor keeps water from scoring."""
    known = [
        (value, word) for name, word in FACTORS if (value := _known(water.get(name))) is not None
    ]
    return f"its {min(known)[1]} does not suit" if known else "it scores too low"


def _best_water(water: gpd.GeoDataFrame) -> dict[tuple[str, str], dict[str, Any]]:
    """Return the best-scored piece of water of each run at each flow."""
    best: dict[tuple[str, str], dict[str, Any]] = {}
    for row in water.drop(columns="geometry").to_dict("records"):
        key = (str(row["run"]), str(row["flow_label"]))
        if key not in best or (_known(row["score"]) or 0) > (_known(best[key]["score"]) or 0):
            best[key] = row
    return best


def _known(value: object) -> float | None:
    """Return a number, or None for anything that is not a finite one."""
    number = number_of(value)
    return number if math.isfinite(number) else None

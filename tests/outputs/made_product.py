"""A made product with every layer in it, for tests of what is written; nothing here was computed.

The river is a sine-generated curve in open ocean. Depth and speed come from `tests.made`; the
layers are laid by hand along the line, each kind there at some flow and missing at another.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from shapely import Point, Polygon

from reachmap.angler import AnglerSettings, CardLayers, run_card
from reachmap.base.schema import table_frame
from reachmap.base.units import flow_label, to_si
from reachmap.base.words import (
    AccessKind,
    Cover,
    Hand,
    HazardKind,
    Part,
    Season,
    Side,
    UnitSystem,
    Wet,
)
from reachmap.markup.dem_note import DemNote
from reachmap.markup.kit import Angler, Head, Kit, Rod, Tip
from reachmap.markup.model import (
    Access,
    Bank,
    Hazard,
    Markup,
    NamedRun,
    Plan,
    River,
    SeasonLimits,
    Sounding,
)
from reachmap.outputs.product import Product
from tests.made import CRS, made_flows, made_ground
from tests.outputs.made_layers import Along, bends, made_layers

FILLS = {
    to_si(1200.0, "cfs"): -1.25,
    to_si(2400.0, "cfs"): -0.75,
    to_si(4000.0, "cfs"): -0.25,
    to_si(6500.0, "cfs"): 0.35,
}
"""Discharge [m3/s] and level above the bank tops at the head [m]."""

RUN_NAMES = ("First Gravel", "Alder Corner", "Two Stumps", "Tin Roof", "The Long Side", "Boatman's")


TERMS: dict[str, Any] = {
    "height_m": 1.78,
    "mass_kg": 63.0,
    "mass_given": False,
    "limit_depth_m": 0.89,
    "limit_speed_m_s": 0.8,
    "limit_product_m2_s": 0.33,
    "rule": "poor conditions",
    "rules": ["rule of ten", "published limits"],
    "easy_chance": 0.02,
    "careful_chance": 0.1,
    "margins_off": [],
    "evidence": "DEM and soundings",
    "easy_allowed": True,
    "easy_needs": "",
    "gauge": "read",
}
"""How water was graded, as the build reports it."""

STRICT: dict[str, Any] = TERMS | {
    "margins_off": ["mass 250 kg is beyond what the rules were tested for", "spread of the beds"],
    "easy_allowed": False,
    "easy_needs": "a terrain model flown at low water",
}
"""The same with margins switched off and nothing graded easy."""


def made_product(
    *,
    length: float = 900.0,
    cell: float = 2.0,
    wavelength: float = 420.0,
    units: UnitSystem = UnitSystem.US,
    fills: dict[float, float] | None = None,
    preview: bool = False,
    tables: bool = True,
    text: str | None = None,
) -> Product:
    """Return a made product.

    `tables` puts `runs_by_flow` and `cards` into the report; `text` takes the place of everything
    that a user could have typed; `fills` are the flows as in `tests.made.made_flows`.
    """
    ground = made_ground(
        length=length,
        wavelength=wavelength,
        turn_deg=62,
        half_width=26,
        deep=2.2,
        slope=0.0012,
        cell=cell,
        margin=60,
        riffle=0.35,
    )
    along = Along(ground)
    _lay_island(ground)
    flows = _with_unknown(made_flows(ground, fills or FILLS), ground)
    labels = [flow_label(float(flow), units) for flow in flows["flow"].to_numpy()]
    flows = flows.assign_coords(asked=("flow", labels))
    names = _names(along, wavelength, text)
    layers = made_layers(ground, flows, along, names, wavelength)
    table = _table(layers, flows, names if text else ())
    report = _report(text) | (_told(table, labels, text) if tables else {})
    markup = _markup(along, units, tuple(float(f) for f in flows["flow"].to_numpy()), names, text)
    grouped = CardLayers.of(layers)
    return Product(
        markup,
        ground,
        flows,
        layers,
        report,
        preview,
        table,
        cards=lambda run, label: run_card(run, label, grouped, markup, AnglerSettings()),
    )


def _names(along: Along, wavelength: float, text: str | None) -> list[str]:
    """Return one run name a bend, all different."""
    count = len(bends(along, wavelength))
    plain = [
        RUN_NAMES[i % len(RUN_NAMES)] + ("" if i < 6 else f" {i // 6 + 1}") for i in range(count)
    ]
    return plain if text is None else [f"{text}{i}" for i in range(count)]


def _lay_island(ground: xr.Dataset) -> None:
    """Raise a bar in the middle of the river that only the highest flows drown."""
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    middle = 0.3 * float(ground["line_station"][-1])
    bump = 1.75 * np.exp(-(((station - middle) / 45) ** 4) - ((offset - 4) / 7) ** 4)
    ground["bed"].to_numpy()[:] += bump
    ground["surface"].to_numpy()[:] += bump


def _with_unknown(flows: xr.Dataset, ground: xr.Dataset) -> xr.Dataset:
    """Return the flows with a patch near the foot where nothing is known."""
    end = float(ground["line_station"][-1])
    patch = (np.abs(ground["station"].to_numpy() - (end - 60)) < 22) & (
        ground["offset"].to_numpy() > 2
    )
    for name in ("level", "depth", "east_speed", "north_speed"):
        flows[name].to_numpy()[:, patch] = np.nan
    wet = flows["wet"].to_numpy()
    wet[:, patch] = np.where(wet[:, patch] == Wet.YES, Wet.UNKNOWN, wet[:, patch])
    return flows


def _report(text: str | None) -> dict[str, Any]:
    """Return a report as the build makes it."""
    report: dict[str, Any] = {
        "warnings": ["No depth was measured on the outside of the last bend."],
        "made_from": [
            "a river line and 4 bank polygons",
            "edges of the water seen at 2 flows",
            "25 soundings",
            "a 1 m height model flown at 900 cfs",
        ],
        "confidence": "fair",
        "invented": True,
        "wading_terms": TERMS,
    }
    if text is not None:
        report |= {"warnings": [text], "made_from": [text]}
        typed = {"rule": text, "rules": [text], "margins_off": [text], "evidence": text}
        report["wading_terms"] = STRICT | typed | {"easy_needs": text}
    return report


def _told(table: pd.DataFrame, labels: Sequence[str], text: str | None) -> dict[str, Any]:
    """Return the table and the cards as the report holds them."""
    lines = [
        "Start at the top, 40 ft of line, and lengthen as the seam moves out.",
        "Cast 55 degrees down and across; the fly stops where the seam slows it.",
        text or "Way out: back the way you came, before the water rises.",
    ]
    cards = {run: dict.fromkeys(labels, lines) for run in dict.fromkeys(table["run"])}
    return {"runs_by_flow": json.loads(table.to_json(orient="records")), "cards": cards}


def _table(layers: dict[str, Any], flows: xr.Dataset, names: Sequence[str]) -> pd.DataFrame:
    """Return the table of runs by flow from the best water of each; `names` take a place."""
    water, found = layers["water"], []
    for run in layers["runs"]["run"]:
        for flow, label in zip(flows["flow"].to_numpy(), flows["asked"].to_numpy(), strict=True):
            mine = water[(water["run"] == run) & (water["flow_label"] == label)]
            best = mine.sort_values("score").iloc[-1] if len(mine) else None
            score = float(best["score"]) if best is not None else 0.0
            shaped = score >= 35
            row = {"run": run, "flow": float(flow), "flow_label": str(label), "in_shape": shaped}
            row |= {"why": None if shaped else "quick", "why_too": None, "score": score}
            row |= {"instead": "" if shaped else next(iter(names), "First Gravel")}
            row |= {"instead_score": np.nan, "instead_m": np.nan, "prime": False}
            row |= {"kind": None, "code": "", "side": None, "depth_m": np.nan, "speed_m_s": np.nan}
            if best is not None:
                copied = ("kind", "code", "side", "depth_m", "speed_m_s")
                row |= {name: best[name] for name in copied}
            found.append(row | {"length_m": 150.0, "minutes": 35.0, "wade": "dry"})
    return table_frame("runs_by_flow", _with_list(found, layers["runs"], flows))


MINDS = ("hazard", "way back", "more water", "wading", "room")


def _with_list(rows: list[dict[str, Any]], runs: Any, flows: xr.Dataset) -> list[dict[str, Any]]:
    """Return the rows with a short list at each flow: runs in shape, downstream, five at most.

    The last run of each flow's list is reached by boat alone.
    """
    station = dict(zip(runs["run"], runs["station_m"], strict=True))
    told = []
    for label in (str(one) for one in flows["asked"].to_numpy()):
        mine = sorted(
            (r for r in rows if r["flow_label"] == label), key=lambda r: station[r["run"]]
        )
        listed = [row["run"] for row in mine if row["in_shape"]][:5]
        for row in mine:
            on = row["run"] in listed
            start = station[row["run"]] + 50.0
            told.append(
                row
                | {
                    "pick": listed.index(row["run"]) + 1 if on else 0,
                    "by_boat": on and row["run"] == listed[-1] and len(listed) > 2,
                    "shut": None if row["in_shape"] else "out of shape",
                    "opens_m3_s": np.nan if row["in_shape"] else to_si(2400.0, "cfs"),
                    "prime_start_m": start if on else np.nan,
                    "prime_end_m": start + 50.0 if on else np.nan,
                    "prime_minutes": 25.0 if on else np.nan,
                    **_odds(row, listed),
                    "mind": MINDS[listed.index(row["run"])] if on else None,
                }
            )
    return told


def _odds(row: dict[str, Any], listed: Sequence[str]) -> dict[str, float]:
    """Return the odds of a run of the list, the first the best; of others none."""
    if row["run"] not in listed:
        return {}
    place = listed.index(row["run"])
    odds = 100.0 - 15.0 * place
    return {
        "odds_hour": odds / 1e4,
        "odds": odds,
        "odds_low": max(odds - 20.0, 0.0),
        "odds_high": min(odds + 10.0, 100.0),
        "rank_low": place + 1,
        "rank_high": place + 2,
    }


def _markup(
    along: Along,
    units: UnitSystem,
    flows: tuple[float, ...],
    names: Sequence[str],
    text: str | None,
) -> Markup:
    """Return the drawing that such a product would come from."""
    kit = Kit(
        Angler(1.8, 0.9, Hand.RIGHT, 1.2, 27.0),
        (Rod(text or "thirteen foot seven", 3.96, 7),),
        (Head(text or "24 ft head", 7.3, "skagit"),),
        (Tip(text or "10 ft of T-11", 3.05, 0.19),),
    )
    season = SeasonLimits(Season.WINTER, 0.5, 1.8, 0.3, 1.2)
    plan = Plan(
        text or "Made-up reach", units, 0.0012, 68.0, flows, season, kit, DemNote(25.0, "m", "made")
    )
    at = lambda s, o: Point(along.at([s], o)[0])  # noqa: E731
    end = along.length
    banks = tuple(
        Bank(text or name, Polygon(np.r_[
            along.at(s := np.linspace(0, end, 120), side * 26), along.at(s[::-1], side * 55)
        ]).buffer(0), Side.LEFT if side > 0 else Side.RIGHT, cover, 1.0, 3.0, text or "")
        for name, side, cover in (("west", 1, Cover.BRUSH), ("east", -1, Cover.TREES))
    )  # fmt: skip
    return Markup(
        crs=CRS,
        plan=plan,
        rivers=(River(text or "Made river", Part.MAIN, along.line(0, end, 0)),),
        banks=banks,
        soundings=(Sounding(text or "P1", at(120, 3), 1.1, 68.0, np.nan),),
        hazards=(
            Hazard(
                at(0.62 * end, -17), HazardKind.STRAINER, text or "Cottonwood down since spring"
            ),
            Hazard(
                along.line(0.45 * end, 0.48 * end, -6), HazardKind.LEDGE, text or "Four-foot step"
            ),
            Hazard(along.strip(0.8 * end, 0.86 * end, 16, 25), HazardKind.SOFT_BOTTOM, text or ""),
        ),
        access=(
            Access(at(0.2 * end, 48), AccessKind.PARKING, text or "Room for four cars"),
            Access(at(0.22 * end, 30), AccessKind.PATH, text or ""),
            Access(at(0.9 * end, -28), AccessKind.LANDING, text or "Gravel ramp"),
        ),
        runs=tuple(
            NamedRun(names[i], along.strip(s - 85, s + 130, -34, 34))
            for i, s, _ in bends(along, 420.0)[::2]
            if i < len(names)
        ),
        assumed=(text or "Height of the brush taken as 10 ft.",),
        digests={"markup.gpkg": "0" * 64},
    )

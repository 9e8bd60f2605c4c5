"""Panel of one run on a sheet: its small map, and instructions at this flow."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
from shapely import Point

from reachmap.angler.card_facts import RunCard
from reachmap.angler.places import combined_places, places_by_water
from reachmap.base.centreline import Centreline
from reachmap.base.language import tr
from reachmap.outputs.day_list import Stop
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.drawing import Shown, run_map, run_view
from reachmap.outputs.sheet.walked import Walked, walked_line
from reachmap.outputs.sheet.window_bar import window_bar
from reachmap.text.numbers import number_of
from reachmap.text.sheet import cut, panel_rows, sure_words, window_ends

HEAD_PX = 21.0
"""Height of a panel's heading [px]."""

SIZES = (("large huge", 420.0), ("large", 290.0))
"""Styles of panels from a given height [px]: larger type and a wider map."""

MAP_SHARE, LARGE_SHARE = 0.4, 0.45
"""Share of the paper's width for a map; our choice, 0.35-0.5."""


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Input of a panel.

    `row` is that of the table of runs by flow, `run` that of the layer `runs`; `places` are rows of
    the layer `stations`, `water` those of the layer `water`, of this run at this flow.
    """

    stop: Stop
    row: Mapping[str, Any]
    run: Mapping[str, Any]
    card: RunCard | None
    places: gpd.GeoDataFrame
    water: gpd.GeoDataFrame
    walked: Walked

    @property
    def span(self) -> tuple[float, float]:
        """Return the stations of the stretch to show [m]: the prime one, or the whole run."""
        start, end = (number_of(self.row.get(name)) for name in ("prime_start_m", "prime_end_m"))
        if math.isfinite(start) and math.isfinite(end):
            return start, end
        ends = self.water["station_m"].min(), self.water["station_end_m"].max()
        first, last = (number_of(one) for one in ends)
        if math.isfinite(first) and math.isfinite(last):
            return first, last
        top = number_of(self.run.get("station_m"))
        return top, top + max(number_of(self.run.get("extent_m")), 0.0)

    def begins(self, river: Centreline) -> Point:
        """Return the starting point: the first place, or that of the stretch on the river line."""
        if self.walked.start is not None:
            return self.walked.start
        return Point(river.line().interpolate(self.span[0] - river.head))


def run_facts(product: Product, label: str, stop: Stop) -> RunFacts:
    """Return the facts of one run of the day's list at a flow."""
    table, runs = product.runs, product.layers["runs"]
    row = table[(table["flow_label"] == label) & (table["run"] == stop.run)].iloc[0].to_dict()
    run = runs[runs["run"] == stop.run]
    water, stations = product.layers["water"], product.layers["stations"]
    mine = water[(water["flow_label"] == label) & (water["run"] == stop.run)]
    places = stations[
        (stations["flow_label"] == label) & stations["water"].isin(mine["code"].astype(str))
    ]
    start, end = (number_of(row.get(name)) for name in ("prime_start_m", "prime_end_m"))
    return RunFacts(
        stop,
        {str(key): value for key, value in row.items()},
        {str(key): value for key, value in run.iloc[0].to_dict().items()} if len(run) else {},
        product.cards(stop.run, label) if product.cards is not None else None,
        places,
        mine,
        walked_line(places, start, end),
    )


def run_panel(
    product: Product, label: str, facts: RunFacts, size: tuple[float, float]
) -> tuple[str, Shown]:
    """Return the panel of a run as HTML, and what the key must explain.

    Parameters
    ----------
    product
        The built reach.
    label
        The flow.
    facts
        Facts of the run.
    size
        Width and height of the panel on the page [px].
    """
    width, height = size
    look = next((name for name, least in SIZES if height >= least), "")
    place = (round(width * (LARGE_SHARE if look else MAP_SHARE)), height - HEAD_PX - 7)
    view = run_view(product, label, facts.walked, facts.span, place)
    drawn, shown = run_map(product, label, view, facts.walked, _fished(facts))
    stop = facts.stop
    texts = (
        stop.where,
        stop.minutes,
        tr("by boat") if stop.by_boat else "",
        sure_words(facts.card),
    )
    where = ", ".join(part for part in texts if part)
    return (
        f'<article class="run {look}" style="height:{height:.0f}px">'
        f"<h2><b>{stop.number}</b><span>{html.escape(cut(stop.run))}</span><i>{html.escape(where)}</i></h2>"
        f'<div class="both">{drawn}<div class="told">{_rows(product, facts)}</div></div>'
        "</article>"
    ), shown


def _rows(product: Product, facts: RunFacts) -> str:
    """Return what to do at the run, what to mind, the flows at which it fishes, its rank."""
    plan = product.markup.plan
    units, height_m = plan.units, plan.kit.angler.height_m
    places = combined_places(places_by_water(facts.places).values())
    rows = [
        f"<p><b>{name}</b> {_held(words)}</p>"
        for name, words in panel_rows(facts.card, places, height_m, units)
    ]
    names = ("window_low_m3_s", "window_high_m3_s")
    low, high = (number_of(facts.run.get(name)) for name in names)
    flows = product.read.flows
    here = number_of(facts.row.get("flow"))
    bar = window_bar(min(flows), max(flows), (low, high), here)
    ends = ". ".join(filter(None, (window_ends(facts.run, units), facts.stop.place)))
    mind, fits = tr("Mind"), tr("Flows")
    return (
        f'<p class="mind"><b>{html.escape(mind)}</b> {_held(facts.stop.mind)}</p>{"".join(rows)}'
        f'<p class="flows"><b>{html.escape(fits)}</b> {bar} {_held(ends)}</p>'
    )


MEASURE = re.compile(r"\d[\d.,]*(?:-\d[\d.,]*)? (?:ft|yd|m|s|in|cm|deg|cfs|m3/s|min|h)\b")
"""A number or range with its unit."""


def _held(words: str) -> str:
    """Return words as HTML, without line breaks between a number and its unit."""
    return MEASURE.sub(r"<span>\g<0></span>", html.escape(words))


def _fished(facts: RunFacts) -> list[Any]:
    """Return the water fished from the bank named in the list."""
    codes = facts.card.codes if facts.card is not None else ()
    mine = facts.water[facts.water["code"].astype(str).isin(codes)] if codes else facts.water
    return list(mine.geometry)

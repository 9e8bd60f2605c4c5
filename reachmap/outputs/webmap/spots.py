"""Point features of the page: places to stand, the angler's drawing, suggested notes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reachmap.base.centreline import Centreline
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.feature import EVERY_FLOW, Feature, Thin, rows_of
from reachmap.outputs.webmap.stands import Fan, apart, behind_of, directions_down, fan
from reachmap.text.map_cards import (
    Card,
    access_card,
    flow_or_none,
    hazard_card,
    note_card,
    sounding_card,
    station_card,
)
from reachmap.text.map_places import survey_card, trip_card
from reachmap.text.numbers import short, text_of


def stations(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the places to stand, each with its cast and back-cast room.

    `layers.with_runs` fills in their run.
    """
    line, units = Centreline.of(product.ground), product.markup.plan.units
    water = {
        (index, text_of(row["code"])): row["geometry"] for index, row in rows_of(product, "water")
    }
    shown = apart(rows_of(product, "stations"))
    down = directions_down(line, [row["geometry"] for _, row in shown])
    for (index, row), toward in zip(shown, down.tolist(), strict=True):
        code = str(row["water"])
        place = water.get((index, code))
        card = station_card(row, units)
        around = fan(row, line, place, toward)
        behind = behind_of(row)
        if around is not None:
            yield from _fan_features(around, behind, index, card, code)
        yield from thin.feature(
            "station",
            index,
            row["geometry"],
            card=card,
            code=code,
            label=text_of(row["code"]),
            mark=behind,
        )


def _fan_features(around: Fan, behind: str, index: int, card: Card, code: str) -> Iterator[Feature]:
    """Yield the back-cast room of a station and the reach of its cast."""
    x, y = (float(value) for value in around.swing[0])
    room = np.vstack([around.room, around.room[:1]])
    yield Feature(behind, index, (room,), True, (x, y), card, code=code)
    if behind != "blocked":
        yield Feature("swing", index, (around.swing,), False, (x, y), card, code=code)


def drawing(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the angler's drawing: river lines, notes, depths, access, hazards."""
    markup, units = product.markup, product.markup.plan.units
    for river in markup.rivers:
        yield from thin.feature("river", EVERY_FLOW, river.line, label=river.name)
    for bank in markup.banks:
        if bank.note:
            place = bank.outline.representative_point()
            yield from thin.feature("note", EVERY_FLOW, place, card=note_card(bank))
    for sounding in markup.soundings:
        card = sounding_card(sounding, units, flow_or_none(sounding.flow, units))
        label = short("depth", sounding.depth_m, units) if np.isfinite(sounding.depth_m) else ""
        yield from thin.feature("sounding", EVERY_FLOW, sounding.place, card=card, label=label)
    for access in markup.access:
        rest = {"card": access_card(access), "mark": access.kind.value}
        yield from thin.feature("access", EVERY_FLOW, access.place, **rest)
    for hazard in markup.hazards:
        rest = {"card": hazard_card(hazard), "mark": hazard.kind.value}
        yield from thin.feature("hazard", EVERY_FLOW, hazard.shape, **rest)


def trips(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the angler's own log; must not be used in pages that are shared."""
    units = product.markup.plan.units
    positions = {label: index for index, label in enumerate(product.labels)}
    for row in product.log.to_dict("records") if product.log is not None else ():
        yield from thin.feature(
            "trip",
            EVERY_FLOW,
            row["geometry"],
            card=trip_card(row, units),
            label=text_of(row["code"]),
            mark=text_of(row["kind"]),
            near=positions.get(text_of(row["near_label"]), EVERY_FLOW),
        )


def asks(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the places where a note would improve the map most (survey suggestions), best first."""
    units = product.markup.plan.units
    frame = product.layers.get("asks")
    for row in frame.to_dict("records") if frame is not None else ():
        yield from thin.feature(
            "ask",
            EVERY_FLOW,
            row["geometry"],
            card=survey_card(row, units),
            label=text_of(row["code"]),
            mark=text_of(row["kind"]),
        )

"""All vector features of the page, from the product's layers and the angler's drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from reachmap.angler.places import Places, places_by_water
from reachmap.base.words import ChannelKind, Confidence
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.feature import EVERY_FLOW, Feature, Thin, rows_of, straightened
from reachmap.outputs.webmap.spots import asks, drawing, stations, trips
from reachmap.outputs.webmap.unknown import (
    edge_band,
    guessed_ground,
    guessed_water,
    off_map,
    unknown_water,
)
from reachmap.text.map_cards import (
    Card,
    flow_or_none,
    lane_card,
    seam_card,
    tailout_card,
    unknown_card,
    wading_card,
    water_card,
)
from reachmap.text.map_places import bar_card, channel_card, left_over_card, own_run_card
from reachmap.text.numbers import number_of, text_of
from reachmap.text.structure import structure_card
from reachmap.text.terms import STRUCTURES

STEPS_CUT = 1.0
"""How far outlines of water may move to smooth the cells' edges [cells] (our choice)."""


@dataclass(frozen=True, slots=True)
class Group:
    """Features made of the same parts of a product.

    Parameters
    ----------
    name
        What they are.
    parts
        All that they are made of, words of `outputs.product.PARTS`; None where they hold names of
        runs or the log.
    make
        Yields them.
    """

    name: str
    parts: tuple[str, ...] | None
    make: Callable[[Product, Thin], Iterator[Feature]]


def groups() -> tuple[Group, ...]:
    """Return the groups of features, in the order in which they are drawn."""
    layers = ("ground", "layers", "words")
    return (
        Group("unknown", ("ground", "flows", "doubt", "words"), _from_rasters),
        Group("edges", ("waters", "words"), _edges),
        Group("wading", layers, _wading),
        Group("water", (*layers, "doubt", "names"), _water),
        Group("other water", layers, _other_water),
        Group("lines", layers, _lines),
        Group("runs", None, _runs),
        Group("channels", ("waters", "words"), _channels),
        Group("bars", layers, _bars),
        Group("stations", layers, stations),
        Group("drawing", ("drawing", "words"), drawing),
        Group("asks", ("asks", "words"), asks),
        Group("trips", None, trips),
    )


def thin_for(product: Product, tolerance: float) -> Thin:
    """Return how outlines are simplified, to a tolerance [m]."""
    return Thin(tolerance, STEPS_CUT * float(product.ground.attrs["cell"]))


def features(product: Product, *, tolerance: float = 0.2) -> list[Feature]:
    """Return all features, of all flows.

    Parameters
    ----------
    product
        The built reach.
    tolerance
        Tolerance of the simplification of outlines [m].
    """
    thin = thin_for(product, tolerance)
    return with_runs(product, [one for group in groups() for one in group.make(product, thin)])


def with_runs(product: Product, found: Sequence[Feature]) -> list[Feature]:
    """Return features with the run of each piece of water, and of its places, filled in."""
    water = product.layers["water"]
    columns = (water[name].astype(str) for name in ("flow_label", "code", "run"))
    run_of = {(label, code): run for label, code, run in zip(*columns, strict=True)}
    labels = product.labels
    return [
        replace(one, run=run_of.get((labels[one.flow], one.code), "")) if one.code else one
        for one in found
    ]


def _from_rasters(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield outlines of the unknown: water at each flow, and the bed."""
    words = unknown_card()
    beyond = off_map(product.flows)
    for index in range(len(product.labels)):
        for outline in unknown_water(product.flows, index, beyond):
            yield from thin.feature("unknown_water", index, outline, card=words, faded=True)
        if product.doubt is not None:
            for outline in guessed_water(product.doubt, index):
                yield from thin.feature("guess", index, outline)
            for outline in edge_band(product.doubt, index):
                yield from thin.feature("edge_band", index, outline)
    if product.doubt is None:
        for outline in guessed_ground(product.ground, product.flows):
            yield from thin.feature("guess", EVERY_FLOW, outline)


def _edges(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the wetted edge."""
    for index, row in rows_of(product, "wetted"):
        yield from thin.feature("edge", index, row["geometry"])


def _wading(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the zones of wading."""
    units, cell = product.markup.plan.units, float(product.ground.attrs["cell"])
    for index, row in rows_of(product, "wading"):
        zone = straightened(row["geometry"], cell)
        yield from thin.feature(str(row["grade"]), index, zone, card=wading_card(row, units))


def _water(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the pieces of water; `with_runs` fills in their run."""
    units = product.markup.plan.units
    stands = places_by_water(product.layers["stations"])
    for index, row in rows_of(product, "water"):
        yield from thin.feature(
            str(row["kind"]),
            index,
            thin.without_steps(row["geometry"]),
            card=water_card(
                row,
                units,
                stands.get((str(row["flow_label"]), str(row["code"])), Places(0)),
                tried=product.doubt is not None,
            ),
            code=text_of(row["code"]),
            label=text_of(row["code"]) + (" prime" if row["prime"] else ""),
            weight=number_of(row["score"]),
            faded=row["confidence"] == Confidence.LOW,
        )


def _lines(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield seams, tailouts and lanes, and the water that casts cover."""
    units = product.markup.plan.units
    lines: tuple[tuple[str, str, Callable[[Mapping[str, Any]], Card]], ...] = (
        ("seams", "seam_line", lambda row: seam_card(row, units)),
        ("tailouts", "tailout_line", lambda row: tailout_card(row, units)),
        ("lanes", "lane", lambda row: lane_card(row, units)),
    )
    for layer, kind, card in lines:
        for index, row in rows_of(product, layer):
            yield from thin.feature(kind, index, row["geometry"], card=card(row))
    for name, kind in (("bands", "band"), ("covered", "covered")):
        for index, row in rows_of(product, name):
            yield from thin.feature(kind, index, row["geometry"])


def _other_water(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield suitable water outside any piece, and structure at the flows it holds fish at."""
    units = product.markup.plan.units
    for index, row in rows_of(product, "left_over"):
        outline = thin.without_steps(row["geometry"])
        yield from thin.feature("left_over", index, outline, card=left_over_card(row))
    for index, row in rows_of(product, "structure"):
        if not row["holds"]:
            continue
        yield from thin.feature(
            "structure",
            index,
            thin.without_steps(row["geometry"]),
            card=structure_card(row, units),
            label=f"{STRUCTURES[str(row['kind'])]} {row['code']}",
            weight=100 * number_of(row["lie_odds"]),
            faded=row["confidence"] == Confidence.LOW,
        )


def _channels(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the side channels that carry water, with the flow at which they begin to."""
    units = product.markup.plan.units
    for index, row in rows_of(product, "channels"):
        if row["kind"] == ChannelKind.MAIN:
            continue
        first = flow_or_none(row["wakes_at_m3_s"], units)
        yield from thin.feature(
            "dead_arm" if row["kind"] == ChannelKind.DEAD_ARM else "side_channel",
            index,
            row["geometry"],
            card=channel_card(row, units),
            label=f"wakes at {first}" if first else "",
        )


def _bars(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield dry ground surrounded by water."""
    units = product.markup.plan.units
    for index, row in rows_of(product, "bars"):
        card = bar_card(row, units)
        cut = flow_or_none(row["cut_off_m3_s"], units)
        label = f"cut off at {cut}" if cut else ""
        yield from thin.feature("bar", index, row["geometry"], card=card, label=label)


def _runs(product: Product, thin: Thin) -> Iterator[Feature]:
    """Yield the stretches to fish, and the runs as drawn by the angler.

    A drawn run may consist of several computed stretches; the card of its outline covers them all.
    """
    own = {run.name for run in product.markup.runs}
    held, pieces = set(), dict[str, list[str]]()
    for row in product.layers["runs"].to_dict("records"):
        name = text_of(row["run"])
        held.add(name)
        drawn = next((one for one in own if name.startswith(one)), "")
        pieces.setdefault(drawn, []).append(name)
        kind = "own_run" if name in own else "found_run"
        yield from thin.feature(kind, EVERY_FLOW, row["geometry"], run=name, label=name)
    for run in product.markup.runs:
        if run.name not in held:
            card = own_run_card(run.name, pieces.get(run.name, []))
            yield from thin.feature("own_run", EVERY_FLOW, run.outline, card=card, label=run.name)

"""Content of the files for a GPS or a phone: named places and lines in longitude and latitude."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from reachmap.angler.places import Places, combined_places, places_by_water
from reachmap.base.columns import Frame
from reachmap.base.crs import WGS84
from reachmap.base.language import tr
from reachmap.base.units import flow_words
from reachmap.base.words import HazardKind, WadeGrade
from reachmap.outputs.handheld.heights import heights_at
from reachmap.outputs.handheld.names import (
    ACCESS_LETTER,
    HAZARD_LETTER,
    LANE_LETTER,
    RUN_LETTER,
    WADE_LETTER,
    end_name,
    flow_letter,
    place_name,
    water_name,
)
from reachmap.outputs.places import zone_ends
from reachmap.outputs.product import Product
from reachmap.text.handheld import end_of, end_word
from reachmap.text.places import places_sentence
from reachmap.text.plain_words import in_words
from reachmap.text.structure import structure_about
from reachmap.text.survey import survey_note
from reachmap.text.terms import KINDS, STRUCTURES
from reachmap.text.wading_terms import terms_of
from reachmap.text.water import water_words

LEAST_WADE_M2 = 40.0
"""Least area of easy water that gets a line [m2] (our choice: smaller is illegible on a device)."""

LINE_TOLERANCE_M = 1.0
"""Tolerance of the simplification of lines [m]; below the accuracy of a GPS."""


DESCRIPTION_LENGTH = 1000
"""Longest text of a place, a line or a file kept by readers of these formats (our choice)."""

LAST_LETTER = 25
"""Index of the letter Z."""

HAZARD_LINE = 3
"""Index of the line on drawn hazards in a run's card; it is put first, since long text is cut."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: longitude and latitude [degrees], name, comment, full description, its group.

    `height_m` is above the DEM's datum, NaN where not known.
    """

    lon: float
    lat: float
    name: str
    comment: str
    about: str
    group: str
    height_m: float = math.nan


@dataclass(frozen=True, slots=True)
class Trail:
    """A line in longitude and latitude [degrees], in parts; name, comment, description, group."""

    parts: tuple[tuple[tuple[float, float], ...], ...]
    name: str
    comment: str
    about: str
    group: str


@dataclass(frozen=True, slots=True)
class Route:
    """Places in the order of a route; name, comment, description, group."""

    spots: tuple[Spot, ...]
    name: str
    comment: str
    about: str
    group: str


Things = tuple[Spot | Trail | Route, ...]


@dataclass(frozen=True, slots=True)
class FileContent:
    """One file: title, description with cautions, top-level things, and parts by flow.

    A file of one flow has everything at its top level and no parts; that of all flows has at its
    top level what is common to all, and a titled part for each. `flow` is the one flow in words, ""
    in the file of all.
    """

    title: str
    about: str
    top: Things
    parts: tuple[tuple[str, Things], ...] = ()
    flow: str = ""

    def all(self) -> Iterator[Spot | Trail | Route]:
        """Yield everything in the file, in order."""
        yield from self.top
        for _, things in self.parts:
            yield from things


def lasting_spots(product: Product, *, long_names: bool = False) -> list[Spot]:
    """Return the places common to all flows: access, hazards, suggested notes."""
    return [*_drawn(product, long_names), *_suggestions(product, long_names)]


def flow_spots(product: Product, label: str, *, long_names: bool = False) -> list[Spot]:
    """Return both ends of runs in shape and of water at a flow, and lies of fish."""
    index = letter_of(product, label)
    return [
        *_run_ends(product, label, index, long_names),
        *_water_ends(product, label, index, long_names),
        *_lies(product, label, index, long_names),
    ]


def flow_trails(product: Product, label: str, *, long_names: bool = False) -> list[Trail]:
    """Return the travel lanes and the outer limits of easy wading at a flow."""
    letter = flow_letter(letter_of(product, label))
    lanes = _at(product.layers["lanes"], label)
    wading = _at(product.layers["wading"], label)
    easy = wading[(wading["grade"] == WadeGrade.EASY) & (wading.geometry.area >= LEAST_WADE_M2)]
    kinds = (
        (LANE_LETTER, tr("travel lane of fish"), tr("Lane"), "lanes", list(lanes.geometry)),
        (WADE_LETTER, tr("outer limit of easy wading"), tr("Wade line"), "wade",
         [shape.boundary for shape in easy.geometry]),
    )  # fmt: skip
    graded = " ".join(terms_of(product.report, product.markup.plan.units).first)
    trails = []
    for code, words, title, group, shapes in kinds:
        thin = [shape.simplify(LINE_TOLERANCE_M) for shape in shapes]
        for number, shape in enumerate(_lonlat(thin, product.markup.crs), start=1):
            short = f"{code}{number:02d}{letter}"
            long = place_name(f"{code}{number:02d} {label}", words=title)
            about = tr(
                "{line} at {flow}. A line on a map, not a promise.",
                line=words,
                flow=flow_title(product, label),
            )
            about += f" {graded}" if group == "wade" else ""
            trails.append(Trail(_parts(shape), long if long_names else short, words, about, group))
    return trails


def letter_of(product: Product, label: str) -> int:
    """Return the index of a flow's letter: that in the list; the last one for a flow between.

    Otherwise the file of a flow between would use the same names as the build's first flow.
    """
    return LAST_LETTER if product.between is not None else product.labels.index(label)


def _at(frame: Frame, label: str) -> Frame:
    """Return a layer's rows of one flow."""
    return frame[frame["flow_label"] == label]


def flow_title(product: Product, label: str) -> str:
    """Return a flow in words."""
    value = float(product.flows["flow"].to_numpy()[product.labels.index(label)])
    return flow_words(value, product.markup.plan.units)


def _lonlat(shapes: Iterable[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return shapes in longitude and latitude."""
    return list(gpd.GeoSeries(list(shapes), crs=crs).to_crs(WGS84))


def _parts(shape: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the lines of a shape as coordinates."""
    lines = shape.geoms if hasattr(shape, "geoms") else [shape]
    return tuple(
        tuple((round(x, 7), round(y, 7)) for x, y, *_ in line.coords)
        for line in lines
        if isinstance(line, LineString) and not line.is_empty
    )


def _spots(
    places: Sequence[Point],
    product: Product,
    texts: Sequence[tuple[str, str, str, str]],
    label: str = "",
) -> Iterator[Spot]:
    """Yield places in project coordinates as spots, each with name, comment, about and group."""
    heights = heights_at(product, places, label)
    for point, height, (name, comment, about, group) in zip(
        _lonlat(places, product.markup.crs), heights, texts, strict=True
    ):
        yield Spot(round(point.x, 7), round(point.y, 7), name, comment, about, group, height)


def _drawn(product: Product, long_names: bool) -> Iterator[Spot]:
    """Yield access points and hazards."""
    markup = product.markup
    found = [("access", ACCESS_LETTER, a.place, str(a.kind), a.note) for a in markup.access]
    found += [
        ("hazards", HAZARD_LETTER, h.shape.representative_point(), str(h.kind), h.note)
        for h in markup.hazards
    ]
    numbers: dict[str, int] = {}
    texts = []
    for group, letter, _, kind, note in found:
        numbers[letter] = numbers.get(letter, 0) + 1
        code = f"{letter}{numbers[letter]:02d}"
        other = kind == HazardKind.OTHER and group == "hazards"
        kind = in_words(kind)
        words = tr("Hazard") if other else kind.capitalize()
        name = place_name(code, words=words if long_names else "")
        texts.append((name, kind, f"{kind}. {note}" if note else f"{kind}.", group))
    yield from _spots([place for _, _, place, _, _ in found], product, texts)


def _suggestions(product: Product, long_names: bool) -> Iterator[Spot]:
    """Yield the places where a note would help most (survey suggestions), named by their code."""
    frame = product.layers.get("asks")
    rows = frame.to_dict("records") if frame is not None else []
    units = product.markup.plan.units
    texts = [
        (
            place_name(str(row["code"]), words=tr("Worth a note") if long_names else ""),
            tr("worth a note: {kind}", kind=in_words(row["kind"])),
            tr(
                "{note} Stop {order} in the order to go. Only where you can stand or float at "
                "ease.",
                note=survey_note(row, units),
                order=row["order"],
            ),
            "asks",
        )
        for row in rows
    ]
    yield from _spots([row["geometry"] for row in rows], product, texts)


def _run_ends(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield both ends of each run in shape at a flow; runs are numbered down the reach."""
    runs = product.layers["runs"].sort_values("station_m")
    at = label if long_names else ""
    cards: Mapping[str, Any] = product.report.get("cards") or {}
    water = _at(product.layers["water"], label)
    stands = places_by_water(_at(product.layers["stations"], label))
    terms, units = terms_of(product.report, product.markup.plan.units), product.markup.plan.units
    table = _at(product.runs, label)
    shaped = set(table.loc[table["in_shape"], "run"])
    ends = zone_ends(list(runs.geometry), product.ground)
    flow, places, texts = flow_title(product, label), [], []
    for number, (row, both) in enumerate(zip(runs.to_dict("records"), ends, strict=True), start=1):
        if row["run"] not in shaped:
            continue
        name = str(row["run"])
        lines = [str(line) for line in (cards.get(name) or {}).get(label) or ()]
        codes = water.loc[water["run"] == name, "code"]
        mine = combined_places(stands.get((label, str(code)), Places(0)) for code in codes)
        said = [*terms.first, places_sentence(mine, units), *lines[:3]]
        for end, place in zip(("top", "foot"), both, strict=True):
            code = f"{RUN_LETTER}{number:02d}"
            hazard = lines[HAZARD_LINE : HAZARD_LINE + 1]
            about = f"{tr('{what} at {flow}.', what=end_of(end, name), flow=flow)} "
            about += " ".join([*hazard, *said])
            places.append(place)
            texts.append(
                (
                    end_name(code, end, flow_letter(index), words=name, label=at),
                    end_of(end, name),
                    about,
                    "runs",
                )
            )
    yield from _spots(places, product, texts, label)


def _water_ends(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield both ends of each piece of water at a flow."""
    water = _at(product.layers["water"], label).sort_values("station_m", kind="stable")
    units = product.markup.plan.units
    stands = places_by_water(_at(product.layers["stations"], label))
    mark = terms_of(product.report, units).margins_off
    at = label if long_names else ""
    ends = zone_ends(list(water.geometry), product.ground)
    places, texts = [], []
    for row, both in zip(water.to_dict("records"), ends, strict=True):
        code, kind = water_name(str(row["code"])), tr(KINDS[row["kind"]])
        mine = stands.get((label, str(row["code"])), Places(0))
        said = " ".join(
            part for part in (water_words(row, units), places_sentence(mine, units), mark) if part
        )
        words = str(row["run"]) or kind
        for end, place in zip(("top", "foot"), both, strict=True):
            places.append(place)
            texts.append(
                (
                    end_name(code, end, flow_letter(index), words=words, label=at),
                    f"{end_word(end)} {kind} {in_words(row['side'])}",
                    end_of(end, said),
                    "water",
                )
            )
    yield from _spots(places, product, texts, label)


def _lies(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield the lie of each structure that holds fish at a flow."""
    frame = _at(product.layers["structure"], label)
    rows = frame[frame["holds"]].to_dict("records")
    units, letter = product.markup.plan.units, flow_letter(index)
    texts = []
    for row in rows:
        kind, code = tr(STRUCTURES[str(row["kind"])]), water_name(str(row["code"]))
        long = place_name(f"{code} {label}", words=kind.capitalize())
        name = long if long_names else f"{code}{letter}"
        texts.append((name, tr("lie: {kind}", kind=kind), structure_about(row, units), "structure"))
    places = [Point(row["lie_x_m"], row["lie_y_m"]) for row in rows]
    yield from _spots(places, product, texts, label)

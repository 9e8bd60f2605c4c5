"""What goes on a GPS or a phone: places and lines in longitude and latitude, named."""

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
from reachmap.text.places import places_sentence
from reachmap.text.structure import structure_about
from reachmap.text.survey import survey_note
from reachmap.text.terms import KINDS, STRUCTURES
from reachmap.text.wading_terms import terms_of
from reachmap.text.water import water_words

LEAST_WADE_M2 = 40.0
"""Easy water smaller than this gets no line (our choice: one could not tell it on a device)."""

LINE_TOLERANCE_M = 1.0
"""How far a line may move when needless points are dropped [m]; below what a GPS can tell."""


DESCRIPTION_LENGTH = 1000
"""Longest text of a place, a line or a file that readers of these formats keep (our choice)."""

LAST_LETTER = 25
"""Place of the letter Z."""

HAZARD_LINE = 3
"""Place of the line on drawn hazards in a run's card; it comes first, since long text is cut."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: longitude and latitude [degrees], name, a few words, all that is said, its group.

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
    """A line in longitude and latitude [degrees], in parts; name, a few words, its group."""

    parts: tuple[tuple[tuple[float, float], ...], ...]
    name: str
    comment: str
    about: str
    group: str


@dataclass(frozen=True, slots=True)
class Route:
    """Places in the order in which one goes to them; name, a few words, its group."""

    spots: tuple[Spot, ...]
    name: str
    comment: str
    about: str
    group: str


Things = tuple[Spot | Trail | Route, ...]


@dataclass(frozen=True, slots=True)
class FileContent:
    """One file: title, description with its cautions, what lies at its top, and its parts by flow.

    A file of one flow has all at its top and no parts; that of all flows has at its top what is
    there at every flow, and a part, with its title, for each. `flow` is the one flow as people read
    it, "" in the file of all.
    """

    title: str
    about: str
    top: Things
    parts: tuple[tuple[str, Things], ...] = ()
    flow: str = ""

    def all(self) -> Iterator[Spot | Trail | Route]:
        """Yield everything in the file, parts in their order."""
        yield from self.top
        for _, things in self.parts:
            yield from things


def lasting_spots(product: Product, *, long_names: bool = False) -> list[Spot]:
    """Return what is there at every flow: ways in, hazards, places where a note would help."""
    return [*_drawn(product, long_names), *_asks(product, long_names)]


def flow_spots(product: Product, label: str, *, long_names: bool = False) -> list[Spot]:
    """Return top and foot of runs in shape and of water at a flow, and where fish lie."""
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
        (LANE_LETTER, "travel lane of fish", "Lane", "lanes", list(lanes.geometry)),
        (WADE_LETTER, "outer limit of easy wading", "Wade line", "wade",
         [shape.boundary for shape in easy.geometry]),
    )  # fmt: skip
    graded = " ".join(terms_of(product.report, product.markup.plan.units).first)
    trails = []
    for code, words, title, group, shapes in kinds:
        thin = [shape.simplify(LINE_TOLERANCE_M) for shape in shapes]
        for number, shape in enumerate(_lonlat(thin, product.markup.crs), start=1):
            short = f"{code}{number:02d}{letter}"
            long = place_name(f"{code}{number:02d} {label}", words=title)
            about = f"{words} at {flow_title(product, label)}. A line on a map, not a promise."
            about += f" {graded}" if group == "wade" else ""
            trails.append(Trail(_parts(shape), long if long_names else short, words, about, group))
    return trails


def letter_of(product: Product, label: str) -> int:
    """Return the place of a flow's letter: in the list; the last for one asked for by itself.

    A file of a flow between, beside those of the build, would bear the names of the first of them.
    """
    return LAST_LETTER if product.between is not None else product.labels.index(label)


def _at(frame: Frame, label: str) -> Frame:
    """Return a layer's rows of one flow."""
    return frame[frame["flow_label"] == label]


def flow_title(product: Product, label: str) -> str:
    """Return a flow as a person reads it."""
    value = float(product.flows["flow"].to_numpy()[product.labels.index(label)])
    return flow_words(value, product.markup.plan.units)


def _lonlat(shapes: Iterable[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return shapes in longitude and latitude."""
    return list(gpd.GeoSeries(list(shapes), crs=crs).to_crs(WGS84))


def _parts(shape: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the lines of a shape as points."""
    lines = shape.geoms if hasattr(shape, "geoms") else [shape]
    return tuple(
        tuple((round(x, 7), round(y, 7)) for x, y, *_ in line.coords)
        for line in lines
        if isinstance(line, LineString) and not line.is_empty
    )


def _spots(
    places: Sequence[Point],
    product: Product,
    told: Sequence[tuple[str, str, str, str]],
    label: str = "",
) -> Iterator[Spot]:
    """Yield places in project coordinates as spots, each with name, comment, about and group."""
    heights = heights_at(product, places, label)
    for point, height, (name, comment, about, group) in zip(
        _lonlat(places, product.markup.crs), heights, told, strict=True
    ):
        yield Spot(round(point.x, 7), round(point.y, 7), name, comment, about, group, height)


def _drawn(product: Product, long_names: bool) -> Iterator[Spot]:
    """Yield ways in and hazards."""
    markup = product.markup
    found = [("access", ACCESS_LETTER, a.place, str(a.kind), a.note) for a in markup.access]
    found += [
        ("hazards", HAZARD_LETTER, h.shape.representative_point(), str(h.kind), h.note)
        for h in markup.hazards
    ]
    numbers: dict[str, int] = {}
    told = []
    for group, letter, _, kind, note in found:
        numbers[letter] = numbers.get(letter, 0) + 1
        code = f"{letter}{numbers[letter]:02d}"
        words = "Hazard" if kind == HazardKind.OTHER and group == "hazards" else kind.capitalize()
        name = place_name(code, words=words if long_names else "")
        told.append((name, kind, f"{kind}. {note}" if note else f"{kind}.", group))
    yield from _spots([place for _, _, place, _, _ in found], product, told)


def _asks(product: Product, long_names: bool) -> Iterator[Spot]:
    """Yield the places where a note would help most; their code is their name."""
    frame = product.layers.get("asks")
    rows = frame.to_dict("records") if frame is not None else []
    units = product.markup.plan.units
    told = [
        (
            place_name(str(row["code"]), words="Worth a note" if long_names else ""),
            f"worth a note: {row['kind']}",
            f"{survey_note(row, units)} Stop {row['order']} in the order to go. Only where you can "
            "stand or float at ease.",
            "asks",
        )
        for row in rows
    ]
    yield from _spots([row["geometry"] for row in rows], product, told)


def _run_ends(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield top and foot of each run in shape at a flow; runs are numbered down the reach."""
    runs = product.layers["runs"].sort_values("station_m")
    at = label if long_names else ""
    cards: Mapping[str, Any] = product.report.get("cards") or {}
    water = _at(product.layers["water"], label)
    stands = places_by_water(_at(product.layers["stations"], label))
    terms, units = terms_of(product.report, product.markup.plan.units), product.markup.plan.units
    table = _at(product.runs, label)
    shaped = set(table.loc[table["in_shape"], "run"])
    ends = zone_ends(list(runs.geometry), product.ground)
    flow, places, told = flow_title(product, label), [], []
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
            about = f"{end} of {name} at {flow}. {' '.join([*hazard, *said])}"
            places.append(place)
            told.append(
                (
                    end_name(code, end, flow_letter(index), words=name, label=at),
                    f"{end} of {name}",
                    about,
                    "runs",
                )
            )
    yield from _spots(places, product, told, label)


def _water_ends(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield top and foot of each piece of water at a flow."""
    water = _at(product.layers["water"], label).sort_values("station_m", kind="stable")
    units = product.markup.plan.units
    stands = places_by_water(_at(product.layers["stations"], label))
    mark = terms_of(product.report, units).margins_off
    at = label if long_names else ""
    ends = zone_ends(list(water.geometry), product.ground)
    places, told = [], []
    for row, both in zip(water.to_dict("records"), ends, strict=True):
        code, kind = water_name(str(row["code"])), KINDS[row["kind"]]
        mine = stands.get((label, str(row["code"])), Places(0))
        said = " ".join(
            part for part in (water_words(row, units), places_sentence(mine, units), mark) if part
        )
        words = str(row["run"]) or kind
        for end, place in zip(("top", "foot"), both, strict=True):
            places.append(place)
            told.append(
                (
                    end_name(code, end, flow_letter(index), words=words, label=at),
                    f"{end} {kind} {row['side']}",
                    f"{end} of {said}",
                    "water",
                )
            )
    yield from _spots(places, product, told, label)


def _lies(product: Product, label: str, index: int, long_names: bool) -> Iterator[Spot]:
    """Yield the lie of each structure that holds fish at a flow."""
    frame = _at(product.layers["structure"], label)
    rows = frame[frame["holds"]].to_dict("records")
    units, letter = product.markup.plan.units, flow_letter(index)
    told = []
    for row in rows:
        kind, code = STRUCTURES[str(row["kind"])], water_name(str(row["code"]))
        long = place_name(f"{code} {label}", words=kind.capitalize())
        name = long if long_names else f"{code}{letter}"
        told.append((name, f"lie: {kind}", structure_about(row, units), "structure"))
    places = [Point(row["lie_x_m"], row["lie_y_m"]) for row in rows]
    yield from _spots(places, product, told, label)

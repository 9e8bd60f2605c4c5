"""The runs of a map at each flow: the stretch to fish, or why it cannot be fished."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from reachmap.angler.card_facts import RunCard
from reachmap.angler.places import Places, combined_places, places_by_water
from reachmap.base.centreline import Centreline
from reachmap.base.language import noted, tr
from reachmap.base.words import Confidence, Footing, Lack, NamedBy, WaterKind
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.coverage import beyond_shares, covered_shares
from reachmap.text.map_cards import side_words
from reachmap.text.numbers import number_of, text_of
from reachmap.text.run_lines import Facts, Line, run_lines, why_sentence
from reachmap.text.run_table import run_note, shape_words
from reachmap.text.terms import DRAWN
from reachmap.text.today import is_whole, mind_words, minutes_words, shut_words, where_words

ACROSS_M = 150.0
"""Distance to either side of the river line within which water is searched [m]; our choice,
100-300."""

NO_PLACES = Places(0)
"""Value for a run without a place to stand."""


@dataclass(frozen=True, slots=True)
class RunTexts:
    """Texts of list and card on a run at a flow; empty where there is nothing to report.

    `where` is the stretch to fish, `bank` the bank to fish it from, `shut` why it cannot be fished,
    `why` why it fishes.
    """

    where: str = ""
    bank: str = ""
    minutes: str = ""
    mind: str = ""
    shut: str = ""
    why: str = ""
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """The piece of water to fish: its row, its bank, the position of the run's number on the map.

    `place` lies in it [m], abreast of the middle of the prime stretch if one is known; `offset_m`
    is the distance of its middle from the river line [m], positive to river left.
    """

    water: Mapping[str, Any]
    side: str
    place: tuple[float, float]
    offset_m: float


@dataclass(frozen=True, slots=True)
class RunAtFlow:
    """One run at one flow; unknown numbers and an unknown `in_shape` are None.

    `row` is that of the table of runs by flow, `water` that of its best water, if it has any,
    `piece` the water fished from the bank named in the list, `covered` the share of its water
    that is fished well by the casts, NaN where unknown, `beyond` the shares that casts get to only
    from one bank, or by boat (`OnlyFrom`).
    """

    row: Mapping[str, Any]
    water: Mapping[str, Any] | None = None
    fished: int = 0
    logged: str = ""
    lines: tuple[str, ...] = ()
    places: Places = NO_PLACES
    texts: RunTexts = RunTexts()
    piece: Piece | None = None
    covered: float = math.nan
    beyond: Mapping[str, float] = field(default_factory=dict)

    @property
    def pick(self) -> int:
        """Return its number in the day's short list; 0 if not listed."""
        number = number_of(self.row.get("pick"))
        return int(number) if math.isfinite(number) else 0

    @property
    def by_boat(self) -> bool:
        """Return whether it can be reached only by boat."""
        return bool(self.row.get("by_boat", False))

    @property
    def in_shape(self) -> bool | None:
        """Return whether it fishes; None where its water is not known."""
        return None if self.row["why"] == Lack.UNKNOWN else bool(self.row["in_shape"])

    @property
    def kind(self) -> str:
        """Return the kind of its best water."""
        return text_of(self.row["kind"])

    @property
    def why(self) -> str:
        """Return why it fishes or not, in words."""
        return shape_words(self.row)

    @property
    def prime(self) -> bool:
        """Return whether its best water is prime."""
        return bool(self.row["prime"])

    @property
    def no_stand(self) -> bool:
        """Return whether no place to stand was found for it."""
        return text_of(self.row["wade"]) in {Footing.NO, Footing.UNKNOWN}

    def number(self, name: str) -> float | None:
        """Return a number of the table's row, None where it is not known."""
        value = number_of(self.row[name])
        return value if math.isfinite(value) else None

    @property
    def letter(self) -> str:
        """Return the table's symbol: the water's letter, a dot for no, "?" for unknown."""
        if self.in_shape is None:
            return "?"
        return BY_KIND[self.kind].letter if self.in_shape else "·"

    @property
    def heard(self) -> str:
        """Return the table's cell in words, for screen readers."""
        if self.in_shape is None:
            return tr("not known")
        if not self.in_shape:
            return tr("leave it: {why}", why=self.why)
        words = noted("prime: {water}") if self.prime else noted("fishes: {water}")
        return tr(words, water=tr(DRAWN[self.kind]).lower())


@dataclass(frozen=True, slots=True)
class Run:
    """A run and its state at each flow, in the order of the product's labels."""

    name: str
    side: str
    own: bool
    note: str
    best_flow: float | None
    at: tuple[RunAtFlow, ...]


@dataclass(frozen=True, slots=True)
class RunWater:
    """What the runs of a product are told from and who fishes does not change.

    `pieces` are rows of the layer `water` by flow label and code; `places` and `covered` are by
    flow label and run: where one stands, and the share of its water swum rightly; so is `beyond`,
    the shares no cast gets to.
    """

    pieces: Mapping[tuple[Any, Any], Mapping[str, Any]]
    places: Mapping[tuple[str, str], Places]
    covered: Mapping[tuple[str, str], float]
    beyond: Mapping[tuple[str, str], Mapping[str, float]]
    line: Centreline

    @classmethod
    def of(cls, product: Product) -> RunWater:
        """Return that of a product."""
        rows = product.layers["water"].to_dict("records")
        pieces = {(row["flow_label"], row["code"]): row for row in rows}
        line = Centreline.of(product.ground)
        shares = covered_shares(product), beyond_shares(product)
        return cls(pieces, _places(product), *shares, line)


def runs_by_flow(
    product: Product, held: RunWater | None = None, like: Sequence[Run] = ()
) -> tuple[Run, ...]:
    """Return every run of the product, from the head of the reach down.

    Parameters
    ----------
    product
        The built reach.
    held
        From `RunWater.of`, if already made of the product or of one for somebody else.
    like
        Runs of another outing: where a run is fished from the same places at a flow, or from none,
        its texts are reused.
    """
    held = RunWater.of(product) if held is None else held
    known = {(run.name, text_of(one.row["flow_label"])): one for run in like for one in run.at}
    report, table, units = product.report, product.runs, product.markup.plan.units
    logged = {(row["run"], row["flow_label"]): row for row in report.get("runs_by_flow") or ()}
    cards = report.get("cards") or {}
    of_run = {str(run): mine for run, mine in table.groupby("run")}
    found = []
    for run in product.layers["runs"].sort_values("station_m").to_dict("records"):
        name, states = str(run["run"]), []
        for row in of_run[name].to_dict("records"):
            label = str(row["flow_label"])
            if label not in product.labels:
                continue
            log, mine = logged.get((name, label), {}), {str(key): row[key] for key in row}
            theirs = known.get((name, label))
            if theirs is not None and _alike(mine, theirs.row):
                shut = shut_words(mine, units)
                same = replace(theirs.texts, shut=shut)
                states.append(replace(theirs, row=mine, texts=same))
                continue
            card = None if product.cards is None else product.cards(name, label)
            piece = _piece(mine, card, held.pieces, held.line)
            states.append(
                RunAtFlow(
                    mine,
                    held.pieces.get((label, row["code"])),
                    int(log.get("times_fished") or 0),
                    text_of(log.get("log_words")),
                    tuple((cards.get(name) or {}).get(label) or ()),
                    held.places.get((label, name), NO_PLACES),
                    _run_texts(product, mine, run, card, piece),
                    piece,
                    held.covered.get((label, name), math.nan),
                    held.beyond.get((label, name), {}),
                )
            )
        best_flow = number_of(run["best_flow_m3_s"])
        found.append(
            Run(
                name,
                side_words(run["side"]),
                run["named_by"] == NamedBy.ANGLER,
                run_note({str(key): value for key, value in run.items()}, of_run[name], units),
                best_flow if math.isfinite(best_flow) else None,
                tuple(states),
            )
        )
    return tuple(found)


def _alike(mine: Mapping[str, Any], theirs: Mapping[str, Any]) -> bool:
    """Return whether two rows of the table have the same places, or neither has any."""
    if text_of(mine.get("shut")):
        return True
    pairs = [
        (number_of(mine.get(one)), number_of(theirs.get(one)))
        for one in ("odds_hour", "prime_start_m", "prime_end_m", "prime_minutes", "minutes")
    ]
    return all(a == b or (math.isnan(a) and math.isnan(b)) for a, b in pairs)


def _run_texts(
    product: Product,
    row: Mapping[str, Any],
    run: Mapping[Any, Any],
    card: RunCard | None,
    piece: Piece | None,
) -> RunTexts:
    """Return the texts of list and card on a run at a flow."""
    plan = product.markup.plan
    units, height = plan.units, plan.kit.angler.height_m
    lines: tuple[Line, ...] = ()
    why, minutes = "", minutes_words(row)
    where = where_words(row, {str(key): value for key, value in run.items()}, units)
    if card is not None and piece is not None:
        rated = replace(card, confidence=Confidence(piece.water["confidence"]))
        speed = number_of(piece.water["speed_m_s"])
        known = math.isfinite(number_of(row.get("prime_minutes")))
        prime = (where, minutes) if known else ("", "")
        lines = run_lines(Facts(rated, speed, height, units, *prime, whole=is_whole(row, run)))
        why = why_sentence(rated, WaterKind(piece.water["kind"]))
    return RunTexts(
        where,
        side_words(piece.side if piece is not None else row["side"]),
        minutes,
        mind_words(row, card, height, units),
        shut_words(row, units),
        why,
        lines,
    )


def _piece(
    row: Mapping[str, Any],
    card: RunCard | None,
    water: Mapping[tuple[Any, Any], Mapping[str, Any]],
    line: Centreline,
) -> Piece | None:
    """Return the piece of water to fish: the widest abreast of the prime stretch, else the best.

    Without a card it is the run's best water.
    """
    codes = card.codes if card is not None else (str(row["code"]),)
    pieces = [water[key] for code in codes if (key := (row["flow_label"], code)) in water]
    if not pieces:
        return None
    side = str(card.standing.side) if card is not None and card.standing else text_of(row["side"])
    middle = (number_of(row.get("prime_start_m")) + number_of(row.get("prime_end_m"))) / 2
    best = max(pieces, key=lambda one: number_of(one["score"]))
    shape: BaseGeometry = best["geometry"]
    place = shape.representative_point()
    if math.isfinite(middle):
        far = np.array([-ACROSS_M, ACROSS_M])
        across = LineString(np.column_stack(line.from_station_offset(np.full(2, middle), far)))
        wide = [across.intersection(one["geometry"]) for one in pieces]
        widest = int(np.argmax([one.length for one in wide]))
        if wide[widest].length > 0:
            best, place = pieces[widest], wide[widest].interpolate(0.5, normalized=True)
    centre = best["geometry"].centroid
    _, offset = line.to_station_offset(np.array([centre.x]), np.array([centre.y]))
    return Piece(best, side, (float(place.x), float(place.y)), float(offset[0]))


def _places(product: Product) -> dict[tuple[str, str], Places]:
    """Return standing depth and room behind of each run, by flow label and name."""
    water: gpd.GeoDataFrame = product.layers["water"]
    stands = places_by_water(product.layers["stations"])
    parts: dict[tuple[str, str], list[Places]] = {}
    for label, run, code in zip(water["flow_label"], water["run"], water["code"], strict=True):
        here = stands.get((label, code), NO_PLACES)
        parts.setdefault((label, run), []).append(here)
    return {key: combined_places(found) for key, found in parts.items()}


def picked(runs: Sequence[Run], flow: int) -> list[tuple[str, RunAtFlow]]:
    """Return the runs on a flow's short list with their names, in its order."""
    found = [(run.name, run.at[flow]) for run in runs if run.at[flow].pick]
    return sorted(found, key=lambda one: one[1].pick)

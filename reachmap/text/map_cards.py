"""The card of each feature on the map: plain words and numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reachmap.angler.places import Places
from reachmap.base.language import number_text, tr
from reachmap.base.units import flow_words
from reachmap.base.words import AccessKind, Confidence, HazardKind, UnitSystem, WaterKind
from reachmap.markup.model import Access, Bank, Hazard, Sounding
from reachmap.text.numbers import UNKNOWN, both, number_of, text_of
from reachmap.text.places import places_rows
from reachmap.text.plain_words import in_words, meaning_words
from reachmap.text.plan import angle_words, plan_note
from reachmap.text.station import casts_words, station_note, tight_words
from reachmap.text.terms import DRAWN, FACTORS, OF_ENSEMBLE, SIDES, WADED
from reachmap.text.water import TAILOUT_UNKNOWN
from reachmap.text.zone import zone_note


@dataclass(frozen=True, slots=True)
class Card:
    """A feature's card: heading, a line below it, rows of name and value, and plain sentences."""

    title: str
    under: str
    rows: tuple[tuple[str, str], ...] = ()
    lines: tuple[str, ...] = ()

    def plain(self) -> list[Any]:
        """Return the card as JSON values."""
        return [self.title, self.under, [list(row) for row in self.rows], list(self.lines)]


def side_words(side: object) -> str:
    """Return a side in the angler's words; "" for none."""
    return tr(SIDES.get(text_of(side), ""))


def sure_words(confidence: object, *, tried: bool = False) -> str:
    """Return a confidence with its meaning; `tried` where it comes from an ensemble."""
    found = next((word for word in Confidence if word == str(confidence)), None)
    if found is None:
        return tr(UNKNOWN)
    meaning = tr(OF_ENSEMBLE[found]) if tried else meaning_words(found)
    return f"{in_words(found)}: {meaning}"


def _if_known(row: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """Return a row of a card, or none where its value is empty or unknown."""
    return () if row[1] in ("", tr(UNKNOWN)) else (row,)


def _joined(*words: object) -> str:
    """Return words joined with commas, missing ones left out."""
    return ", ".join(text for word in words if (text := text_of(word)))


def water_card(
    row: Mapping[str, Any], units: UnitSystem, places: Places, *, tried: bool = False
) -> Card:
    """Return the card of a piece of water worth fishing, from a row of the layer `water`.

    `places` sums up all its places to stand; `tried`: its confidence comes from an ensemble of
    grounds.
    """
    kind = next((word for word in WaterKind if word == row["kind"]), None)
    name = tr(DRAWN[kind]) if kind is not None else text_of(row["kind"])
    factors = [
        f"{tr(word)} {number_of(row[column]):.0%}"
        for column, word in FACTORS
        if number_of(row.get(column)) >= 0
    ]
    score = number_of(row["score"])
    scored = tr("{score} of 100", score=f"{score:.0f}")
    scored += f" ({', '.join(factors)})" if factors else ""
    return Card(
        f"{name} {text_of(row['code'])}",
        " · ".join(part for part in (text_of(row["run"]), side_words(row["side"])) if part),
        (
            (tr("Depth"), both("depth", number_of(row["depth_m"]), units)),
            (tr("Speed"), both("speed", number_of(row["speed_m_s"]), units)),
            (tr("Size"), size_words(row, units)),
            (tr("Suits a swung fly"), scored if math.isfinite(score) else tr(UNKNOWN)),
            *_if_known((tr("Wading to it"), tr(WADED.get(text_of(row.get("wade")), "")))),
            *places_rows(places, units),
            *_if_known((tr("Fish on their way up"), _passing(row.get("passing")))),
            *_if_known(
                (tr("From the bank"), both("distance", number_of(row.get("bank_m")), units))
            ),
            (tr("How sure"), sure_words(row["confidence"], tried=tried)),
            *_if_known((tr("Half of it or more is there"), _chance(row.get("chance")))),
        ),
        (
            *((meaning_words(kind).capitalize() + ".",) if kind is not None else ()),
            *((tr("It holds over a length worth fishing."),) if row["prime"] else ()),
            *((tr(TAILOUT_UNKNOWN),) if row.get("tailout_untold", False) else ()),
        ),
    )


def size_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how long and wide a piece of water is."""
    length, width = (both("distance", number_of(row[name]), units) for name in SIZES)
    return tr("{length} long, {width} wide", length=length, width=width)


SIZES = ("length_m", "width_m")


def _passing(value: object) -> str:
    """Return in words the share of fish that pass on a side; nothing where it is not known."""
    share = number_of(value)
    if not math.isfinite(share):
        return ""
    tenths = round(10 * share)
    if tenths in (0, 10):
        return tr("nearly all pass on this side") if tenths else tr("hardly any pass on this side")
    return tr("{tenths} in 10 pass on this side", tenths=tenths)


def _chance(value: object) -> str:
    """Return a chance in words; nothing where it is not known."""
    chance = number_of(value)
    return (
        tr("in {chance} of the rivers tried", chance=f"{chance:.0%}")
        if math.isfinite(chance)
        else ""
    )


def station_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a place to stand, from a row of the layer `stations`."""
    angle, seconds = number_of(row["angle_deg"]), number_of(row["swing_s"])
    cast = both("reach", number_of(row["cast_m"]), units)
    if math.isfinite(angle):
        cast += f", {angle_words(angle)}"
    room = both("reach", number_of(row["room_m"]), units)
    return Card(
        tr("Stand {code}", code=text_of(row["code"])),
        side_words(row["side"]),
        (
            (tr("Depth where you stand"), both("depth", number_of(row["depth_m"]), units)),
            (tr("Speed there"), both("speed", number_of(row["speed_m_s"]), units)),
            (
                tr("Room behind"),
                room if room != tr(UNKNOWN) else tr("not mapped: look before you cast"),
            ),
            (tr("Casts"), casts_words(row) or tr("none that you own fits")),
            *_if_known((tr("Only just fit"), tight_words(row))),
            *_if_known((tr("Make it a"), in_words(text_of(row.get("cast"))))),
            (tr("Cast"), cast),
            (tr("Longest head"), both("reach", number_of(row["head_max_m"]), units)),
            *_if_known((tr("Rod and head"), _joined(row.get("rod"), row.get("head")))),
            (tr("Tip"), text_of(row["tip"]) or tr(UNKNOWN)),
            *_if_known(
                (
                    tr("It wants a"),
                    text_of(row["tip_wants"])
                    and tr("{wants} tip", wants=in_words(row["tip_wants"])),
                )
            ),
            *_if_known((tr("Of the strip as wanted"), _share(row.get("share_in_bands")))),
            *_if_known((tr("Second pass, outside"), _second(row, units))),
            (
                tr("Swing"),
                tr("{seconds} s to the hang-down", seconds=f"{seconds:.0f}")
                if math.isfinite(seconds)
                else tr(UNKNOWN),
            ),
            *_if_known((tr("Way back is cut off at"), flow_or_none(row["cut_off_m3_s"], units))),
        ),
        tuple(line for line in (station_note(row, units), plan_note(row, units)) if line),
    )


def _share(value: object) -> str:
    """Return a share in words; nothing where it is not known."""
    share = number_of(value)
    return f"{share:.0%}" if math.isfinite(share) else ""


def _second(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the second pass in short; nothing where there is none."""
    cast = number_of(row.get("out_cast_m"))
    if not math.isfinite(cast):
        return ""
    angle = angle_words(number_of(row.get("out_angle_deg")))
    return f"{both('reach', cast, units)}, {angle}, {text_of(row.get('out_tip'))}"


def unknown_card() -> Card:
    """Return the card of unknown water."""
    return Card(
        tr("Not known"),
        tr("Treat it as deep and fast"),
        (),
        (tr("Nothing is known of the water here."),),
    )


def flow_or_none(value: object, units: UnitSystem) -> str:
    """Return a flow [m3/s] in words, nothing for NaN."""
    flow = number_of(value)
    return flow_words(flow, units) if math.isfinite(flow) else ""


def wading_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of wading water, from a row of the layer `wading`."""
    words = tr(DRAWN[str(row["grade"])]).lower()
    return Card(
        tr("Wading: {words}", words=words),
        tr("for the person you described"),
        (),
        (zone_note(row, units),),
    )


def seam_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a seam, from a row of the layer `seams`."""
    starts = tr("where two waters meet") if bool(row["from_junction"]) else tr("within one channel")
    strength = number_of(row["strength"])
    known = math.isfinite(strength)
    change = (
        tr("speed changes {strength} per second", strength=number_text(strength, 2))
        if known
        else tr(UNKNOWN)
    )
    eddy = bool(row.get("eddy", False))
    return Card(
        tr("Eddy line {code}", code=text_of(row["code"]))
        if eddy
        else tr("Seam {code}", code=text_of(row["code"])),
        tr("Where water runs back beside the current")
        if eddy
        else tr("Where two currents of different speed meet"),
        (
            (tr("Length"), both("distance", number_of(row["length_m"]), units)),
            *_if_known((tr("Quicker side"), both("speed", number_of(row.get("fast_m_s")), units))),
            *_if_known((tr("Slower side"), both("speed", number_of(row.get("slow_m_s")), units))),
            (
                tr("Slower on"),
                tr("the {side}, looking downstream", side=in_words(row["slow_side"])),
            ),
            (tr("Starts"), starts),
            (tr("Strength"), change),
        ),
    )


def tailout_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a tailout line, from a row of the layer `tailouts`."""
    return Card(
        tr("Tailout {code}", code=text_of(row["code"])),
        tr("From where the bed starts to rise, down to the lip"),
        (
            (tr("Length"), both("distance", number_of(row["length_m"]), units)),
            (tr("Depth at the lip"), both("depth", number_of(row["lip_depth_m"]), units)),
            (tr("Speed at the lip"), both("speed", number_of(row["lip_speed_m_s"]), units)),
            (tr("Pool above is deeper by"), both("depth", number_of(row["residual_m"]), units)),
        ),
    )


def lane_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a travel lane, from a row of the layer `lanes`."""
    effort = number_of(row["effort"])
    known = math.isfinite(effort)
    words = (
        tr("{effort} times that of still water", effort=number_text(effort, 1))
        if known
        else tr(UNKNOWN)
    )
    return Card(
        tr("Travel lane"),
        tr("Least-effort way upstream for a fish"),
        (
            (tr("Length"), both("distance", number_of(row["length_m"]), units)),
            (tr("Effort"), words),
        ),
    )


def hazard_card(hazard: Hazard) -> Card:
    """Return the card of a drawn hazard."""
    words = meaning_words(HazardKind(hazard.kind))
    lines = tuple(line for line in (hazard.note,) if line)
    return Card(tr("Hazard: {kind}", kind=in_words(hazard.kind)), words, (), lines)


def access_card(access: Access) -> Card:
    """Return the card of a way to the water."""
    lines = tuple(line for line in (access.note,) if line)
    return Card(
        in_words(access.kind).capitalize(), meaning_words(AccessKind(access.kind)), (), lines
    )


def note_card(bank: Bank) -> Card:
    """Return the card of the angler's note on a bank."""
    return Card(tr("Your note"), bank.name, ((tr("Cover"), in_words(bank.cover)),), (bank.note,))


def sounding_card(sounding: Sounding, units: UnitSystem, flow: str) -> Card:
    """Return the card of a measured depth or bed height; `flow` is the flow's label, or ""."""
    depth = both("depth", sounding.depth_m, units)
    rows = [(tr("Depth"), tr("{depth} at {flow}", depth=depth, flow=flow) if flow else depth)]
    if math.isfinite(sounding.bed_m):
        rows = [(tr("Bed height"), both("depth", sounding.bed_m, units))]
    return Card(tr("Depth you measured"), sounding.name, tuple(rows))

"""Conversion of the keys of reach.toml into the plan of a reach, with notes on defaults used."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.errors import Fault
from reachmap.base.units import FLOW, from_si, plain_number
from reachmap.base.words import Season, Side, UnitSystem
from reachmap.gauge.model import GaugeNote
from reachmap.markup.config.checks import check, flows_of
from reachmap.markup.config.own_numbers import tunables
from reachmap.markup.config.read import Parsed, read_keys
from reachmap.markup.config.schema import ReachKeys
from reachmap.markup.config.sections import (
    GPS_GROUPS,
    AnglerKeys,
    FlightKeys,
    SeasonKeys,
    SeasonPairs,
)
from reachmap.markup.defaults import HEADS, LIE_LIMITS, LIMITS, RODS, TIPS
from reachmap.markup.dem_note import DemNote
from reachmap.markup.files import DEM_PATTERNS, GAUGE_PATTERNS, IMAGERY_PATTERNS
from reachmap.markup.kit import Angler, Head, Kit, Rod, Tip
from reachmap.markup.model import LieLimits, Plan, SeasonLimits
from reachmap.markup.own import Own, OwnCast, OwnFly, Sighting
from reachmap.markup.plan_parts import Gps, Outing, SounderNote


@dataclass(frozen=True, slots=True)
class PlanRead:
    """A plan, with values of reach.toml used only while reading the folder.

    Parameters
    ----------
    plan
        Always complete: a value missing or at fault is NaN, () or a default.
    crs
        CRS named in reach.toml, "" for none.
    fall_m
        Fall over the whole main line [m], NaN where not given.
    gauge
        Settings of the gauge.
    sounder
        Settings of the echo sounder.
    dem_files
        Patterns of the DEM's files.
    imagery_files
        Name or patterns of the picture from the air.
    dem_files_named, height_unit_named
        Whether reach.toml says so itself.
    flights
        What it says of tiles flown on different days.
    notes
        Assumptions, as sentences.
    faults
        Every fault of it.
    """

    plan: Plan
    crs: str
    fall_m: float
    gauge: GaugeNote
    sounder: SounderNote
    dem_files: tuple[str, ...]
    imagery_files: tuple[str, ...]
    dem_files_named: bool
    height_unit_named: bool
    flights: tuple[FlightKeys, ...]
    notes: tuple[str, ...]
    faults: tuple[Fault, ...]


def read_plan(text: str, shared: str = "") -> PlanRead:
    """Return the plan in the text of reach.toml, with every fault of it.

    `shared` is the text of the waters.toml above the folder: the angler's settings that reach.toml
    leaves out are taken from it.
    """
    parsed = read_keys(text, shared)
    keys = parsed.keys
    wrong = parsed.faults if parsed.broken else (*parsed.faults, *check(parsed))
    ordered = sorted(wrong, key=lambda one: parsed.line(one[0]))
    notes: list[str] = []
    season, others = _seasons(keys, notes)
    plan = Plan(
        name=keys.name,
        units=keys.units,
        slope=keys.river.slope,
        traced_flow=keys.river.traced_flow,
        flows=flows_of(keys.flows),
        ladder=keys.flows.ladder,
        season=season,
        kit=_kit(parsed, notes),
        dem=DemNote(keys.dem.flow, keys.dem.height_unit, keys.dem.datum, keys.dem.below_water),
        other_seasons=others,
        lies=_lies(keys.season),
        own=_own(keys),
        accepted=keys.evidence.accept,
        bed=keys.river.bed,
        stones_m=keys.river.stones,
        outing=_outing(keys),
        gps=_gps(keys),
        site_address=keys.site.address,
        locale=keys.pages.locale,
        imagery_credit=keys.imagery.credit,
        water_c=keys.season.water_temp,
    )
    gauge = keys.gauge
    return PlanRead(
        plan=plan,
        crs=keys.crs,
        fall_m=keys.river.fall,
        gauge=GaugeNote(
            name=gauge.name,
            files=gauge.files or GAUGE_PATTERNS,
            files_named="files" in gauge.model_fields_set,
            zero_m=gauge.zero,
            above_foot_m=gauge.above_foot,
            datum=gauge.datum,
            time_zone=gauge.time_zone,
            feature_id=gauge.feature_id or None,
        ),
        sounder=SounderNote(keys.sounder.transducer, keys.sounder.flow),
        dem_files=keys.dem.files or DEM_PATTERNS,
        imagery_files=(keys.imagery.file,) if keys.imagery.file else IMAGERY_PATTERNS,
        dem_files_named="files" in keys.dem.model_fields_set,
        height_unit_named="height_unit" in keys.dem.model_fields_set,
        flights=keys.flight,
        notes=() if parsed.broken else (*notes, *parsed.notes),
        faults=(*parsed.shared_faults, *(parsed.fault(*one) for one in ordered)),
    )


def _outing(keys: ReachKeys) -> Outing:
    """Return who fishes on a day."""
    said = keys.outing
    bank = Side(said.bank) if said.bank else None
    return Outing(said.boat, said.crossing, bank, said.hours, said.log_weight)


def _gps(keys: ReachKeys) -> Gps:
    """Return how files for a GPS are written."""
    said = keys.gps
    own = tuple((name, getattr(said, name)) for name in GPS_GROUPS if getattr(said, name))
    return Gps(
        said.symbols,
        own,
        said.most_places,
        said.most_lines,
        said.most_points,
        said.longest_text,
    )


def _seasons(keys: ReachKeys, notes: list[str]) -> tuple[SeasonLimits, tuple[SeasonLimits, ...]]:
    """Return the season's limits, and own limits of other seasons."""
    section = keys.season
    if "name" not in section.model_fields_set:
        notes.append("No season is given: winter is taken.")
    own: dict[Season, SeasonPairs] = {one: getattr(section, one.value) for one in Season}
    here = own.pop(section.name)
    depth, speed = here.depth or section.depth, here.speed or section.speed
    missing = [name for name, pair in (("depth", depth), ("speed", speed)) if not pair]
    if missing:
        notes.append(
            f"The {section.name} limits of {' and '.join(missing)} are a guide's choice, "
            "no published source: set your own under [season]."
        )
    others = [(one, pairs) for one, pairs in own.items() if pairs.model_fields_set]
    return _limits(section.name, depth, speed), tuple(
        _limits(one, pairs.depth, pairs.speed) for one, pairs in others
    )


def _limits(season: Season, depth: tuple[float, ...], speed: tuple[float, ...]) -> SeasonLimits:
    """Return a season's limits, the defaults where () is given."""
    usual = LIMITS[season]
    depth = depth or (usual.depth_low_m, usual.depth_high_m)
    return SeasonLimits(season, *depth, *(speed or (usual.speed_low_m_s, usual.speed_high_m_s)))


def _lies(section: SeasonKeys) -> tuple[LieLimits, ...]:
    """Return the folder's own limits of lies by season, defaults where one is not given."""
    found = []
    for one in Season:
        pairs: SeasonPairs = getattr(section, one.value)
        here = one is section.name
        depth = pairs.lie_depth or (section.lie_depth if here else ())
        speed = section.lie_speed if here and math.isnan(pairs.lie_speed) else pairs.lie_speed
        usual = LIE_LIMITS[one]
        if depth or not math.isnan(speed):
            low, high = depth or (usual.depth_low_m, usual.depth_high_m)
            most = usual.speed_high_m_s if math.isnan(speed) else speed
            found.append(LieLimits(one, low, high, most))
    return tuple(found)


def _kit(parsed: Parsed, notes: list[str]) -> Kit:
    """Return the angler with rods, heads and tips; the default kit where none are listed."""
    keys, who = parsed.keys, parsed.keys.angler
    if missing := [key for key in AnglerKeys.model_fields if key not in who.model_fields_set]:
        usual = ", ".join(
            f"{key.replace('_', ' ')} {kind.shown(default)}".replace('"', "")
            for key, (kind, default) in AnglerKeys.kinds().items()
        )
        notes.append(
            f"[angler] does not say {', '.join(missing)}: middling values stand in ({usual})."
        )
    rods = [
        Rod(one.name or f"{one.line_weight}-weight", one.length, one.line_weight)
        for one in keys.rod
        if one.line_weight and one.length == one.length  # NaN where it is at fault
    ]
    heads = [
        Head(one.name or f"{one.family} head", one.length, one.family, one.weight)
        for one in keys.head
        if one.family and one.length == one.length
    ]
    tips = [
        Tip(one.name or "tip", one.length, one.sink)
        for one in keys.tip
        if not math.isnan(one.length + one.sink)
    ]
    if bare := [name for name in ("rod", "head", "tip") if not getattr(keys, name)]:
        words = " and ".join(f"no {name}" for name in bare)
        notes.append(
            f"reach.toml lists {words}: a plain kit of common practice stands in. "
            "List your own, since room to cast and the swing depend on it."
        )
    person = Angler(who.height, who.wade_limit, who.hand, who.leader, who.cast_limit)
    likes = keys.prefer
    return Kit(
        person,
        tuple(rods) or RODS,
        tuple(heads) or HEADS,
        tuple(tips) or TIPS,
        prefer_rods=likes.rods,
        prefer_heads=likes.heads,
        prefer_casts=likes.casts,
    )


def _own(keys: ReachKeys) -> Own:
    """Return the angler's own numbers, rules, casts, flies and sightings."""
    numbers = {
        name: getattr(getattr(keys, one.section), one.key) for name, one in tunables().items()
    }
    flies = [OwnFly(one.clarity, *one.length, one.colour, one.shape, one.note) for one in keys.fly]
    whole = all(not math.isnan(one.clarity_m + one.short_m) for one in flies)
    wading, clarity = keys.wading, keys.clarity  # type: ignore[attr-defined]
    return Own(
        {name: value for name, value in numbers.items() if not math.isnan(value)},
        rules=wading.rules,
        casts=tuple(
            OwnCast(one.name, one.anchored, one.tilt, one.apex) for one in keys.cast if one.name
        ),
        flies=tuple(sorted(flies, key=lambda one: one.clarity_m)) if whole else (),
        sightings=tuple(Sighting(*one) for one in sorted(clarity.sightings)),
    )


def flow_text(flow: float, units: UnitSystem) -> str:
    """Return a flow [m3/s] in the folder's units, for a message."""
    return f"{plain_number(from_si(flow, FLOW[units]))} {FLOW[units]}"

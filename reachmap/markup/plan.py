"""reach.toml as values: read, checked key by key, defaults filled in and told."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reachmap.base.crs import is_known_crs
from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, quoted
from reachmap.base.units import FLOW, flow_label, from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import GaugeNote
from reachmap.markup.evidence import read_accepted
from reachmap.markup.files import DEM_PATTERNS, GAUGE_PATTERNS, REACH_FILE, stays_inside
from reachmap.markup.kit_plan import read_kit
from reachmap.markup.layers import FLOW_LIMITS, HEIGHT_LIMITS, MOST_FLOWS, Quantity
from reachmap.markup.model import DemNote, Plan
from reachmap.markup.own_plan import OWN_SECTIONS, read_own
from reachmap.markup.reach_toml import Book, Section, open_book
from reachmap.markup.season_plan import read_seasons

FORMAT = 1
"""Version of the reach folder that this program reads."""

SECTIONS = (
    *("river", "flows", "gauge", "dem", "evidence", "season", "angler", "rod", "head", "tip"),
    *OWN_SECTIONS,
)
"""Sections of reach.toml that this floor reads."""

SLOPE_LIMITS = (1e-5, 0.08)
"""Slopes of rivers one wades [m/m] (our choice; a cascade is steeper)."""

FALL_LIMITS = (0.01, 500.0)
"""Fall of a drawn reach [m] (our choice)."""


@dataclass(frozen=True, slots=True)
class PlanRead:
    """A plan with what only the reading of the folder needs.

    Parameters
    ----------
    plan
        Always whole: where a value is missing or at fault it holds NaN, () or a default.
    crs
        The CRS reach.toml names, "" for none.
    fall_m
        Fall over the whole main line [m], NaN where not given.
    gauge
        What it says of the gauge.
    dem_files
        Patterns of the DEM's files.
    dem_files_named, height_unit_named
        Whether reach.toml says so itself.
    notes
        What was assumed, in plain sentences.
    faults
        All that is wrong with it.
    """

    plan: Plan
    crs: str
    fall_m: float
    gauge: GaugeNote
    dem_files: tuple[str, ...]
    dem_files_named: bool
    height_unit_named: bool
    notes: tuple[str, ...]
    faults: tuple[Fault, ...]


def read_plan(text: str) -> PlanRead:
    """Return the plan that the text of reach.toml holds, with every fault of it."""
    book = open_book(text)
    broken = bool(book.faults)
    name, crs = _top(book)
    slope, fall_m, traced_flow = _river(book.section("river"))
    flows = _flows(book.section("flows"))
    gauge = _gauge(book.section("gauge"))
    dem_section = book.section("dem")
    dem, files, files_named, unit_named = _dem(dem_section)
    season, others = read_seasons(book)
    plan = Plan(
        name=name,
        units=book.units,
        slope=slope,
        traced_flow=traced_flow,
        flows=flows,
        season=season,
        kit=read_kit(book),
        dem=dem,
        other_seasons=others,
        own=read_own(book),
        accepted=read_accepted(book.section("evidence")),
    )
    _unknown_sections(book)
    return PlanRead(
        plan=plan,
        crs=crs,
        fall_m=fall_m,
        gauge=gauge,
        dem_files=files,
        dem_files_named=files_named,
        height_unit_named=unit_named,
        notes=() if broken else tuple(book.notes),
        # of a file that cannot be parsed, that is the one thing to say: the rest is unknown
        faults=tuple(book.faults[:1] if broken else book.faults),
    )


def _top(book: Book) -> tuple[str, str]:
    """Return the reach's name and CRS after setting the book's units."""
    top = book.top()
    if not top.has("format"):
        top.fault(
            "format", "it does not say its format", f"Begin it with the line: format = {FORMAT}"
        )
    elif top.told["format"] != FORMAT or isinstance(top.told["format"], bool):
        found = f"format is {quoted(top.told['format'])}"
        fix = f"This program reads format {FORMAT}: update it, or correct the number"
        top.fault("format", found, fix)
    if not top.has("units"):
        fix = 'Add units = "us" (feet, cfs) or units = "metric" (metres, m3/s)'
        top.fault("units", "it does not say its units", fix)
    book.units = top.word("units", UnitSystem, UnitSystem.US)
    name = top.text("name").strip()
    if not name:
        top.fault("name", "the reach has no name", 'Add name = "..." near its beginning')
    crs = top.text("crs").strip()
    if crs and not is_known_crs(crs):
        fix = 'Name it like crs = "EPSG:32610", or take the line out'
        top.fault("crs", f"{quoted(crs)} is not a known CRS", fix)
        crs = ""
    top.done(elsewhere=SECTIONS)
    return name, crs


def _river(river: Section) -> tuple[float, float, float]:
    """Return slope, fall [m] and traced flow [m3/s]."""
    slope = river.ratio("slope", SLOPE_LIMITS)
    fall_m = river.number("fall", Quantity.LENGTH, FALL_LIMITS)
    if river.has("slope") and river.has("fall"):
        river.fault("fall", "both slope and fall are given", "Keep one of them")
    if not river.has("traced_flow"):
        fix = "Add traced_flow = the river's flow when the water's edges you traced were there"
        river.fault("traced_flow", "traced_flow is missing", fix)
    traced = river.number("traced_flow", Quantity.FLOW, FLOW_LIMITS)
    river.done()
    return slope, fall_m, traced


def _flows(section: Section) -> tuple[float, ...]:
    """Return the flows to map [m3/s], rising, each once."""
    ranged = [key for key in ("from", "to", "count", "step") if section.has(key)]
    if section.has("list"):
        if ranged:
            section.fault("list", "both a list and a range are given", "Keep one of them")
        flows = _listed(section)
    elif ranged:
        flows = _ranged(section)
    else:
        fix = "Add a section [flows] with list = [...], or from, to and count"
        section.fault("", "no flow to map is given", fix)
        flows = []
    section.done()
    flows = sorted(set(flows))
    units = section.book.units
    for one, other in pairwise(flows):
        label = flow_label(one, units)
        if label == flow_label(other, units):
            fix = "Take one out, or set them further apart"
            section.fault("list", f"two flows would both be called {label}", fix)
    return tuple(flows)


def _listed(section: Section) -> list[float]:
    """Return the flows of a list."""
    given = section.told["list"]
    if not isinstance(given, list) or not given:
        section.fault(
            "list", f"{quoted(given)} is not a list of flows", "Write it like [800, 1200]"
        )
        return []
    if len(given) > MOST_FLOWS:
        section.fault("list", f"it has {len(given)} flows", f"Keep to {MOST_FLOWS} at most")
        return []
    numbers = [section.one_number("list", item, Quantity.FLOW, FLOW_LIMITS) for item in given]
    return [number for number in numbers if not math.isnan(number)]


def _ranged(section: Section) -> list[float]:
    """Return the flows of a range: evenly spaced, ends included."""
    missing = [key for key in ("from", "to") if not section.has(key)]
    if missing or section.has("count") == section.has("step"):
        fix = "Give from, to, and either count (how many flows) or step (how far apart)"
        section.fault(missing[0] if missing else "count", "the range of flows is not whole", fix)
        return []
    low = section.number("from", Quantity.FLOW, FLOW_LIMITS)
    high = section.number("to", Quantity.FLOW, FLOW_LIMITS)
    if math.isnan(low) or math.isnan(high):
        return []
    if low > high:
        section.fault("from", "from is more than to", "Swap them")
        return []
    if section.has("count"):
        count = section.told["count"]
        if not isinstance(count, int) or isinstance(count, bool) or not 1 <= count <= MOST_FLOWS:
            found = f"{quoted(count)} is not a number of flows"
            section.fault("count", found, f"Give a whole number from 1 to {MOST_FLOWS}")
            return []
        gap = (high - low) / max(count - 1, 1)
        return [low + gap * index for index in range(count)]
    step = section.number("step", Quantity.FLOW, (FLOW_LIMITS[0] / 10, FLOW_LIMITS[1]))
    if math.isnan(step):
        return []
    if (high - low) / step >= MOST_FLOWS:
        section.fault("step", "it would give too many flows", f"Keep to {MOST_FLOWS} at most")
        return []
    return [low + step * index for index in range(int((high - low) / step + 1e-6) + 1)]


def _gauge(section: Section) -> GaugeNote:
    """Return what is said of the gauge."""
    zone = section.text("time_zone").strip()
    if zone:
        try:
            ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            fix = 'Name it like "America/Vancouver" or "UTC"'
            section.fault("time_zone", f"{quoted(zone)} is not a known time zone", fix)
            zone = ""
    note = GaugeNote(
        name=section.text("name").strip(),
        files_named=section.has("files"),
        files=_files(section, GAUGE_PATTERNS),
        zero_m=section.number("zero", Quantity.HEIGHT, HEIGHT_LIMITS),
        datum=section.text("datum").strip(),
        time_zone=zone,
    )
    section.done()
    return note


def _dem(section: Section) -> tuple[DemNote, tuple[str, ...], bool, bool]:
    """Return what is said of the DEM, its files, and whether files and unit were said."""
    named = section.has("height_unit")
    note = DemNote(
        flow=section.number("flow", Quantity.FLOW, FLOW_LIMITS),
        height_unit=section.choice("height_unit", ("m", "ft"), "m"),
        datum=section.text("datum").strip(),
    )
    files_named = section.has("files")
    files = _files(section, DEM_PATTERNS)
    section.done()
    return note, files, files_named, named


def _files(section: Section, default: tuple[str, ...]) -> tuple[str, ...]:
    """Return file patterns, all inside the folder."""
    files = section.texts("files", default)
    for pattern in files:
        if not stays_inside(pattern):
            fix = "Put the file into the reach folder (a link will do) and name it from there"
            section.fault("files", f"{quoted(pattern)} lies outside the reach folder", fix)
    return tuple(pattern for pattern in files if stays_inside(pattern)) or default


def _unknown_sections(book: Book) -> None:
    """Note sections nobody reads: a fault where one looks like a slip, else only told."""
    for name, value in book.told.items():
        if name in SECTIONS or not isinstance(value, (dict, list)):
            continue
        near = nearest(name, SECTIONS)
        if near is not None:
            fault = Fault(
                book.where(name, 0, ""), f"[{name}] is not a section", f"Did you mean [{near}]?"
            )
            book.faults.append(fault)
        elif isinstance(value, dict):
            book.notes.append(f"{REACH_FILE}: section [{name}] is not read here.")


def flow_text(flow: float, units: UnitSystem) -> str:
    """Return a flow [m3/s] in the folder's units, for a message."""
    return f"{from_si(flow, FLOW[units]):,.4g} {FLOW[units]}"

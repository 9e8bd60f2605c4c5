"""Writes a guide's day as a page, a GPS route with times, and a calendar."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import gpxpy.gpx
import numpy as np
from icalendar import Calendar, Event

from reachmap.base.cache import write_aside
from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.outputs.guide_page.page import guide_page
from reachmap.planner.guide.plan import GuideDay
from reachmap.planner.guide.ways import IDLE
from reachmap.planner.sun import local
from reachmap.text import cautions
from reachmap.text.angler_text import clean_text, plain_ascii
from reachmap.text.days import LOCAL_RULES, clock
from reachmap.text.guide import (
    COURTESY,
    head_sentence,
    mind_words,
    rig_words,
    spot_words,
    standing_words,
    turn_words,
)
from reachmap.text.guide_why import backup_sentence
from reachmap.text.wading_terms import terms_from

NAMES = ("guide.html", "guide.gpx", "guide.ics")
"""Names of the files written."""

STRAIGHT = "Straight lines between places to stand: no path, and no promise that one gets along. "


def write_guide(day: GuideDay, units: UnitSystem, folder: Path) -> list[Path]:
    """Write guide.html, guide.gpx and guide.ics into a folder and return their paths."""
    page, route = guide_page(day, units), guide_gpx(day, units)
    calendar = guide_calendar(day, units)
    return [
        write_aside(folder / NAMES[0], lambda aside: aside.write_text(page, encoding="utf-8")),
        write_aside(folder / NAMES[1], lambda aside: aside.write_text(route, encoding="utf-8")),
        write_aside(folder / NAMES[2], lambda aside: aside.write_bytes(calendar)),
    ]


def guide_gpx(day: GuideDay, units: UnitSystem) -> str:
    """Return a GPX 1.1 text with one route for each rod: the start of each of its runs, with time.

    Times are in UTC, as the schema requires (`time` of a route point).
    """
    document = gpxpy.gpx.GPX()
    document.creator = "reachmap"
    document.name = f"{day.reach.name}: the guide's day"
    graded = " ".join(terms_from(day.reach.wading_terms, units).first)
    document.description = clean_text(f"{graded} {cautions.IN_FILES}", 4000)
    for rod, way in enumerate(day.plan.rods):
        person = day.inputs.party.people[rod]
        route = gpxpy.gpx.GPXRoute(name=plain_ascii(person.name, 20))
        route.description = clean_text(f"{STRAIGHT}{head_sentence(day, units)}", 1000)
        last = IDLE
        for one in way:
            if one.spot in (IDLE, last):
                continue
            last = one.spot
            stands = day.plan.layout.offers[rod][one.spot].stands
            top = min(stands, key=lambda stand: stand.station_m)
            words = (
                f"{clock(one.begin, day.zone)} {spot_words(day, one.spot)}: "
                f"{turn_words(day, one, units)}; {standing_words(day, rod, one.spot, units)}; "
                f"{rig_words(day, rod, one)}. Mind: {mind_words(day, one.spot)}."
            )
            spot = day.plan.layout.frame.spots[one.spot]
            route.points.append(
                gpxpy.gpx.GPXRoutePoint(
                    latitude=top.lat,
                    longitude=top.lon,
                    time=_utc(one.fish),
                    name=plain_ascii(f"{clock(one.fish, day.zone)} {spot.name}", 30),
                    comment=plain_ascii(f"{person.name} from {clock(one.fish, day.zone)}", 30),
                    description=clean_text(words, 1000),
                    symbol="today",
                )
            )
        if route.points:
            document.routes.append(route)
    return document.to_xml(version="1.1")


def guide_calendar(day: GuideDay, units: UnitSystem) -> bytes:
    """Return the day as an iCalendar file (RFC 5545): one event per rod and run, times in UTC."""
    calendar = Calendar()
    calendar.add("prodid", "-//reachmap//guide//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{day.reach.name}: the guide's day")
    last = [tr(cautions.SHORT), tr(COURTESY), tr(LOCAL_RULES)]
    for rod, way in enumerate(day.plan.rods):
        person = day.inputs.party.people[rod]
        for turn, one in enumerate(way):
            if one.spot == IDLE:
                continue
            spot = day.plan.layout.frame.spots[one.spot]
            event = Event()
            key = f"{day.reach.name}/{day.inputs.day.light.day}/{rod}/{turn}"
            event.add("uid", f"{hashlib.sha256(key.encode()).hexdigest()[:24]}@reachmap.invalid")
            event.add("dtstamp", day.made.astimezone(UTC))
            event.add("dtstart", _utc(one.begin))
            event.add("dtend", _utc(one.end))
            event.add("summary", f"{person.name}: {spot.name}")
            backup = [backup_sentence(day, b) for b in day.plan.backups if b.run == spot.name]
            lines = [
                f"{spot_words(day, one.spot)}: {turn_words(day, one, units)}",
                standing_words(day, rod, one.spot, units),
                rig_words(day, rod, one),
                f"Mind: {mind_words(day, one.spot)}",
                *backup,
                *last,
            ]
            event.add("description", "\n".join(line for line in lines if line))
            event.add("class", "PRIVATE")
            event.add("status", "TENTATIVE")
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _utc(when: np.datetime64) -> datetime:
    """Return an instant as a datetime in UTC."""
    return local(when, UTC)

"""Sentences on a build: what it made, its warnings and notes, where its files are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from reachmap.base.errors import DISAGREES
from reachmap.text.cautions import TERMINAL


def built_lines(
    report: Mapping[str, Any],
    folder: Path,
    *,
    fresh: bool,
    why: str = "",
    changed: Sequence[str] = (),
) -> list[str]:
    """Return the lines on a build: warnings, notes, what to fish, and where its files are.

    Figures of the solver and of the cells stand in report.json and on the page, not here.

    Parameters
    ----------
    report
        As report.json holds it.
    folder
        The written folder.
    fresh
        Whether anything had changed since the last build.
    why
        Reason for that folder; empty for the usual one.
    changed
        Lines on what the build changed on the map.
    """
    lines = [why] if why else []
    if not fresh:
        lines.append("Nothing has changed since the last build.")
    lines += [f"{word_for(warning)}: {warning}" for warning in report.get("warnings", [])]
    if words := (report.get("log") or {}).get("words"):
        lines.append(f"Note: the log: {words}")
    return [
        *lines,
        *changed,
        *evidence_lines(report),
        *day_lines(report),
        *file_lines(report, folder),
        TERMINAL,
    ]


def evidence_lines(report: Mapping[str, Any]) -> list[str]:
    """Return what the evidence cannot say, and the cheapest things that would change it."""
    headed = (("What the map cannot say", "cannot_say"), ("Cheapest to make it surer", "cheapest"))
    return [
        line
        for heading, key in headed
        if report.get(key)
        for line in (f"{heading}:", *(f"  {one}" for one in report[key]))
    ]


def file_lines(report: Mapping[str, Any], folder: Path) -> list[str]:
    """Return the page to open and the folders for a printer, a GPS, a phone and a GIS."""
    home = folder.resolve()
    return [
        f"Open in a browser: {(home / 'maps' / 'index.html').as_uri()}",
        f"In {home}: sheets (to print), gpx (GPS), kml (phone), gis.",
        *site_lines(report, folder),
    ]


def site_lines(report: Mapping[str, Any], folder: Path) -> list[str]:
    """Return the line on the installable page; nothing where none was written."""
    if "site/index.html" not in (report.get("files") or {}):
        return []
    return [
        f"Installable page: {(folder / 'site').resolve()}; put what is in it on a host with https. "
        "Whoever has its address has the map."
    ]


def day_lines(report: Mapping[str, Any]) -> list[str]:
    """Return the flows mapped and the day's list of the one flow, or of the gauge's last reading.

    Without either, where to find the lists.
    """
    flows = {str(flow["label"]): str(flow.get("words", flow["label"])) for flow in report["flows"]}
    lists = report.get("day_lists") or {}
    gauge = report.get("gauge") or {}
    lines = [] if len(flows) == 1 else [f"Mapped: {', '.join(flows.values())}, and what is between"]
    at = str(gauge.get("nearest_label")) if len(flows) > 1 else next(iter(flows))
    if at not in lists:
        return [*lines, "What to fish at your flow, in which order: at the top of the page."]
    if len(flows) > 1:
        day = str(gauge["when_utc"]).partition("T")[0]
        lines.append(f"The gauge last read {gauge['words']} ({day}); the nearest is {flows[at]}.")
    stops = [str(stop) for stop in lists[at]]
    if not stops:
        return [*lines, f"At {flows[at]} no run is to go to: the page says why."]
    whose = [str(report["list_for"])] if "list_for" in report else []
    return [*lines, f"At {flows[at]}, in walking order:", *(f"  {stop}" for stop in stops), *whose]


def word_for(sentence: str) -> str:
    """Return "Warning" for evidence that disagrees, "Note" for any other sentence."""
    return "Warning" if sentence.startswith(DISAGREES) else "Note"

"""Sentences on a build: what it made, its warnings and notes, where its files are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from reachmap.base.errors import DISAGREES
from reachmap.text.cautions import TERMINAL


def built_lines(
    report: Mapping[str, Any], folder: Path, *, fresh: bool, why: str = ""
) -> list[str]:
    """Return the lines on a build: folder, warnings and notes, flows, and which page to open.

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
    """
    lines = [why] if why else []
    if not fresh:
        lines.append("Nothing has changed since the last build.")
    lines += [f"{word_for(warning)}: {warning}" for warning in report.get("warnings", [])]
    if words := (report.get("cell") or {}).get("words"):
        lines.append(str(words))
    if words := (report.get("log") or {}).get("words"):
        lines.append(f"Note: the log: {words}")
    labels = [str(flow["label"]) for flow in report["flows"]]
    parts = {name: (folder / name).resolve() for name in ("sheets", "gpx", "kml", "gis")}
    return [
        *lines,
        *ensemble_sentences(report),
        f"{len(labels)} flows: {', '.join(labels)}",
        *day_lines(report, labels),
        f"Open in a browser: {(folder / 'maps' / 'index.html').resolve().as_uri()}",
        f"Pocket sheets: {parts['sheets']}",
        f"GPS files: {parts['gpx']}; for a phone: {parts['kml']}",
        f"GIS files: {parts['gis']}",
        *site_lines(report, folder),
        TERMINAL,
    ]


def site_lines(report: Mapping[str, Any], folder: Path) -> list[str]:
    """Return the line on the installable page; nothing where none was written."""
    if "site/index.html" not in (report.get("files") or {}):
        return []
    return [
        f"Installable page: {(folder / 'site').resolve()}; put what is in it on a host with https. "
        "Whoever has its address has the map."
    ]


def day_lines(report: Mapping[str, Any], labels: Sequence[str]) -> list[str]:
    """Return the day's list of a build of one flow; else where to find the lists."""
    lists = report.get("day_lists") or {}
    if len(labels) != 1:
        return (
            ["What to fish at your flow, in which order: at the top of the page."] if lists else []
        )
    stops = [str(stop) for stop in lists.get(labels[0]) or ()]
    if not stops:
        return [f"At {labels[0]} no run is to go to: the page says why."]
    whose = [str(report["list_for"])] if "list_for" in report else []
    return [f"At {labels[0]}, in walking order:", *(f"  {stop}" for stop in stops), *whose]


def word_for(sentence: str) -> str:
    """Return "Warning" for evidence that disagrees, "Note" for any other sentence."""
    return "Warning" if sentence.startswith(DISAGREES) else "Note"


def ensemble_sentences(report: Mapping[str, Any]) -> list[str]:
    """Return the sentences on the map's uncertainty, and the time that took."""
    ensemble = report.get("ensemble")
    if not ensemble:
        return []
    words = [str(sentence) for sentence in ensemble["words"]]
    if ensemble["seconds"] >= 1:
        words.append(f"That took {ensemble['seconds']:.0f} s; --no-ensemble leaves it out.")
    return words

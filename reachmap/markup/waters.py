"""Home waters: a folder of reach folders, in the order of waters.toml, with the drive to each."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.quoting import one_of, quoted
from reachmap.markup.config.shared import WATER, read_shared
from reachmap.markup.files import REACH_FILE, stays_inside
from reachmap.markup.waters_file import WATERS_FILE, waters_text

LONGEST_DRIVE = 1440.0
"""Longest drive [min]: a day; our choice, to catch typing errors."""

KEYS = ("folder", "drive", "forecast", "note")


@dataclass(frozen=True, slots=True)
class Water:
    """One of several home waters.

    Parameters
    ----------
    folder
        Its reach folder.
    drive_min
        Drive there, one way [min]; NaN if not given.
    forecast
        File of forecast flows in its folder; None for none.
    note
        The angler's own note on it.
    """

    folder: Path
    drive_min: float = math.nan
    forecast: Path | None = None
    note: str = ""


def is_waters(folder: Path) -> bool:
    """Return whether a folder contains reach folders and is not one itself."""
    if not folder.is_dir() or (folder / REACH_FILE).is_file():
        return False
    return (folder / WATERS_FILE).is_file() or any(_reaches(folder))


def read_waters(folder: Path) -> tuple[Water, ...]:
    """Return the waters of a folder: those in waters.toml in its order, then the others.

    Raises
    ------
    MarkupError
        Listing every fault of waters.toml, or that there is no reach folder.
    """
    text = ""
    faults: list[Fault] = []
    if (folder / WATERS_FILE).is_file():
        text, faults = waters_text(folder / WATERS_FILE)
    faults += read_shared(text).faults
    found = {path.name: Water(path) for path in sorted(_reaches(folder))}
    listed: dict[str, Water] = {}
    for number, block in enumerate(_blocks(text, faults), start=1):
        where = f"{WATERS_FILE}, [[{WATER}]] {number}"
        name = block.get("folder")
        faults += _faults_of(block, where, list(found))
        if isinstance(name, str) and name in found:
            if name in listed:
                faults.append(Fault(where, f"{quoted(name)} is listed twice", "Keep one"))
            home = found[name].folder
            if wrong := _forecast_fault(block, home, where):
                faults.append(wrong)
            listed[name] = Water(
                home, _drive(block), _forecast(block, home), str(block.get("note", ""))
            )
    if not found:
        fix = f"Move your reach folders into it, each with its {REACH_FILE}"
        faults.append(Fault(str(folder), "it holds no reach folder", fix))
    if faults:
        raise MarkupError(faults)
    return tuple({**listed, **{k: v for k, v in found.items() if k not in listed}}.values())


def _reaches(folder: Path) -> Iterator[Path]:
    """Yield the reach folders in a folder, except hidden ones and links that lead out of it."""
    home = folder.resolve()
    for path in folder.iterdir():
        inside = not path.name.startswith(".") and path.resolve().parent == home
        if inside and path.is_dir() and (path / REACH_FILE).is_file():
            yield path


def _blocks(text: str, faults: list[Fault]) -> list[Mapping[str, Any]]:
    """Return the blocks that list waters; anything else is a fault."""
    try:
        raw = tomllib.loads(text).get(WATER, [])
    except (ValueError, RecursionError):  # reported by `read_shared`
        return []
    if isinstance(raw, list) and all(isinstance(one, dict) for one in raw):
        return raw
    fix = f"Write [[{WATER}]] with two brackets on each side, once for each"
    faults.append(Fault(f"{WATERS_FILE}, {WATER}", f"{WATER} is not a list", fix))
    return []


def _faults_of(block: Mapping[str, Any], where: str, known: list[str]) -> list[Fault]:
    """Return the faults of a block of waters.toml."""
    faults = [
        Fault(f"{where} {key}", f"{quoted(key)} is not a key here", one_of(key, KEYS))
        for key in block
        if key not in KEYS
    ]
    name = block.get("folder")
    if "folder" not in block:
        faults.append(Fault(where, "folder is missing", 'Add folder = "name of a reach folder"'))
    elif name not in known:
        found = f"there is no reach folder {quoted(name)} here"
        fix = one_of(str(name), known) if known else "Correct the name"
        faults.append(Fault(f"{where} folder", found, fix))
    drive = block.get("drive")
    number = isinstance(drive, (int, float)) and not isinstance(drive, bool)
    if drive is not None and not (number and 0 <= drive <= LONGEST_DRIVE):
        fix = f"Give minutes, 0 to {LONGEST_DRIVE:,.0f}"
        faults.append(Fault(f"{where} drive", f"{quoted(drive)} is no time", fix))
    if "note" in block and not isinstance(block["note"], str):
        fix = 'Write it in quotes: note = "..."'
        faults.append(Fault(f"{where} note", f"{quoted(block['note'])} is no text", fix))
    return faults


def _forecast_fault(block: Mapping[str, Any], home: Path, where: str) -> Fault | None:
    """Return the fault of a block's forecast; None for a valid one."""
    given = block.get("forecast")
    if given is None:
        return None
    where = f"{where} forecast"
    if not isinstance(given, str) or not stays_inside(given):
        fix = "Name a file inside the reach folder, like forecast.csv"
        return Fault(where, f"{quoted(given)} is no file inside {home.name}", fix)
    if not (home / given).is_file():
        fix = "Put it there, correct the name, or take the line out"
        return Fault(where, f"there is no {quoted(given)} in {home.name}", fix)
    return None


def _forecast(block: Mapping[str, Any], home: Path) -> Path | None:
    """Return the forecast's file; None where not given."""
    given = block.get("forecast")
    return home / given if isinstance(given, str) else None


def _drive(block: Mapping[str, Any]) -> float:
    """Return the minutes of the drive; NaN where not given or at fault."""
    drive = block.get("drive")
    return float(drive) if isinstance(drive, (int, float)) else math.nan

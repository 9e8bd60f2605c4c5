"""Sentences on a build of several waters."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reachmap.base.errors import ReachmapError
from reachmap.markup.waters import Water


def built_line(water: Water, report: Mapping[str, Any], folder: Path, fresh: bool) -> str:
    """Return the build of one water in one line."""
    flows = len(report.get("flows", ()))
    warned = len(report.get("warnings", ()))
    state = "" if fresh else ", nothing has changed since"
    notes = f", {warned} notes in report.json" if warned else ""
    page = (folder / "maps" / "index.html").resolve().as_uri()
    return f"{water.folder.name}: {flows} flows{state}{notes}. {page}"


def several_lines(folder: Path, waters: int, failed: int) -> list[str]:
    """Return how many waters were built, and what to do next."""
    lines = [f"{waters - failed} of {waters} waters stand."]
    if failed:
        lines.append("Those that do not are told below; they stopped no other.")
    return [*lines, f"Next: which of them on which day: reachmap days {folder}"]


def trouble_words(error: Exception) -> str:
    """Return the error of one water in words."""
    if isinstance(error, ReachmapError):
        return str(error)
    if isinstance(error, OSError):
        return f"The computer refused: {error}"
    return f"This is a fault in reachmap, not in your folder ({type(error).__name__})"

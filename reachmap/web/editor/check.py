"""Run the checks of `reachmap check` and link each message to the mark it is about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reachmap.base.errors import BuildError, Fault, MarkupError
from reachmap.markup.files import REACH_FILE
from reachmap.markup.read import files_of, read_markup
from reachmap.markup.write import MARKUP_FILE
from reachmap.text.checked import checked_lines
from reachmap.text.files import not_used_lines
from reachmap.web.editor.reach_facts import KEYS
from reachmap.web.editor.rows import StoredMark

_FEATURE = re.compile(rf"^(\w+)\b.*\(feature (\d+) of {re.escape(MARKUP_FILE)}\)", re.DOTALL)
_PLACE = re.compile(r"latitude (-?\d+\.\d+), longitude (-?\d+\.\d+)")


def check_report(folder: Path, kept: Sequence[StoredMark]) -> dict[str, Any]:
    """Return the result of `reachmap check` on a folder.

    Parameters
    ----------
    folder
        The reach folder.
    kept
        Its marks as they are in the file.

    Returns
    -------
    dict
        `faults`, each with where, found, fix, and where known the id of the mark, the
        place [longitude, latitude] and the fact of reach.toml; `lines`, what the command prints
        besides, in the same words.
    """
    from reachmap.pipeline.preview_ground import disagreements, preview_evidence, preview_ground

    try:
        markup = read_markup(folder)
    except MarkupError as error:
        lines = not_used_lines(files_of(folder)) if (folder / REACH_FILE).is_file() else []
        return {"faults": [linked_fault(fault, kept) for fault in error.faults], "lines": lines}
    try:
        ground = preview_ground(markup)
    except (BuildError, MarkupError) as error:  # a build would end here
        return {"faults": [linked_fault(fault, kept) for fault in error.faults], "lines": []}
    evidence = preview_evidence(markup, ground)
    return {"faults": [], "lines": checked_lines(markup, disagreements(markup, ground), evidence)}


def linked_fault(fault: Fault, kept: Sequence[StoredMark]) -> dict[str, Any]:
    """Return a fault as JSON, with the mark, place and fact it is about where known."""
    message: dict[str, Any] = {"where": fault.where, "found": fault.found, "fix": fault.fix}
    if match := _FEATURE.match(fault.where):
        layer, number = match[1], int(match[2])
        ids = [one.mark.id for one in kept if one.mark.layer == layer and one.number == number]
        if ids:
            message["mark"] = ids[0]
    if match := _PLACE.search(fault.found):
        message["place"] = [float(match[2]), float(match[1])]
    if fact := _fact(fault.where):
        message["fact"] = fact
    return message


def _fact(where: str) -> str:
    """Return the fact of reach.toml that a fault is about; "" for none."""
    if not where.startswith(REACH_FILE):
        return ""
    last = where.rsplit(", ", 1)[-1]
    for fact, (section, key) in KEYS.items():
        if last in {f"[{section}] {key}", key if not section else ""}:
            return fact
    return {"[river]": "slope", "[flows]": "flows"}.get(last, "")

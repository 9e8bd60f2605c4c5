"""The sentences that the scripts of a map page fill in."""

from __future__ import annotations

from typing import Any

from reachmap.base.language import shown, tr
from reachmap.outputs.webmap.whom_values import whom_say
from reachmap.text.map_page import (
    CHANGE,
    CHART,
    CURVES,
    GRADES,
    LIST,
    READING,
    STAND,
    TAKEN,
    WINDOW,
)
from reachmap.text.page_notes import note_words
from reachmap.text.page_position import POSITION
from reachmap.text.page_words import PAGE


def page_sentences() -> dict[str, Any]:
    """Return the sentences by group, in the language in force."""
    return {
        "page": shown(PAGE),
        "reading": shown(READING),
        "list": shown(LIST),
        "change": shown(CHANGE),
        "stand": shown(STAND),
        "window": tr(WINDOW),
        "curves": tr(CURVES),
        "chart": shown(CHART),
        "taken": shown(TAKEN),
        "grades": shown(GRADES),
        "notes": note_words(),
        "position": shown(POSITION),
        "whom": whom_say(),
    }

"""Texts of the map's page for notes taken on the water."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted, shown, tr
from reachmap.text.terms import STRUCTURES

NOTES: Mapping[str, str] = {
    "title": noted("Your notes"),
    "take": noted("Take a note"),
    "here": noted("Note this place"),
    "what": noted("What"),
    "where": noted("Where"),
    "stand": noted("Where I stand"),
    "tapped": noted("Where I tapped"),
    "waiting": noted("Waiting for your place."),
    "far": noted("give or take {far}"),
    "poor": noted(
        "Your place is good to {far} only: for an edge, a depth or a bucket wait for a better "
        "one, or tap where it is."
    ),
    "stale": noted(
        "Your place was last known {ago} s ago: wait for a new one, or tap where it is."
    ),
    "nowhere": noted("Press 'Where I stand', or tap the map where it is."),
    "flow": noted("The river runs at {flow} now"),
    "flow_why": noted("Leave it unticked if you have not read the gauge now."),
    "more": noted("Words, photo"),
    "depth": noted("Depth, {unit}"),
    "depth_wrong": noted("Type the depth as a number of {unit}, 0 to {most}."),
    "structure": noted("What holds fish"),
    "photo": noted("Name of a photo"),
    "words": noted("Words"),
    "words_wrong": noted("Type a few words, or a photo's name."),
    "keep": noted("Keep this note"),
    "kept": noted("Kept on this phone: {note}."),
    "held": noted("Held until this page is closed: {note}."),
    "lost": noted("This note could not be kept: write it down on paper."),
    "gone": noted("Taken out: {note}."),
    "undo": noted("Undo"),
    "drop": noted("Take out"),
    "none": noted("No notes yet."),
    "one": noted("One note on this phone"),
    "many": noted("{count} notes on this phone"),
    "stored": noted(
        "They stay when this page is closed or loaded again. Nothing is sent anywhere."
    ),
    "unstored": noted(
        "This browser keeps nothing for this page: your notes last until it is closed. "
        "Carry them home before."
    ),
    "save": noted("Carry home: save as a file"),
    "share": noted("Carry home: share the file"),
    "saved": noted(
        "Saved as {file}. At home: reachmap log DIR --import {file}. The notes stay here "
        "until you say that they are carried home."
    ),
    "unshared": noted("Nothing was shared: your notes are still here."),
    "home": noted("They are carried home: put {count} away"),
    "away": noted("{count} put away."),
    "back": noted("Put them back"),
    "form": noted("Log a whole trip (on this computer)"),
    "notice": noted(
        "Where you stand on a map page is kept by that page alone. Whoever holds this phone "
        "can read it."
    ),
}
"""Texts on notes; names in braces are filled in by the page."""

NOTE_KINDS: Mapping[str, tuple[str, str]] = {
    "touch": (noted("Touch"), noted("A fish touched the fly.")),
    "edge": (noted("Edge"), noted("The water's edge is here at this flow.")),
    "depth": (noted("Depth"), noted("As deep as measured here at this flow.")),
    "hold": (noted("Bucket"), noted("A place where fish hold.")),
    "words": (noted("Words"), noted("Anything else worth keeping.")),
}
"""Kinds of note in the order in which the page offers them: name, and what it means."""


def note_words() -> dict[str, object]:
    """Return all texts on notes, as plain values."""
    return {
        **shown(NOTES),
        "kinds": [[kind, *map(tr, words)] for kind, words in NOTE_KINDS.items()],
        "structures": [
            [str(kind).replace("_", " "), tr(words)] for kind, words in STRUCTURES.items()
        ],
    }

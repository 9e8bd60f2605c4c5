"""Texts of the map's page for notes taken on the water."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.text.terms import STRUCTURES

NOTES: Mapping[str, str] = {
    "title": "Your notes",
    "take": "Take a note",
    "here": "Note this place",
    "what": "What",
    "where": "Where",
    "stand": "Where I stand",
    "tapped": "Where I tapped",
    "waiting": "Waiting for your place.",
    "far": "give or take {far}",
    "poor": "Your place is good to {far} only: for an edge, a depth or a bucket wait for a better "
    "one, or tap where it is.",
    "stale": "Your place was last known {ago} s ago: wait for a new one, or tap where it is.",
    "nowhere": "Press 'Where I stand', or tap the map where it is.",
    "flow": "The river runs at {flow} now",
    "flow_why": "Leave it unticked if you have not read the gauge now.",
    "more": "Words, photo",
    "depth": "Depth, {unit}",
    "depth_wrong": "Type the depth as a number of {unit}, 0 to {most}.",
    "structure": "What holds fish",
    "photo": "Name of a photo",
    "words": "Words",
    "words_wrong": "Type a few words, or a photo's name.",
    "keep": "Keep this note",
    "kept": "Kept on this phone: {note}.",
    "held": "Held until this page is closed: {note}.",
    "lost": "This note could not be kept: write it down on paper.",
    "gone": "Taken out: {note}.",
    "undo": "Undo",
    "drop": "Take out",
    "none": "No notes yet.",
    "one": "One note on this phone",
    "many": "{count} notes on this phone",
    "stored": "They stay when this page is closed or loaded again. Nothing is sent anywhere.",
    "unstored": "This browser keeps nothing for this page: your notes last until it is closed. "
    "Carry them home before.",
    "save": "Carry home: save as a file",
    "share": "Carry home: share the file",
    "saved": "Saved as {file}. At home: reachmap log DIR --import {file}. The notes stay here "
    "until you say that they are carried home.",
    "unshared": "Nothing was shared: your notes are still here.",
    "home": "They are carried home: put {count} away",
    "away": "{count} put away.",
    "back": "Put them back",
    "form": "Log a whole trip (on this computer)",
    "notice": "Where you stand on a map page is kept by that page alone. Whoever holds this phone "
    "can read it.",
}
"""Texts on notes; names in braces are filled in by the page."""

NOTE_KINDS: Mapping[str, tuple[str, str]] = {
    "touch": ("Touch", "A fish touched the fly."),
    "edge": ("Edge", "The water's edge is here at this flow."),
    "depth": ("Depth", "As deep as measured here at this flow."),
    "hold": ("Bucket", "A place where fish hold."),
    "words": ("Words", "Anything else worth keeping."),
}
"""Kinds of note in the order in which the page offers them: name, and what it means."""


def note_words() -> dict[str, object]:
    """Return all texts on notes, as plain values."""
    return {
        **NOTES,
        "kinds": [[kind, *words] for kind, words in NOTE_KINDS.items()],
        "structures": [[str(kind).replace("_", " "), words] for kind, words in STRUCTURES.items()],
    }

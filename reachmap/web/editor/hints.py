"""Words that people write on their own maps, and the words of the drawing they stand for.

Common practice in English, no published source; where two covers are named, the one that stops
more of a cast is proposed. All of it is only a proposal: the page shows it for a nod.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from reachmap.base.words import AccessKind, Cover, HazardKind, Part, Side
from reachmap.base.words_runs import StructureKind

Hints = Mapping[str, re.Pattern[str]]


def _hints(table: Mapping[str, str]) -> Hints:
    """Return patterns that match whole words."""
    return {word: re.compile(rf"\b(?:{said})\b") for word, said in table.items()}


UPSTREAM = re.compile(r"\b(?:looking|facing|going) up")
"""Sides counted the other way round: nothing is taken from them."""

DENIED = re.compile(r"\b(?:no|not|without|cleared of)\s+(?:\w+\s+)?$")
"""What stands before a word that is denied: "no trees"."""

SIDES = _hints(
    {
        Side.LEFT: r"(?:river|bank|true) ?left|left ?(?:hand )?(?:bank|side|shore)|rl|lb|left",
        Side.RIGHT: r"(?:river|bank|true) ?right|right ?(?:hand )?(?:bank|side|shore)|rr|rb|right",
        Side.ISLAND: r"islands?|mid ?channel bar",
    }
)  # fmt: skip

SIDE_LETTERS = {"l": Side.LEFT, "r": Side.RIGHT, "i": Side.ISLAND}
"""What one letter means in a column that holds sides."""

COVERS = _hints(
    {
        Cover.TREES: r"trees?|forest(?:ed)?|woods|wooded|timber|spruces?|cedars?|firs?|hemlocks?"
        r"|cottonwoods?|pines?|birch(?:es)?|oaks?|poplars?|aspens?|maples?|alders?|conifers?",
        Cover.BRUSH: r"brush|brushy|bush(?:es)?|willows?|shrubs?|scrub|thickets?|blackberr(?:y|ies)"
        r"|salmonberr(?:y|ies)|brambles?|dogwoods?|reeds?",
        Cover.CUTBANK: r"cut ?banks?|bluffs?|raw bank|steep bank|clay bank|eroding(?: bank)?",
        Cover.BUILT: r"rip ?rap|walls?|levees?|dikes?|dykes?|roads?|bridges?|houses?|docks?|built"
        r"|revetments?|railway|railroad",
        Cover.ROCK: r"rocks?|rocky|bedrock|boulders?|cliffs?",
        Cover.GRASS: r"grass|grassy|meadows?|pastures?|fields?|lawns?|hay|herbs",
        Cover.GRAVEL: r"gravels?|cobbles?|shingle|stones?|gravel ?bar|bar|pebbles?",
        Cover.SAND: r"sand|sandy|silt|silty|mud|beach",
    }
)
"""Covers in the order in which they stop a cast."""

HAZARDS = _hints(
    {
        HazardKind.STRAINER: r"strainers?|sweepers?|log ?jams?|wood ?jams?|logs?|snags?|root ?wads?"
        r"|dead ?fall|(?:down|downed|fallen|sunken) trees?|trees? (?:down|in (?:the )?water)",
        HazardKind.UNDERCUT: r"under ?cuts?(?: bank)?",
        HazardKind.SOFT_BOTTOM: r"soft (?:bottom|bed|mud)|quick ?sand|deep mud|mud",
        HazardKind.COLD_INFLOW: r"cold (?:inflow|water|spring)|springs?",
        HazardKind.LEDGE: r"ledges?(?! pool)|water ?falls?|falls|drop(?! ?off)|shelf",
        HazardKind.OTHER: r"hazards?|dangers?|dangerous|caution|beware|weirs?|dams?|rapids?"
        r"|power ?lines?|keep out|do not wade",
    }
)

AREA_HAZARDS = frozenset({HazardKind.STRAINER, HazardKind.SOFT_BOTTOM, HazardKind.OTHER})
"""Hazards that an outline is taken for; other words more often belong to a bank or a run."""

ACCESSES = _hints(
    {
        AccessKind.PARKING: r"parking|car ?park|park (?:here|the car)|pull ?outs?|pull ?offs?"
        r"|trail ?heads?|lay ?by",
        AccessKind.LANDING: r"boat (?:ramp|launch|landing)|ramps?|launch|landings?|put ?in"
        r"|take ?out|slip ?way",
        AccessKind.FORD: r"fords?|crossings?|wade across",
        AccessKind.PATH: r"paths?|trails?|access|walk ?in|way in|stairs|steps|gates?|stile"
        r"|footpath",
    }
)

STRUCTURES = _hints(
    {
        StructureKind.LEDGE_POOL: r"ledge pools?",
        StructureKind.ROCK_GARDEN: r"rock gardens?|boulder gardens?",
        StructureKind.BOULDER_LEE: r"(?:boulder|rock)(?:'?s)? (?:lee|pocket)|pocket behind",
        StructureKind.EDDY_LINE: r"edd(?:y|ies)(?: line)?",
        StructureKind.DROP_OFF: r"drop ?offs?",
        StructureKind.SLOT: r"slots?",
        StructureKind.BUCKET: r"buckets?|holding (?:spot|place|water)|fish (?:lie|hold) here|lies?",
    }
)

PARTS = _hints(
    {
        Part.SIDE: r"side ?channels?|tributary|trib|slough|back ?channel|side|braid",
        Part.MAIN: r"main(?:stem)?|main (?:channel|line)",
    }
)

RIVER = re.compile(
    r"\b(?:rivers?|creeks?|streams?|centre ?lines?|center ?lines?|thalweg|flow ?lines?|main ?stem"
    r"|channels?|tributary|trib|slough)\b"
)
OWN_NAME = re.compile(r"\b(?:rivers?|creeks?|streams?)\b(?! (?:left|right))")
"""A folder or file so called has the river's own name, which says nothing: "Willow Creek"."""

EDGE = re.compile(
    r"\b(?:water'?s? ?edges?|waterlines?|shore ?lines?|high ?water|low ?water|wetted|edges?"
    r"|water (?:line|surface|area))\b"
)
BANK = re.compile(r"\b(?:banks?|bar|shore)\b")
RUN = re.compile(r"\b(?:runs?|pools?|riffles?|tail ?outs?|drifts?|flats?|glides?)\b")
TREE = re.compile(r"\b(?:trees?|spruce|cedar|fir|hemlock|cottonwood|pine|alder|birch|oak|snag)\b")
ROCK = re.compile(r"\b(?:rocks?|boulders?|stone)\b")
"""Words that say which layer a thing belongs to."""


def said(hints: Hints, text: str) -> list[tuple[str, str]]:
    """Return (word of the drawing, words of the text) in the table's order, denied ones left out.

    Examples
    --------
    >>> [(str(word), words) for word, words in said(COVERS, "grass, no trees, willows")]
    [('brush', 'willows'), ('grass', 'grass')]
    """
    found = []
    for word, pattern in hints.items():
        for match in pattern.finditer(text):
            if not DENIED.search(text[: match.start()]):
                found.append((word, match[0]))
                break
    return found


def plain_text(text: str) -> str:
    """Return a text in small letters, its marks and underscores as spaces.

    Examples
    --------
    >>> plain_text("RiverLeft_Cut-bank (R.L.)")
    'river left cut bank rl '
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    joined = re.sub(r"\b([a-z])\.([a-z])\.", r"\1\2", parted.lower())
    return re.sub(r"[^\w'.%,/]+|_", " ", joined)

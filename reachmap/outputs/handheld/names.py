"""Names of places and lines for small screens: short codes, or long names as an option.

Short names have at most six characters of A-Z and 0-9, since small screens cut the rest: a letter
for the kind (three for a hazard), two digits from the head of the reach down, T (top) or F (foot)
for the ends of a stretch, and a letter for the flow, A for the lowest. Long names say the same in
words, in at most `LONGEST` plain characters including the short name's kind and number, so that
list, sheet and device agree.
"""

from __future__ import annotations

from string import ascii_lowercase

from reachmap.text.angler_text import plain_ascii
from reachmap.text.handheld import end_word

DAY_LETTER = "D"
RUN_LETTER, ACCESS_LETTER, LANE_LETTER, WADE_LETTER = "R", "P", "L", "W"
"""First letters of other short names. Places worth a note keep their own code: A1 to A10."""

HAZARD_LETTER = "HAZ"
"""First letter of a hazard's name: a device without its symbol shows a plain flag, and the name
alone must then distinguish it from a car park."""

LONGEST = 40
"""Length of a long name [characters] (our choice, 30-60: what lists on larger screens show)."""

SHORTEST = 6
"""Number of characters every device shows; a longer name is written without its flow's letter."""

RUN_PART = 16
"""Length of the run's own name within a long name [characters] (our choice)."""


def flow_letter(index: int) -> str:
    """Return the letter of a flow by its index, lowest first: A to Z, then 0 to 9."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
    return letters[index] if index < len(letters) else "9"


def water_name(code: str) -> str:
    """Return the short name of a piece of water: its code, the number in two digits at least.

    Examples
    --------
    >>> water_name("B2"), water_name("E12b")
    ('B02', 'E12B')
    """
    number = code[1:].rstrip(ascii_lowercase)
    return f"{code[:1]}{int(number):02d}{code[1 + len(number) :].upper()}"


def end_name(code: str, end: str, flow: str, *, words: str = "", label: str = "") -> str:
    """Return the name of one end of a stretch.

    Parameters
    ----------
    code
        Kind and number.
    end
        "top" or "foot".
    flow
        Letter of the flow, or empty for an end common to all flows.
    words, label
        For a long name: words before the code, and the flow's label; without a label the name is
            short.

    Examples
    --------
    >>> end_name("B02", "top", "E")
    'B02TE'
    >>> end_name("B02", "top", "E", words="Lantern Pool", label="2400cfs")
    'Lantern Pool B02 top 2400cfs'
    """
    if not label:
        return f"{code}{end[0].upper()}{flow}"[:SHORTEST]
    return _long(words, plain_ascii(f"{code} {end_word(end)} {label}".strip(), LONGEST))


def place_name(code: str, *, words: str = "") -> str:
    """Return the name of a place or line: its code, optionally after some words."""
    return _long(words, code) if words else code


def _long(words: str, rest: str) -> str:
    """Return words cut to the remaining length, followed by `rest`, which is never cut."""
    return f"{plain_ascii(words, RUN_PART).strip()} {rest}".strip()[:LONGEST]

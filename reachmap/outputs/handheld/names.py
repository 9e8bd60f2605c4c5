"""Names of places and lines on a small screen, short by rule or long on wish.

Short names are at most six signs of A-Z and 0-9, since small screens cut the rest: a letter for the
kind (three for a hazard), two digits from the head of the reach down, T (top) or F (foot) for the
ends of a stretch, and a letter for the flow, lowest flow A. Long names say the same in words, at
most `LONGEST` plain signs, the short name's kind and number among them, so that list, sheet and
device still agree.
"""

from __future__ import annotations

from string import ascii_lowercase

from reachmap.text.angler_text import plain_ascii

DAY_LETTER = "D"
RUN_LETTER, ACCESS_LETTER, LANE_LETTER, WADE_LETTER = "R", "P", "L", "W"
"""First letters of other short names. Places worth a note keep their own code: A1 to A10."""

HAZARD_LETTER = "HAZ"
"""Begins a hazard's name: a device that does not know its symbol shows a plain flag, and the name
alone must then tell it from a place to park."""

LONGEST = 40
"""Signs of a long name (our choice, 30-60: what lists on larger screens show)."""

SHORTEST = 6
"""Signs that every device shows; a name that would be longer loses its flow's letter."""

RUN_PART = 16
"""Signs of the run's own name within a long name (our choice)."""


def flow_letter(index: int) -> str:
    """Return the letter of a flow by its place in the list, lowest first: A to Z, then 0 to 9."""
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
        Letter of the flow, or empty where it is the same at all flows.
    words, label
        For a long name: what stands before the code, and the flow's label; no label, a short one.

    Examples
    --------
    >>> end_name("B02", "top", "E")
    'B02TE'
    >>> end_name("B02", "top", "E", words="Lantern Pool", label="2400cfs")
    'Lantern Pool B02 top 2400cfs'
    """
    if not label:
        return f"{code}{end[0].upper()}{flow}"[:SHORTEST]
    return _long(words, f"{code} {end} {label}".strip())


def place_name(code: str, *, words: str = "") -> str:
    """Return the name of a place or line: its code, after some words on wish."""
    return _long(words, code) if words else code


def _long(words: str, rest: str) -> str:
    """Return words cut to their share, then what must not be cut."""
    return f"{plain_ascii(words, RUN_PART).strip()} {rest}".strip()[:LONGEST]

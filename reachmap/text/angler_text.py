"""Cleaning of text the angler typed, for files in other formats (ASCII, XML, HTML-free)."""

from __future__ import annotations

import re
import unicodedata

TURNS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Control characters of the writing direction (Unicode Bidirectional Algorithm, UAX 9)."""


def plain_ascii(text: str, length: int) -> str:
    """Return text as at most `length` printable ASCII characters, accents dropped.

    Examples
    --------
    >>> plain_ascii("Über  the <ledge>", 40)
    'Uber the <ledge>'
    """
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return " ".join("".join(c if c.isprintable() else " " for c in folded).split())[:length]


def clean_text(text: str, length: int) -> str:
    """Return text that XML 1.0 allows, cut to length.

    Control characters and surrogates are dropped, and so are those of the writing direction, which
    would also reverse the text around them in a small device's list.
    """
    text = TURNS.sub("", text)
    if text.isprintable():  # nothing to drop, as in nearly all texts
        return text[:length]
    kept = (c for c in text if c in "\n\t" or unicodedata.category(c) not in {"Cc", "Cs", "Cn"})
    return "".join(kept)[:length]


def never_markup(text: str) -> str:
    """Return text that holds no markup element: angle brackets become square.

    For formats whose readers may show a text as HTML, as KML allows for descriptions (OGC 07-147r2,
    from memory); escaped entities would show literally in readers that do not.

    Examples
    --------
    >>> never_markup("<b>deep</b>")
    '[b]deep[/b]'
    """
    return text.replace("<", "[").replace(">", "]")

"""Text of the angler's made fit for files that others read: still text, and still theirs."""

from __future__ import annotations

import re
import unicodedata

TURNS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Signs that turn the direction of writing (Unicode Bidirectional Algorithm, UAX 9)."""


def plain_ascii(text: str, length: int) -> str:
    """Return text as at most `length` printable ASCII signs, accents dropped.

    Examples
    --------
    >>> plain_ascii("Über  the <ledge>", 40)
    'Uber the <ledge>'
    """
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return " ".join("".join(c if c.isprintable() else " " for c in folded).split())[:length]


def clean_text(text: str, length: int) -> str:
    """Return text that XML 1.0 can carry, cut to length.

    Control signs and surrogates are dropped, and so are signs that turn the direction of writing:
    in a small device's list they would turn what stands beside them too.
    """
    text = TURNS.sub("", text)
    if text.isprintable():  # no such sign in it, as in nearly all texts
        return text[:length]
    kept = (c for c in text if c in "\n\t" or unicodedata.category(c) not in {"Cc", "Cs", "Cn"})
    return "".join(kept)[:length]


def never_markup(text: str) -> str:
    """Return text in which no reader can find an element: angle brackets become square.

    For formats whose readers may show a text as HTML, as KML allows for descriptions (OGC 07-147r2,
    from memory); entities would be shown as they are by readers that do not.

    Examples
    --------
    >>> never_markup("<b>deep</b>")
    '[b]deep[/b]'
    """
    return text.replace("<", "[").replace(">", "]")

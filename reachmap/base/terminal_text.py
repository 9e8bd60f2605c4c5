"""Escaping of control characters in text for a terminal."""

from __future__ import annotations

import unicodedata

HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Unicode categories shown as escapes: controls (C0, C1, ESC), format characters (direction
overrides, zero-width ones, tags), lone surrogates, and line or paragraph separators."""


def printable(text: str, *, lines: bool = False) -> str:
    r"""Return text with every character that does not print as itself shown as an escape.

    Names come from files that anybody may have made. An escape sequence in one could clear the
    terminal or forge a line; a direction override could turn an address around.

    Parameters
    ----------
    text
        Any text.
    lines
        Whether line feeds stay: true for a message of ours whose parts were made printable before.

    Examples
    --------
    >>> printable("Alder\x1b[2J\u202e bar")
    'Alder\\x1b[2J\\u202e bar'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escaped(one, lines=lines) for one in text)


def _escaped(character: str, *, lines: bool) -> str:
    """Return a character, or its escape as Python writes it."""
    if unicodedata.category(character) not in HIDDEN or (lines and character == "\n"):
        return character
    return character.encode("unicode_escape").decode("ascii")

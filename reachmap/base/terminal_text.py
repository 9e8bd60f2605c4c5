"""Text made fit for a terminal: signs that steer it are shown, not obeyed."""

from __future__ import annotations

import unicodedata

HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Unicode categories shown as escapes: controls (C0, C1, ESC), format signs (direction overrides,
zero-width signs, tags), halves of signs, and line or paragraph separators."""


def printable(text: str, *, lines: bool = False) -> str:
    r"""Return text whose every sign prints as itself; others as visible escapes.

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
    return "".join(_sign(one, lines=lines) for one in text)


def _sign(sign: str, *, lines: bool) -> str:
    """Return a sign, or its escape as Python writes it."""
    if unicodedata.category(sign) not in HIDDEN or (lines and sign == "\n"):
        return sign
    return sign.encode("unicode_escape").decode("ascii")

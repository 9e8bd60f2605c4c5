"""Reversible escaping of CSV cells that a spreadsheet would take for formulas."""

from __future__ import annotations

import unicodedata

MARK = "'"
"""Character written before a text that a spreadsheet would take for a formula."""

_STARTS = frozenset("=+-@\t\r\n")
_BLANK = frozenset({"Cc", "Cf", "Zl", "Zp", "Zs"})
"""Categories of leading characters that spreadsheets skip: blanks, zero-width ones, controls."""


def escaped_cell(value: object) -> object:
    """Return a cell as it is written into a CSV file: texts escaped, numbers as they are.

    A text that begins, after blanks, with ``=``, ``+``, ``-``, ``@`` (in any width), a tab or a
    line end gets an apostrophe before it; so does one that begins with an apostrophe before such a
    text, so that `read_cell` gives every text back unchanged. None is an empty cell.

    Notes
    -----
    Common practice against formulas in exported text; no published source.
    """
    if value is None:
        return ""
    if isinstance(value, str) and _is_formula(value):
        return f"{MARK}{value}"
    return value


def read_cell(text: str) -> str:
    """Return the text that `escaped_cell` was given."""
    return text[1:] if text.startswith(MARK) and _is_formula(text[1:]) else text


def _is_formula(text: str) -> bool:
    """Return whether a spreadsheet may take a text for a formula, apostrophes before it ignored."""
    for character in text.lstrip(MARK):
        if character in _STARTS or unicodedata.normalize("NFKC", character) in _STARTS:
            return True
        if unicodedata.category(character) not in _BLANK:
            return False
    return False

"""Quoting of found values in messages, and suggestions for misspelt words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

CLOSE = 0.7
"""How alike two words must be for one to be offered for the other, 0 to 1 (our choice)."""


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that `word` was likely meant to be, None where none is near."""
    choices = list(known)
    plain = word.strip().lower().replace(" ", "_").replace("-", "_")
    found = difflib.get_close_matches(plain, choices, n=1, cutoff=CLOSE)
    return found[0] if found else None


def quoted(value: object, length: int = 60) -> str:
    """Return a value fit to be quoted in a message, however long or odd."""
    text = repr(value if not isinstance(value, str) else value[: length * 4])
    return text if len(text) <= length else text[: length - 3] + "..."


def one_of(value: str, known: Sequence[str]) -> str:
    """Return the mend of a word that is not known: the likely one first, then all."""
    near = nearest(value, known)
    first = f"Did you mean {near!r}? " if near else ""
    return f"{first}Use one of: {', '.join(known)}"

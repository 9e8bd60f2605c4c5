"""Small CSV files typed by the angler: lines, cells by column, and times."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, tzinfo

import numpy as np


def csv_lines(text: str) -> list[list[str]]:
    """Return the cells of each line; empty lines and those that begin with # are left out."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return list(csv.reader(io.StringIO("\n".join(lines))))


def named_lines(text: str) -> tuple[list[str], list[tuple[int, dict[str, str], str]]]:
    """Return the column names in lower case, and each line below them.

    A line is its number (the header is line 1), its cells by column name, and its whole text.
    """
    first, *others = csv_lines(text) or [[]]
    heads = [cell.strip().lower() for cell in first]
    return heads, [
        (number, dict(zip(heads, (cell.strip() for cell in row), strict=False)), ",".join(row))
        for number, row in enumerate(others, start=2)
    ]


def utc_time(text: str, zone: tzinfo) -> np.datetime64:
    """Return an ISO 8601 time as UTC; `zone` is that of a time without an offset.

    Raises
    ------
    ValueError
        If it is no such time.
    """
    parsed = datetime.fromisoformat(text)
    known = parsed if parsed.tzinfo is not None else parsed.replace(tzinfo=zone)
    return np.datetime64(known.astimezone(UTC).replace(tzinfo=None), "s")

"""A part of a page of docs that a script writes anew, between two marks."""

from __future__ import annotations

from pathlib import Path


def put_between(path: Path, marks: tuple[str, str], text: str) -> None:
    """Replace what stands between two marks of a page, each on a line of its own, by a text."""
    page = path.read_text(encoding="utf-8")
    head, rest = page.split(marks[0])
    tail = rest.split(marks[1])[1]
    path.write_text(f"{head}{marks[0]}\n{text}\n{marks[1]}{tail}", encoding="utf-8")

"""The locale that the outputs of a folder are written in, by its settings."""

from __future__ import annotations

import tomllib
from pathlib import Path

from reachmap.base.language import parsed
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.markup.files import REACH_FILE
from reachmap.markup.waters_file import WATERS_FILE, shared_text, waters_text


def folder_locale(folder: Path) -> str:
    """Return the locale of a reach folder, or of a folder that holds several; empty without one.

    `locale` under [pages] of reach.toml, else of the waters.toml above it. One that cannot be read
    or that nobody knows counts as none: the check of the folder tells of it.
    """
    if (folder / REACH_FILE).is_file():
        try:
            own = read_text(folder / REACH_FILE, FileKind.SETTINGS, folder)
        except (RefusedError, OSError):
            return ""
        return _locale_in(own) or _locale_in(shared_text(folder)[0])
    if (folder / WATERS_FILE).is_file():
        return _locale_in(waters_text(folder / WATERS_FILE)[0])
    return ""


def _locale_in(text: str) -> str:
    """Return the locale that a text of settings names; empty where it names none."""
    try:
        pages = tomllib.loads(text).get("pages", {})
        named = pages.get("locale", "") if isinstance(pages, dict) else ""
        return parsed(named) if isinstance(named, str) and named else ""
    except (ValueError, RecursionError):
        return ""

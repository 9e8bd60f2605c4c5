"""waters.toml: settings shared by several home rivers, in the folder above their reach folders."""

from __future__ import annotations

from pathlib import Path

from reachmap.base.errors import Fault
from reachmap.base.safe_files import FileKind, RefusedError, read_text

WATERS_FILE = "waters.toml"


def shared_file(folder: Path) -> Path | None:
    """Return the waters.toml above a reach folder; None where there is none."""
    path = folder.resolve().parent / WATERS_FILE
    return path if path.is_file() else None


def shared_text(folder: Path) -> tuple[str, list[Fault]]:
    """Return the text of the waters.toml above a reach folder; "" where there is none.

    One that may not be opened or cannot be read is a fault: otherwise its settings would be missing
    without notice.
    """
    path = shared_file(folder)
    return ("", []) if path is None else waters_text(path)


def waters_text(path: Path) -> tuple[str, list[Fault]]:
    """Return the text of a waters.toml; "" with a fault where it cannot be read."""
    try:
        return read_text(path, FileKind.SETTINGS, path.parent), []
    except RefusedError as error:
        return "", [Fault(WATERS_FILE, error.found, error.fix)]
    except OSError as error:
        return "", [Fault(WATERS_FILE, f"it cannot be read ({error})", "Mend its access rights")]

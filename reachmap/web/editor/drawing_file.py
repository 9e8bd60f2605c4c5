"""The drawing's file: the layers the editor can change, and those that other files hold."""

from __future__ import annotations

import hashlib
import time
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd

from reachmap.base.crs import WGS84
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.safe_files import RefusedError
from reachmap.base.vectors import open_vector
from reachmap.markup.layers import LAYER_FIELDS, LAYER_NAMES
from reachmap.markup.sources import CANNOT_READ, read_sources
from reachmap.markup.write import MARKUP_FILE, layer_of
from reachmap.web.editor.journal import JOURNAL
from reachmap.web.editor.rows import Sheet, StoredMark, marks_of, sheet_of

READINGS = 5
"""How often a file that changes while it is read is read again (our choice)."""

LEFTOVER_S = 3600.0
"""Files left by a program that was ended in mid-writing are taken away after this [s]."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A reach folder's drawing, opened.

    Parameters
    ----------
    sheets
        Layers of the drawing's own file, which the page may change.
    kept
        Their marks.
    elsewhere
        Marks of layers in other files, by the file's name: shown, never changed.
    digest
        SHA-256 of the drawing's file, "" where there is none.
    """

    sheets: Mapping[str, Sheet]
    kept: tuple[StoredMark, ...]
    elsewhere: Mapping[str, tuple[StoredMark, ...]]
    digest: str


def open_drawing(folder: Path, spare_crs: str) -> Opened:
    """Return the drawing of a reach folder.

    Parameters
    ----------
    folder
        The reach folder.
    spare_crs
        CRS of files that do not say theirs; "" for none.

    Raises
    ------
    MarkupError
        If the drawing's own file cannot be read, or another program keeps changing it.
    """
    path = folder / MARKUP_FILE
    for _ in range(READINGS):
        digest = digest_of(path)
        opened = _opened(folder, spare_crs, digest)
        if digest_of(path) == digest:  # the digest must be that of what was read
            return opened
    fix = "Let the other program finish, then try again"
    raise MarkupError([Fault(path.name, "another program keeps changing it", fix)])


def _opened(folder: Path, spare_crs: str, digest: str) -> Opened:
    """Return the drawing of a reach folder, whose file has a digest."""
    path = folder / MARKUP_FILE
    frames = own_frames(path) if path.exists() else {}
    sheets: dict[str, Sheet] = {}
    kept: list[StoredMark] = []
    for layer, frame in frames.items():
        crs = spare_crs if frame.crs is None else frame.crs.to_string()
        if not crs:
            continue  # the check tells of it; what has no place cannot be shown
        sheets[layer] = sheet_of(layer, frame, crs)
        kept += marks_of(sheets[layer], frame)
    common = next((sheet.crs for sheet in sheets.values()), WGS84)
    missing = [name for name in LAYER_NAMES if name not in frames]
    for layer in missing:
        sheets[layer] = sheet_of(layer, layer_of(layer, [], common), common)
    return Opened(sheets, tuple(kept), _elsewhere(folder, spare_crs), digest)


def own_frames(path: Path) -> dict[str, gpd.GeoDataFrame]:
    """Return the tables of the drawing's file that are named just like a layer."""
    try:
        with warnings.catch_warnings(action="ignore"), open_vector(path, path.parent) as file:
            names = [name for name, kind in file.tables if kind is not None]
            return {
                name: file.read(name, on_invalid="ignore", fid_as_index=True)
                for name in LAYER_FIELDS
                if name in names
            }
    except RefusedError as error:
        raise MarkupError([Fault(path.name, error.found, error.fix)]) from None
    except CANNOT_READ as error:
        fix = "Open it in the program that made it, or move it away to begin anew"
        fault = Fault(path.name, f"it cannot be read ({str(error)[:160]})", fix)
        raise MarkupError([fault]) from None


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file; "" where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""


def sweep(folder: Path) -> None:
    """Delete temporary files that a program killed while writing left behind."""
    for path in [*folder.glob(f".*-{MARKUP_FILE}*"), *folder.glob(f".*-{JOURNAL}")]:
        if path.is_file() and time.time() - path.stat().st_mtime > LEFTOVER_S:
            path.unlink(missing_ok=True)


def _elsewhere(folder: Path, spare_crs: str) -> dict[str, tuple[StoredMark, ...]]:
    """Return the marks of layers that other files of the folder hold."""
    found: dict[str, Sequence[StoredMark]] = {}
    for index, source in enumerate(read_sources(folder, spare_crs).found):
        file = source.file.split(",")[0]
        if file == MARKUP_FILE or source.frame.crs is None:
            continue
        sheet = sheet_of(source.layer, source.frame, source.frame.crs.to_string())
        found[file] = (*found.get(file, ()), *marks_of(sheet, source.frame, f"other-{index}-"))
    return {file: tuple(kept) for file, kept in found.items()}

"""Writes all outputs of a build, as a new generation that then replaces the old folder."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from reachmap.base.disk import DiskFullError, full_message, has_no_room, room_on_disk
from reachmap.base.fingerprint import digest_files
from reachmap.base.generation import (
    REPORT,
    begin,
    change_over,
    drop,
    is_intact,
    listed_files,
    read_report,
)
from reachmap.base.language import written_in
from reachmap.base.writer import one_writer
from reachmap.outputs.choices import PLAIN, Choices
from reachmap.outputs.gis import write_gis
from reachmap.outputs.handheld import write_gpx, write_kml
from reachmap.outputs.product import Product
from reachmap.outputs.reuse import Reuse, link_or_copy
from reachmap.outputs.sheet import write_sheets
from reachmap.outputs.site import write_site
from reachmap.outputs.table import write_table
from reachmap.outputs.webmap import MapSettings, write_maps
from reachmap.outputs.zarr_fields import write_zarr
from reachmap.text.wading_terms import terms_of

GRADING = "grading"
"""Key in the report of the sentences on how water was graded."""

Writer = Callable[[Product, Path, Choices], list[Path]]


def _maps(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the maps."""
    settings = MapSettings(tile_url=chosen.tile_url, tile_credit=chosen.tile_credit)
    return write_maps(product, folder, settings=settings)


def _site(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the installable page."""
    settings = MapSettings(tile_url=chosen.tile_url, tile_credit=chosen.tile_credit)
    return write_site(product, folder, settings, _now()[:10])


def _sheets(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the pocket sheets."""
    return write_sheets(product, folder, labels=chosen.labels, paper=chosen.paper, pdf=chosen.pdf)


def _gpx(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the GPX files."""
    return write_gpx(product, folder, long_names=chosen.long_names, labels=chosen.labels)


def _kml(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the KML files."""
    return write_kml(product, folder, labels=chosen.labels)


SITE, ZARR = "site", "zarr"
"""The outputs that are written only on request."""

WRITERS: tuple[tuple[str, Writer], ...] = (
    ("maps", _maps),
    ("sheets", _sheets),
    ("gpx", _gpx),
    ("kml", _kml),
    ("gis", lambda product, folder, chosen: write_gis(product, folder, chosen.reuse)),
    (SITE, _site),
    (ZARR, lambda product, folder, _: write_zarr(product, folder)),
    ("table", lambda product, folder, _: write_table(product, folder)),
)
"""Folder and writer of each output."""


def write_all(
    product: Product,
    folder: Path,
    *,
    progress: Callable[[str], None] = lambda _: None,
    chosen: Choices = PLAIN,
    seconds: Callable[[], Mapping[str, float]] = dict,
) -> dict[str, Any]:
    """Write every output into `folder` and return the report, also written as report.json.

    All of it is first written next to the folder and then replaces it atomically
    (`base.generation`): files of an earlier build that this one did not write are removed, any
    other file in the folder and the cache are kept.

    Parameters
    ----------
    product
        The built reach.
    folder
        The written folder.
    progress
        Progress callback, called with the name of each output before it is written.
    chosen
        Options of the writers.
        seconds
            Returns the duration of each step of the build [s]; called once all is written.

    Raises
    ------
    DiskFullError, InUseError, HeldError
        If the disk is full, or the folder is used by another program or build; it is then
            unchanged.
    """
    wanted = {SITE: chosen.site, ZARR: chosen.zarr}
    names = [name for name, _ in WRITERS if wanted.get(name, True)]
    locale = written_in(product.markup.plan.locale)
    with one_writer(folder, "writing"), room_on_disk(folder), locale:
        new = begin(folder)
        try:
            reuse = Reuse.of(folder, new)
            files = _written(product, new, names, replace(chosen, reuse=reuse), progress)
            graded = {GRADING: graded_lines(product)}
            report = {**product.report, **graded, "built_utc": _now(), "files": files}
            report["seconds"] = dict(seconds())
            _finish(folder, new, report)
            reuse.keep(files)
        finally:
            drop(folder)
    return report


def write_some(product: Product, folder: Path, names: Sequence[str], chosen: Choices) -> list[Path]:
    """Write some outputs over those of an earlier build; return the paths.

    The next generation of the folder contains them and unchanged copies of the other files of that
    build; its report lists both, so that a later build recognises them.

    Parameters
    ----------
    product
        The built reach.
    folder
        The written folder, with its report.
    names
        Names of `WRITERS`.
    chosen
        How to write.

    Raises
    ------
    DiskFullError, InUseError, HeldError
        As for `write_all`.
    """
    locale = written_in(product.markup.plan.locale)
    with one_writer(folder, "writing"), room_on_disk(folder), locale:
        new = begin(folder)
        try:
            report = read_report(folder)
            files = _written(product, new, names, chosen, lambda _: None)
            earlier = listed_files(folder)
            _carry(folder, new, {name: earlier[name] for name in earlier.keys() - files.keys()})
            graded = {GRADING: graded_lines(product)}
            _finish(folder, new, {**report, **graded, "files": {**earlier, **files}})
        finally:
            drop(folder)
    return [folder / name for name in sorted(files)]


def graded_lines(product: Product) -> list[str]:
    """Return the sentences on how water was graded, the marked line first."""
    return list(terms_of(product.report, product.markup.plan.units).lines)


def _written(
    product: Product,
    new: Path,
    names: Sequence[str],
    chosen: Choices,
    progress: Callable[[str], None],
) -> dict[str, str]:
    """Write outputs into a folder and return the files written, with their digests."""
    writers = dict(WRITERS)
    for name in names:
        progress(name)
        (new / name).mkdir()
        with room_on_disk(new):  # before later writing frees space again
            writers[name](product, new / name, chosen)
    return digest_files((path for path in new.rglob("*") if path.is_file()), new)


def _carry(folder: Path, new: Path, files: Mapping[str, str]) -> None:
    """Carry unchanged files of a generation into the next, as hard links or else copies."""
    for name, digest in files.items():
        if not is_intact(folder, name, digest):
            continue
        link_or_copy(folder / name, new / name)


def _finish(folder: Path, new: Path, report: Mapping[str, Any]) -> None:
    """Write the report and replace the folder by the new generation."""
    text = json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False)
    (new / REPORT).write_text(text, encoding="utf-8")
    if has_no_room(new):  # not all libraries report a write to a full disk
        raise DiskFullError(full_message(folder))
    change_over(folder)


def _now() -> str:
    """Return the time to write into a report."""
    return datetime.now(UTC).isoformat(timespec="seconds")

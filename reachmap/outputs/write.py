"""Writes everything a build makes: whole beside the target first, then moved into place."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from reachmap.base.stamp import digest_files
from reachmap.outputs.choices import PLAIN, Choices
from reachmap.outputs.gis import write_gis
from reachmap.outputs.handheld import write_gpx, write_kml
from reachmap.outputs.product import Product
from reachmap.outputs.sheet import write_sheets
from reachmap.outputs.table import write_table
from reachmap.outputs.terms import terms_of
from reachmap.outputs.webmap import MapSettings, write_maps

REPORT = "report.json"

GRADING = "grading"
"""Name in the report of the sentences on how water was graded."""

Writer = Callable[[Product, Path, Choices], list[Path]]


def _maps(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the maps."""
    settings = MapSettings(tile_url=chosen.tile_url, tile_credit=chosen.tile_credit)
    return write_maps(product, folder, settings=settings)


def _sheets(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the pocket sheets."""
    return write_sheets(product, folder, labels=chosen.labels, paper=chosen.paper, pdf=chosen.pdf)


def _gpx(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the GPX files."""
    return write_gpx(product, folder, long_names=chosen.long_names, labels=chosen.labels)


def _kml(product: Product, folder: Path, chosen: Choices) -> list[Path]:
    """Write the KML files."""
    return write_kml(product, folder, labels=chosen.labels)


WRITERS: tuple[tuple[str, Writer], ...] = (
    ("maps", _maps),
    ("sheets", _sheets),
    ("gpx", _gpx),
    ("kml", _kml),
    ("gis", lambda product, folder, _: write_gis(product, folder)),
    ("table", lambda product, folder, _: write_table(product, folder)),
)
"""Folder and writer of each kind of output."""


def write_all(
    product: Product,
    folder: Path,
    *,
    told: Callable[[str], None] = lambda _: None,
    chosen: Choices = PLAIN,
) -> dict[str, Any]:
    """Write every output into `folder` and return the report that lies there as report.json.

    Files that an earlier build wrote and this one did not are taken away; any other file in the
    folder is left alone. Nothing is moved into place before all of it is written.

    Parameters
    ----------
    product
        The built reach.
    folder
        The written folder.
    told
        Called with the name of each kind of output before it is written.
    chosen
        How to write.
    """
    folder.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    try:
        for name, writer in WRITERS:
            told(name)
            (aside / name).mkdir()
            writer(product, aside / name, chosen)
        files = digest_files((path for path in aside.rglob("*") if path.is_file()), aside)
        report = {**product.report, GRADING: graded_lines(product), "files": files}
        text = json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False)
        (aside / REPORT).write_text(text, encoding="utf-8")
        _move_into_place(aside, folder, files)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return report


def write_some(product: Product, folder: Path, names: Sequence[str], chosen: Choices) -> list[Path]:
    """Write some kinds of output over those of an earlier build; return the paths.

    The report lists the new files from then on, so that a later build knows them as its own.

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
    """
    report = json.loads((folder / REPORT).read_text(encoding="utf-8"))
    aside = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    writers = dict(WRITERS)
    try:
        for name in names:
            (aside / name).mkdir()
            writers[name](product, aside / name, chosen)
        files = digest_files((path for path in aside.rglob("*") if path.is_file()), aside)
        report[GRADING] = graded_lines(product)
        report["files"] = {**report["files"], **files}
        text = json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False)
        (aside / REPORT).write_text(text, encoding="utf-8")
        for name in files:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (aside / name).replace(folder / name)
        (aside / REPORT).replace(folder / REPORT)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [folder / name for name in sorted(files)]


def graded_lines(product: Product) -> list[str]:
    """Return the sentences on how water was graded, the marked line first."""
    return list(terms_of(product.report, product.markup.plan.units).lines)


def _move_into_place(aside: Path, folder: Path, files: dict[str, str]) -> None:
    """Move what was written into the folder, the report last, and drop what is no longer made."""
    earlier = files_of(folder)
    for name in files:
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        (aside / name).replace(target)
    (aside / REPORT).replace(folder / REPORT)
    for name in earlier.keys() - files.keys():
        (folder / name).unlink(missing_ok=True)


def files_of(folder: Path) -> dict[str, str]:
    """Return the files an earlier build wrote here, with digests; none without a report."""
    try:
        report = json.loads((folder / REPORT).read_text(encoding="utf-8"))
        return {str(name): str(digest) for name, digest in report["files"].items()}
    except (OSError, ValueError, KeyError, AttributeError):
        return {}

"""Writes everything a build makes: whole beside the target first, then moved into place."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from reachmap.base.stamp import digest_files
from reachmap.outputs.gis import write_gis
from reachmap.outputs.gpx import write_gpx
from reachmap.outputs.product import Product
from reachmap.outputs.sheet import write_sheets
from reachmap.outputs.table import write_table
from reachmap.outputs.webmap import write_maps

REPORT = "report.json"

Writer = Callable[[Product, Path], list[Path]]

WRITERS: tuple[tuple[str, Writer], ...] = (
    ("maps", write_maps),
    ("sheets", write_sheets),
    ("gpx", write_gpx),
    ("gis", write_gis),
    ("table", write_table),
)
"""Folder and writer of each kind of output."""


def write_all(
    product: Product, folder: Path, *, told: Callable[[str], None] = lambda _: None
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
    """
    folder.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    try:
        for name, writer in WRITERS:
            told(name)
            (aside / name).mkdir()
            writer(product, aside / name)
        files = digest_files((path for path in aside.rglob("*") if path.is_file()), aside)
        report = {**product.report, "files": files}
        text = json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False)
        (aside / REPORT).write_text(text, encoding="utf-8")
        _move_into_place(aside, folder, files)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return report


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

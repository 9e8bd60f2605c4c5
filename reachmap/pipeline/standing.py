"""The build that stands in a folder before another takes its place: what changed between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reachmap.base.generation import read_report
from reachmap.base.paths import OutsideError, inside

if TYPE_CHECKING:
    from reachmap.base.arrays import FloatArray
    from reachmap.planner.changes import BuildChange


@dataclass(frozen=True, slots=True)
class Standing:
    """The build that stood in a folder: its report, and its depths by label as file contents."""

    folder: Path
    report: Mapping[str, Any]
    depths: Mapping[str, bytes]

    @classmethod
    def read(cls, folder: Path) -> Standing:
        """Return the build that stands in a written folder, as far as it can be read."""
        report = read_report(folder)
        labels = [str(one.get("label")) for one in report.get("flows", ())]
        found = {label: _contents(folder, label) for label in labels}
        return cls(folder, report, {label: data for label, data in found.items() if data})

    def change(self, now: Mapping[str, Any]) -> BuildChange | None:
        """Return what a build made of it; None where nothing stood, or it cannot be compared."""
        from reachmap.planner.changes import build_change, common_flow

        try:
            label = common_flow(self.report, now)
            held = self.depths.get(label, b""), _contents(self.folder, label) if label else b""
            return build_change(self.report, now, _depths(*held) if all(held) else None)
        except (KeyError, TypeError, ValueError, AttributeError):  # a report of another version
            return None


def _contents(folder: Path, label: str) -> bytes:
    """Return the file of a flow's depths; empty where there is none."""
    try:
        return inside(folder, f"gis/depth_{label}.tif").read_bytes()
    except (OSError, ValueError, OutsideError):
        return b""


def _depths(before: bytes, now: bytes) -> tuple[FloatArray, FloatArray] | None:
    """Return two rasters of depth [m], NaN where not wet; None where they differ in their cells."""
    import numpy as np
    from rasterio.errors import RasterioError

    from reachmap.base.rasters import open_held

    read = []
    try:
        for data in (before, now):
            with open_held(data) as source:
                depth = source.read(1, masked=True).filled(np.nan)
                read.append((source.transform, depth.astype(np.float64)))
    except RasterioError:
        return None
    (where, old), (here, new) = read
    return (old, new) if where == here else None

"""The build that stood in a folder, against the one that takes its place."""

from __future__ import annotations

import json

import numpy as np
import pytest
import rasterio
from affine import Affine

from reachmap.pipeline.standing import Standing
from tests.planner.test_changes import BEFORE, NOW, report


def write(folder, made, depth, west=0.0):
    (folder / "gis").mkdir(parents=True, exist_ok=True)
    (folder / "report.json").write_text(json.dumps(made))
    grid = {"width": 2, "height": 1, "count": 1, "transform": Affine(2, 0, west, 0, -2, 0)}
    profile = {"driver": "GTiff", "dtype": "float32", "nodata": -9999.0, **grid}
    for label in "abc":
        with rasterio.open(folder / "gis" / f"depth_{label}.tif", "w", **profile) as target:
            target.write(np.array([depth], dtype=np.float32), 1)


@pytest.mark.parametrize(("west", "moved"), [(0.0, 0.5), (2.0, None)])
def test_depths_of_the_same_cells_are_compared(tmp_path, west, moved):
    write(tmp_path, report(runs=BEFORE), [1.0, 0.5])
    standing = Standing.read(tmp_path)
    write(tmp_path, report(runs=NOW), [1.0, -9999.0], west)
    change = standing.change(report(runs=NOW))
    assert change.gained == ("Ford",)
    assert change.depth_moved == pytest.approx(np.nan if moved is None else moved, nan_ok=True)


def test_a_first_build_changes_nothing(tmp_path):
    assert Standing.read(tmp_path).change(report(runs=NOW)) is None


def test_a_report_of_another_version_or_a_broken_raster_ends_no_build(tmp_path):
    write(tmp_path, report(runs=BEFORE), [1.0, 0.5])
    (tmp_path / "gis" / "depth_b.tif").write_bytes(b"no raster")
    standing = Standing.read(tmp_path)
    assert np.isnan(standing.change(report(runs=NOW)).depth_moved)
    assert standing.change({"flows": [{"label": "b"}]}) is None

"""GeoTIFFs carried over from the last build: only where all that they are made of is the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from affine import Affine

from reachmap.base.grid import Grid
from reachmap.outputs.gis import rasters
from reachmap.outputs.write import write_all
from tests.outputs.made_product import made_product


def test_rasters_of_the_last_build_are_carried_over_where_nothing_of_them_changed(
    tmp_path, monkeypatch
):
    made, out = [], tmp_path / "written"
    write = rasters._write_raster
    monkeypatch.setattr(
        rasters,
        "_write_raster",
        lambda path, **how: made.append(how["raster"]) or write(path, **how),
    )
    product = made_product()
    (out / "cache").mkdir(parents=True)
    first = write_all(product, out)["files"]
    count = len(made)
    assert count == len(product.labels) * len(rasters.RASTERS)
    made.clear()
    assert (
        write_all(product, out)["files"].items()
        >= {name: digest for name, digest in first.items() if name.endswith(".tif")}.items()
    )
    assert not made
    deeper = product.flows.assign(depth=product.flows["depth"] + 0.01)
    write_all(replace(product, flows=deeper), out)
    assert {one.name for one in made} == {"depth"}
    made.clear()
    (out / "gis" / made_file(product)).write_bytes(b"somebody else's")
    write_all(replace(product, flows=deeper), out)
    assert [one.file for one in made] == [made_file(product)]


def made_file(product):
    """Return the name of a raster of a product."""
    return f"wet_{product.labels[0]}.tif"


def test_all_that_a_raster_is_made_of_is_told_by_its_digest():
    product = made_product()
    grid, tags = Grid.of(product.flows), {"CAUTION": "a"}
    one = next(rasters.rasters_of(product))
    values = one.values.copy()
    values.ravel()[np.flatnonzero(np.isfinite(values))[0]] += 1e-3
    hidden = one.values.copy()
    hidden.ravel()[np.flatnonzero(np.isfinite(hidden))[0]] = np.nan
    digests = [
        rasters.raster_inputs(*made)
        for made in (
            (one, grid, tags),
            (replace(one, values=values), grid, tags),
            (replace(one, values=hidden), grid, tags),
            (replace(one, label="1 cfs"), grid, tags),
            (replace(one, name="level"), grid, tags),
            (one, replace(grid, transform=grid.transform * Affine.translation(1, 0)), tags),
            (one, replace(grid, crs="EPSG:32611"), tags),
            (one, grid, {"CAUTION": "b"}),
        )
    ]
    assert len(set(digests)) == len(digests)

"""What can be wrong with the DEM, the gauge's files and flows, and the message it gives."""

from __future__ import annotations

import numpy as np
import rasterio
from affine import Affine

from tests.markup.folders import CRS, TOML, X, Y, make, rows, us_toml, write_dem
from tests.markup.spoil import Case, dem, fed, told


def picture(folder):
    """Write a picture where the DEM should be."""
    make(folder, dem=False)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", width=4, height=4, count=3, dtype="uint8",
        crs=CRS, transform=Affine(200, 0, X - 50, 0, -200, Y + 400),
    ) as target:  # fmt: skip
        target.write(np.zeros((3, 4, 4), dtype="uint8"))


def two_tiles(folder, one: str, other: str):
    """Write the DEM as two tiles, each with a CRS of its own that has a vertical part."""
    make(folder, dem=False)
    write_dem(folder / "dem_1.tif", x1=300.0, crs=one)
    write_dem(folder / "dem_2.tif", x0=300.0, crs=other)


CASES: dict[str, Case] = {
    # DEM
    "half a DEM": Case(
        dem(x1=200.0),
        "DEM",
        "covers 34% of the river line; none of it at 205 m to 600 m",
        "Add the missing tiles",
    ),
    "DEM elsewhere": Case(
        dem(x0=5_000, x1=5_600), "DEM", "none of the river line", "Check its CRS"
    ),
    "DEM without CRS": Case(
        dem(crs=None), "DEM dem.tif", "does not say its CRS", "Give it its CRS"
    ),
    "DEM in feet by fall": Case(
        dem(factor=1 / 0.3048),
        "DEM",
        "falls 3.9 m, reach.toml says 1.2 m",
        "height_unit under [dem] (it looks like feet taken for metres)",
    ),
    "DEM in feet by rise": Case(
        lambda folder: (
            make(folder, made={**rows(), "banks": [{**b, "rise": 3.0} for b in rows()["banks"]]}),
            write_dem(folder / "dem.tif", factor=1 / 0.3048),
        ),
        "DEM",
        "times what you drew",
        "feet taken for metres",
    ),
    "DEM says feet": Case(
        dem(unit="US survey foot", factor=1 / 0.3048),
        "DEM dem.tif",
        "its heights are in feet",
        'height_unit = "m"',
    ),
    "a picture for a DEM": Case(
        picture, "DEM dem.tif", "a picture of 3 bands", "heights as a raster"
    ),
    "no raster for a DEM": Case(
        lambda folder: make(folder, dem=False) and (folder / "dem.tif").write_bytes(b"II*"),
        "DEM dem.tif",
        "cannot be read",
        "Export it again as a GeoTIFF",
    ),
    "DEM files that are not there": Case(
        lambda folder: make(folder, toml=TOML.replace('height_unit = "m"', 'files = "x*.tif"')),
        "[dem] files",
        "no file is called x*.tif",
        "Correct the name",
    ),
    "gauge files that are not there": Case(
        lambda folder: make(folder, toml=TOML + '[gauge]\nfiles = ["gauge/x.rdb"]\n'),
        "[gauge] files",
        "no file is called gauge/x.rdb",
        "Correct the name",
    ),
    "tiles of two datums": Case(
        lambda folder: two_tiles(folder, "EPSG:6336+5703", "EPSG:6336+6647"),
        "DEM",
        "different vertical datums: Canadian Geodetic Vertical Datum of 2013 (CGG2013), North Am",
        "one vertical datum",
    ),
    "tiles of two units": Case(
        lambda folder: two_tiles(folder, "EPSG:6336+5703", "EPSG:6336+6360"),
        "DEM dem_2.tif",
        "the file says its heights are in",
        'reach.toml says height_unit = "m"',
    ),
    "DEM much too steep": Case(dem(slope=0.02), "DEM", "falls 12 m", "Correct slope"),
    "other datum": Case(
        lambda folder: (
            make(folder, toml=TOML.replace('height_unit = "m"', 'datum = "CGVD28"'), dem=False),
            write_dem(folder / "dem.tif", crs="EPSG:6336+5703"),
        ),
        "DEM",
        "'North American Vertical Datum 1988'",
        "[dem] says 'CGVD28'",
    ),
    "gauge of another datum": Case(
        lambda folder: make(
            folder,
            toml=TOML.replace('height_unit = "m"', 'datum = "NAVD88"')
            + '[gauge]\ndatum = "NGVD29"\n',
        ),
        "reach.toml",
        "[dem] says datum 'NAVD88', [gauge] says 'NGVD29'",
        "Give the gauge's zero in the DEM's datum",
    ),
    # gauge
    "flows beyond the rating": Case(
        told("list = [20, 30, 45]", "list = [5, 30, 400]"),
        "flows",
        "5 m3/s, 400 m3/s outside the gauge's rating, 10 m3/s to 150 m3/s",
        "beyond it nobody has measured",
    ),
    "flows in cfs": Case(
        told("list = [20, 30, 45]", "list = [700, 1200]"),
        "flows",
        "outside the gauge's rating",
        "meant in cfs?",
    ),
    "traced flow in cfs": Case(
        told("traced_flow = 30", "traced_flow = 1000"),
        "traced_flow",
        "far outside the gauge's rating",
        "meant in cfs?",
    ),
    "traced flow in m3/s": Case(
        lambda folder: make(
            folder,
            toml=us_toml(TOML)
            .replace('"30 m3/s"', "14", 1)
            .replace("slope = 0.002", "slope = 0.02"),
            made={**rows(), "levels": []},
            dem=False,
            gauge=False,
        ),
        "traced_flow",
        "14 cfs in a river 197 ft wide that falls 0.02 would be 0.1 ft deep",
        "was it meant in m3/s?",
    ),
    "zero in feet": Case(
        lambda folder: make(folder, toml=TOML + "[gauge]\nzero = 325\n"),
        "[gauge] zero",
        "the gauge's zero is 325 m, the river in the DEM runs from 100 m to 99 m",
        "DEM's datum",
    ),
    "falling rating": Case(
        fed("stage_m,flow_m3s\n0.5,10\n0.9,8\n1.2,30\n"),
        "gauge file rating.csv",
        "flow falls as the stage rises, at its point 2",
        "Correct its rows",
    ),
    "two ratings": Case(
        fed("stage_m,flow_m3s\n0.5,10\n0.9,80\n", "second.csv"),
        "gauge file rating.csv and second.csv",
        "each holds a rating",
        "Keep the one in force",
    ),
    "strange gauge file": Case(fed("hello\nthere\n"), "rating.csv", "'hello'", "flow_cfs"),
    "empty gauge file": Case(fed(""), "gauge file rating.csv", "it is empty", "Fetch it again"),
}

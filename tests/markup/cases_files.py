"""What can be wrong with the DEM, the gauge's files and flows, and the message it gives."""

from __future__ import annotations

from tests.markup.folders import TOML, make, rows, write_dem
from tests.markup.spoil import Case, dem, fed, told

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
    "DEM much too steep": Case(dem(slope=0.02), "DEM", "falls 12 m", "Correct slope"),
    "other datum": Case(
        lambda folder: (
            make(folder, toml=TOML.replace('height_unit = "m"', 'datum = "CGVD28"'), dem=False),
            write_dem(folder / "dem.tif", crs="EPSG:6339+5703"),
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

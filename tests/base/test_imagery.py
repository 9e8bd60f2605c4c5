"""Pictures from the air on a grid: files made by the libraries of their formats."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from rasterio.errors import RasterioError
from rio_cogeo.cogeo import cog_translate
from rio_cogeo.profiles import cog_profiles

from reachmap.base import tile_archive
from reachmap.base.crs import WEB_MERCATOR, transform_points
from reachmap.base.grid import Grid
from reachmap.base.imagery import extent_of, imagery_over, look_into
from reachmap.base.safe_files import RefusedError
from tests.base.made_imagery import BLUE, RED, geotiff, mbtiles, pmtiles, two_colours

UTM = "EPSG:32610"
WEST, SOUTH = -13_600_000.0, 5_700_000.0
GRID = Grid.at_corner(WEST, SOUTH + 400.0, 2.0, (200, 300), WEB_MERCATOR)
"""600 m by 400 m of Web Mercator, cells of 2 m."""

MIDDLE = WEST + 300.0


def utm_bounds(margin=20.0):
    """Return bounds in UTM whose middle is that of the grid."""
    west, south, east, north = GRID.bounds
    x, y = transform_points(
        np.array([west, east, west, east]),
        np.array([south, south, north, north]),
        WEB_MERCATOR,
        UTM,
    )
    middle = float(
        transform_points(np.array([MIDDLE]), np.array([SOUTH + 200.0]), WEB_MERCATOR, UTM)[0][0]
    )
    half = max(middle - x.min(), x.max() - middle) + margin
    return middle - half, float(y.min()) - margin, middle + half, float(y.max()) + margin


def looks_right(found):
    """Check a red west and a blue east, within 20 m of where they meet, nothing clear."""
    assert found.shape == (200, 300, 4)
    red, blue = found[10:-10, :140], found[10:-10, 160:]
    for part, colour in ((red, RED), (blue, BLUE)):
        assert (part[..., 3] == 255).all()
        assert np.abs(part[..., :3].astype(int) - colour).max() <= 2


def test_a_geotiff_is_brought_from_its_own_crs(tmp_path):
    looks_right(imagery_over(geotiff(tmp_path / "a.tif", utm_bounds(), UTM), GRID))


def test_a_cloud_optimised_geotiff_with_overviews(tmp_path):
    plain = geotiff(tmp_path / "a.tif", utm_bounds(), UTM, cell=0.5)
    cog_translate(plain, tmp_path / "cog.tif", cog_profiles.get("deflate"), quiet=True)
    looks_right(imagery_over(tmp_path / "cog.tif", GRID))


@pytest.mark.parametrize("level", [15, 17, 18])
@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_pmtiles_archive_at_levels_coarser_and_finer_than_the_map(tmp_path, level, kind):
    path = pmtiles(tmp_path / "a.pmtiles", GRID.bounds, level=level, kind=kind, middle=MIDDLE)
    look_into(path)
    looks_right(imagery_over(path, GRID))


def test_each_kind_tells_its_bounds(tmp_path):
    picture = geotiff(tmp_path / "a.tif", GRID.bounds, WEB_MERCATOR)
    assert extent_of(picture) == pytest.approx(GRID.bounds, abs=1e-3)
    assert extent_of(pmtiles(tmp_path / "a.pmtiles", GRID.bounds)) is None  # its header holds zeros
    tiles = extent_of(mbtiles(tmp_path / "a.mbtiles", GRID.bounds))
    assert tiles[0] <= GRID.bounds[0]
    assert tiles[3] >= GRID.bounds[3]


def test_an_mbtiles_file(tmp_path):
    path = mbtiles(tmp_path / "a.mbtiles", GRID.bounds, middle=MIDDLE)
    look_into(path)
    looks_right(imagery_over(path, GRID))


def test_where_a_picture_shows_nothing_it_is_clear(tmp_path):
    west, south, _, north = GRID.bounds
    half = (west, south, MIDDLE, north)
    found = imagery_over(geotiff(tmp_path / "a.tif", half, WEB_MERCATOR), GRID)
    assert (found[:, :148, 3] == 255).all()
    assert (found[:, 152:, 3] == 0).all()
    shown = imagery_over(
        pmtiles(tmp_path / "a.pmtiles", (west, south, west + 10, south + 10)), GRID
    )
    assert (shown[..., 3] == 255).any()
    assert (shown[..., 3] == 0).any()


def halved(rows, columns, west, east, kind=np.uint8):
    """Return one band: one value in the western half, another in the other."""
    band = np.where(np.arange(columns) < columns // 2, west, east).astype(kind)
    return np.broadcast_to(band, (1, rows, columns))


def test_nodata_and_a_band_of_opacity_are_clear(tmp_path):
    def part(rows, columns):
        return np.concatenate([two_colours(rows, columns), halved(rows, columns, 255, 0)])

    look = {"photometric": "RGB", "alpha": "yes"}
    opaque = geotiff(tmp_path / "a.tif", GRID.bounds, WEB_MERCATOR, picture=part, **look)
    grey = geotiff(
        tmp_path / "b.tif",
        GRID.bounds,
        WEB_MERCATOR,
        picture=lambda rows, columns: halved(rows, columns, 90, 0),
        nodata=0,
    )
    for path in (opaque, grey):
        found = imagery_over(path, GRID)
        assert (found[:, :148, 3] == 255).all()
        assert (found[:, 152:, 3] == 0).all()


def test_a_fourth_band_that_is_no_opacity_is_not_taken_for_one(tmp_path):
    def with_infrared(rows, columns):
        return np.concatenate([two_colours(rows, columns), halved(rows, columns, 255, 0)])

    look = {"photometric": "RGB", "alpha": "unspecified"}
    path = geotiff(tmp_path / "a.tif", GRID.bounds, WEB_MERCATOR, picture=with_infrared, **look)
    looks_right(imagery_over(path, GRID))


def test_grey_and_sixteen_bits_are_stretched(tmp_path):
    def ramp(rows, columns):
        band = np.linspace(1000, 9000, columns).astype(np.uint16)
        return np.broadcast_to(band, (1, rows, columns))

    path = geotiff(tmp_path / "a.tif", GRID.bounds, WEB_MERCATOR, picture=ramp)
    found = imagery_over(path, GRID)
    assert (found[..., 0] == found[..., 2]).all()
    middle = found[100, :, 0].astype(int)
    assert (np.diff(middle) >= 0).all()
    assert (middle[0], middle[-1]) == (0, 255)
    assert middle[150] == pytest.approx(127, abs=3)


def test_a_palette_keeps_its_colours(tmp_path):
    def codes(rows, columns):
        return halved(rows, columns, 3, 7)

    path = geotiff(tmp_path / "a.tif", GRID.bounds, WEB_MERCATOR, picture=codes)
    with rasterio.open(path, "r+") as file:
        file.write_colormap(1, {3: (*RED, 255), 7: (*BLUE, 255)})
    looks_right(imagery_over(path, GRID))


def refused(path):
    with pytest.raises(RefusedError) as told:
        look_into(path)
    return str(told.value)


def test_what_is_no_picture_is_refused_with_a_way_to_mend_it(tmp_path):
    text = tmp_path / "a.tif"
    text.write_text("not a picture at all, but long enough")
    assert "neither a GeoTIFF nor an MBTiles" in refused(text)
    unplaced = geotiff(tmp_path / "b.tif", (0, 0, 40, 40), None)
    assert "does not say where it lies" in refused(unplaced)
    numbers = geotiff(
        tmp_path / "c.tif",
        (0, 0, 40, 40),
        UTM,
        picture=lambda r, c: np.zeros((1, r, c), np.complex64),
    )
    assert "no colours" in refused(numbers)


def test_a_description_that_names_other_files_is_not_opened(tmp_path):
    path = tmp_path / "imagery.tif"
    path.write_text('<VRTDataset rasterXSize="9" rasterYSize="9"></VRTDataset>')
    assert "neither a GeoTIFF nor an MBTiles" in refused(path)


def test_broken_archives_are_refused(tmp_path):
    good = pmtiles(tmp_path / "a.pmtiles", GRID.bounds).read_bytes()
    vector = tmp_path / "vector.pmtiles"
    vector.write_bytes(good[:99] + b"\x01" + good[100:])  # specification 3: byte 99, type of tiles
    assert "no pictures" in refused(vector)
    old = tmp_path / "old.pmtiles"
    old.write_bytes(good[:7] + b"\x02" + good[8:])
    assert "another version" in refused(old)
    cut = tmp_path / "cut.pmtiles"
    cut.write_bytes(good[: len(good) // 2])
    with pytest.raises(RefusedError, match="outside the file"):
        imagery_over(cut, GRID)
    noise = tmp_path / "noise.pmtiles"
    noise.write_bytes(good[:127] + b"\x1f\x8b" + b"\xff" * (len(good) - 129))
    with pytest.raises(RefusedError):
        imagery_over(noise, GRID)


def test_a_directory_that_unpacks_without_end_is_refused(tmp_path, monkeypatch):
    path = pmtiles(tmp_path / "a.pmtiles", GRID.bounds)
    monkeypatch.setattr(tile_archive, "MOST_UNPACKED", 8)
    with pytest.raises(RefusedError, match="larger than any real one"):
        imagery_over(path, GRID)


def test_too_many_tiles_take_a_coarser_level_or_are_refused(tmp_path, monkeypatch):
    path = pmtiles(tmp_path / "a.pmtiles", GRID.bounds, level=17)
    monkeypatch.setattr(tile_archive, "MOST_TILES", 2)
    with pytest.raises(RefusedError, match="coarsest level has more than 2"):
        imagery_over(path, GRID)


def test_a_broken_mbtiles_is_an_error_of_the_library_or_refused(tmp_path):
    path = tmp_path / "a.mbtiles"
    path.write_bytes(b"SQLite format 3\0" + b"\0" * 4000)
    with pytest.raises((RefusedError, RasterioError, OSError, ValueError)):
        look_into(path)

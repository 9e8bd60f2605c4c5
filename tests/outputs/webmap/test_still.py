"""The still picture for a page whose scripts do not run: what is in it, where, and how large."""

from __future__ import annotations

import base64
import io
from dataclasses import replace

import numpy as np
import pytest
from lxml import html as lxml_html
from PIL import Image
from pyproj import Transformer
from scipy import ndimage

from reachmap.base.grid import Grid
from reachmap.base.words import WadeGrade, Wet
from reachmap.outputs.palette import BY_KIND, ramps
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.runs import picked, runs_by_flow
from reachmap.outputs.webmap.still import MOST_BYTES, still_maker
from reachmap.text import cautions

BRICK, FILL = BY_KIND["unknown_water"].day.ink, BY_KIND["unknown_water"].day.fill
STRIPE, RED = BY_KIND["no"].day.ink, BY_KIND["hazard"].day.ink


def drawn(product, index):
    return still_maker(product, PageGrid.over(Grid.of(product.ground)))(index)


def pixels(still):
    return np.asarray(Image.open(io.BytesIO(still.data)).convert("RGB"))


def hexes(part):
    """Return the colours in a part of a picture and the share each takes."""
    found, count = np.unique(part.reshape(-1, 3), axis=0, return_counts=True)
    return {
        "#{:02x}{:02x}{:02x}".format(*colour): n / count.sum()
        for colour, n in zip(found, count, strict=True)
    }


def place(product, still, x, y):
    """Return column and row of a place of the project's CRS [m], through PROJ."""
    to_page = Transformer.from_crs(product.markup.crs, "EPSG:3857", always_xy=True)
    from_globe = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (left, bottom), (right, top) = (
        from_globe.transform(lon, lat)
        for lon, lat in ((still.west, still.south), (still.east, still.north))
    )
    east, north = to_page.transform(x, y)
    return (
        (east - left) / (right - left) * still.width,
        (top - north) / (top - bottom) * still.height,
    )


def around(product, still, mask, reach=8):
    """Return the picture about the innermost cell of a mask."""
    depth = ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(np.argmax(depth), mask.shape)
    x, y = float(product.flows["x"][column]), float(product.flows["y"][row])
    c, r = (round(v) for v in place(product, still, x, y))
    return pixels(still)[r - reach : r + reach, c - reach : c + reach]


def test_depth_is_tinted_where_the_water_is_and_nowhere_else(product):
    still, index = drawn(product, 1), 1
    picture = pixels(still)
    depth = product.flows["depth"].to_numpy()[index]
    wet = product.flows["wet"].to_numpy()[index] == Wet.YES
    ramp = ramps(product.markup.plan.units)[0]
    seen, right = 0, 0
    for row, column in np.argwhere(ndimage.binary_erosion(wet, iterations=2))[::37]:
        x, y = float(product.flows["x"][column]), float(product.flows["y"][row])
        c, r = (int(v) for v in place(product, still, x, y))
        step = int(np.searchsorted(ramp.bounds, depth[row, column], side="right")) - 1
        colours = hexes(picture[r - 3 : r + 4, c - 3 : c + 4])
        right += ramp.day[step] in colours
        seen += 1
    assert seen > 100
    assert right / seen > 0.98  # a hazard's sign covers some
    dry = ~ndimage.binary_dilation(product.flows["wet"].to_numpy()[index] != Wet.NO, iterations=9)
    assert not set(hexes(around(product, still, dry))) & set(ramp.day)


def test_what_is_not_known_is_bricked_and_carries_no_tint(product):
    unknown = product.flows["wet"].to_numpy()[1] == Wet.UNKNOWN
    colours = hexes(around(product, drawn(product, 1), unknown))
    assert set(colours) == {BRICK, FILL}
    assert colours[BRICK] > 0.2


def test_wet_ground_without_a_depth_counts_as_not_known(product):
    flows = product.flows.copy(deep=True)
    wet = flows["wet"].to_numpy()[1] == Wet.YES
    patch = ndimage.distance_transform_edt(wet) > 8
    flows["depth"].to_numpy()[1][patch] = np.nan
    colours = hexes(around(product, drawn(replace(product, flows=flows), 1), patch, reach=5))
    assert set(colours) == {BRICK, FILL}


@pytest.mark.parametrize("how", ["beyond", "no zone", "no zone at all"])
def test_water_that_is_beyond_the_limits_or_was_not_graded_is_striped(product, how):
    wading = product.layers["wading"]
    beyond = wading["grade"] == WadeGrade.NO
    kept = {"beyond": wading, "no zone": wading[~beyond], "no zone at all": wading.iloc[:0]}[how]
    made = replace(product, layers={**product.layers, "wading": kept})
    deep = np.nan_to_num(product.flows["depth"].to_numpy()[1]) > 1.2
    colours = hexes(around(product, drawn(made, 1), deep))
    assert colours[STRIPE] > 0.12
    shallow = np.nan_to_num(product.flows["depth"].to_numpy()[1])
    shallow = (shallow > 0.15) & (shallow < 0.5)
    striped = STRIPE in hexes(around(product, drawn(made, 1), shallow, reach=5))
    assert striped is (how == "no zone at all")


def test_ground_graded_unknown_is_bricked_even_where_a_depth_is_mapped(product):
    wading = product.layers["wading"].copy()
    wading["grade"] = WadeGrade.UNKNOWN.value
    deep = np.nan_to_num(product.flows["depth"].to_numpy()[1]) > 1.2
    made = replace(product, layers={**product.layers, "wading": wading})
    assert set(hexes(around(product, drawn(made, 1), deep))) == {BRICK, FILL}


def test_every_hazard_is_drawn_at_least_three_px_wide(product):
    still = drawn(product, 1)
    red = (pixels(still) == [int(RED[i : i + 2], 16) for i in (1, 3, 5)]).all(axis=2)
    for hazard in product.markup.hazards:
        line = hazard.shape.boundary if hazard.shape.area > 0 else hazard.shape
        if line.geom_type == "Point":
            c, r = place(product, still, line.x, line.y)
            assert red[round(r) - 10 : round(r) + 10, round(c) - 10 : round(c) + 10].sum() > 100
            continue
        for share in np.linspace(0.02, 0.98, 9):
            at = line.interpolate(share, normalized=True)
            c, r = (round(v) for v in place(product, still, at.x, at.y))
            part = red[r - 5 : r + 6, c - 5 : c + 6]
            # a disc of 3 px across fits into what is red here
            assert ndimage.binary_opening(part, np.ones((3, 3))).any(), (hazard.kind, share)


def test_the_picture_keeps_its_budget_and_all_flows_share_one_grid(product):
    draw = still_maker(product, PageGrid.over(Grid.of(product.ground)))
    stills = [draw(index) for index in range(len(product.labels))]
    assert len({(s.south, s.west, s.north, s.east, s.width, s.height) for s in stills}) == 1
    assert all(len(base64.b64encode(s.data)) < 300_000 for s in stills)
    assert len({s.data for s in stills}) == len(stills)


def test_a_picture_that_packs_badly_is_made_smaller(product):
    noisy = product.flows.copy(deep=True)
    depth = noisy["depth"].to_numpy()
    rng = np.random.default_rng(4)
    depth[:] = np.where(np.isfinite(depth), rng.uniform(0.1, 2.2, depth.shape), np.nan)
    limit = 20_000
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("reachmap.outputs.webmap.still.MOST_BYTES", limit)
        small = drawn(replace(product, flows=noisy), 1)
    assert len(small.data) <= limit
    assert small.width < drawn(product, 1).width
    assert MOST_BYTES * 4 / 3 < 300_000


def test_the_still_and_its_banner_stand_in_the_page_itself(product, maps):
    for path in sorted(maps.iterdir()):
        page = lxml_html.fromstring(path.read_text(encoding="utf-8"))
        (section,) = page.xpath("//section[@class='still']")
        (image,) = section.xpath(".//img")
        data = base64.b64decode(image.get("src").removeprefix("data:image/png;base64,"))
        label = "2400cfs" if path.stem == "index" else path.stem
        assert data == drawn(product, product.labels.index(label)).data
        words = " ".join(section.text_content().split())
        flow = f"{int(label.removesuffix('cfs')):,} cfs"
        assert f"This is a still picture of {flow}." in words
        for line in (cautions.STILL_SWITCHES, cautions.STILL_UNKNOWN, cautions.SHORT):
            assert line in words
        assert section.xpath(".//noscript")
        items = section.xpath(".//ol[@class='still-today']/li")
        listed = picked(runs_by_flow(product), product.labels.index(label))
        assert [item.xpath("string(.//strong)") for item in items] == [name for name, _ in listed]
        assert [int(item.get("value")) for item in items] == [one.pick for _, one in listed]
        assert all(
            one.texts.mind in item.text_content()
            for item, (_, one) in zip(items, listed, strict=True)
        )
        edges = [float(section.get(f"data-{name}")) for name in ("south", "west", "north", "east")]
        still = drawn(product, 0)
        assert edges == pytest.approx([still.south, still.west, still.north, still.east], abs=1e-6)
        # shown unless a script says that it runs: nothing in the page as written hides it
        assert "hidden" not in section.attrib
        (live,) = page.xpath("//*[@id='live']")
        assert "hidden" not in live.attrib, "archives leave out what is hidden, its rules with it"

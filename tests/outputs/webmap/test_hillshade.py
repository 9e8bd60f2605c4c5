import io

import numpy as np
import pytest
from PIL import Image

from reachmap.base.shading import LIGHT_FROM_DEG, LIGHT_UP_DEG, STEEPER, shade
from reachmap.outputs.webmap.hillshade import relief


def plane(rise_east, rise_north):
    row, column = np.mgrid[0:20, 0:30].astype(float)
    return rise_east * column - rise_north * row


def test_level_ground_is_as_bright_as_the_lamp_is_high():
    level = shade(plane(0, 0), 1.0)
    assert level == pytest.approx(np.sin(np.radians(LIGHT_UP_DEG)))


@pytest.mark.parametrize(("east", "north"), [(0.1, 0.0), (0.0, -0.2), (-0.15, 0.3)])
def test_a_slope_is_lit_by_the_cosine_law(east, north):
    # Lambert: the cosine of the angle between the lamp and the normal of the (raised) plane.
    bearing, up = np.radians(LIGHT_FROM_DEG), np.radians(LIGHT_UP_DEG)
    lamp = [np.sin(bearing) * np.cos(up), np.cos(bearing) * np.cos(up), np.sin(up)]
    normal = np.array([-east * STEEPER, -north * STEEPER, 1.0])
    expected = max(0.0, float(normal / np.linalg.norm(normal) @ lamp))
    assert shade(plane(east * 2, north * 2), 2.0)[5:-5, 5:-5] == pytest.approx(expected)


def test_ground_nobody_knows_is_left_clear(product):
    ground = product.ground.copy(deep=True)
    ground["bed"].to_numpy()[40:60, 40:60] = np.nan
    picture = Image.open(io.BytesIO(relief(ground).data))
    assert picture.mode == "RGBA"
    cover = np.asarray(picture)[..., 3]
    assert cover.max() == 255
    assert (cover == 0).any()


def test_a_coarser_picture_covers_the_same_ground(product):
    fine, coarse = relief(product.ground), relief(product.ground, coarser=2)
    assert coarse.width < 0.6 * fine.width
    assert coarse.north == pytest.approx(fine.north, abs=1e-4)
    assert coarse.west == pytest.approx(fine.west, abs=1e-4)

"""The matplotlib drawing of one flow: what is not known is hatched and never depth 0."""

from __future__ import annotations

from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib import pyplot as plt
from matplotlib.patches import PathPatch

from reachmap.base.words import Wet
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.plot import HATCH, known_depth, plot_map, unknown_cells
from reachmap.pipeline.any_flow import only_flow
from tests.outputs.made_product import made_product

HOSTILE = "A $x^2$ <b>"


@pytest.fixture(scope="module")
def product():
    return only_flow(made_product(cell=4.0, preview=True, text=HOSTILE), 1)


@pytest.fixture
def axes(product):
    with mpl.rc_context({"backend": "agg"}):
        drawn = plot_map(product)
        drawn.figure.canvas.draw()
        yield drawn
        plt.close(drawn.figure)


def test_only_wet_cells_of_known_depth_have_a_colour(product):
    depth = known_depth(product)
    one = product.flows.isel(flow=0)
    wet = one["wet"].to_numpy() == Wet.YES
    assert (one["wet"].to_numpy() == Wet.UNKNOWN).any()
    np.testing.assert_array_equal(~depth.mask, wet & np.isfinite(one["depth"].to_numpy()))
    blind = product.flows.copy(deep=True)
    blind["depth"].values[0][one["wet"].to_numpy() == Wet.UNKNOWN] = 0.0
    np.testing.assert_array_equal(known_depth(replace(product, flows=blind)).mask, depth.mask)
    blind["depth"].values[0][wet] = np.nan  # wet, and nobody knows how deep
    assert known_depth(replace(product, flows=blind)).mask.all()
    assert unknown_cells(replace(product, flows=blind))[wet].all()


def test_what_is_not_known_is_hatched(product, axes):
    assert unknown_cells(product).any()
    filled = [one for one in axes.collections if one.__class__.__name__ == "QuadContourSet"]
    assert [one.hatches for one in filled] == [[HATCH]]
    words = [text.get_text() for text in axes.get_legend().get_texts()]
    assert BY_KIND["no"].words in words
    hatches = {one.get_hatch() for one in axes.patches if isinstance(one, PathPatch)}
    assert "..." in hatches


def test_the_cautions_stand_in_the_foot(axes):
    foot = " ".join(text.get_text() for text in axes.figure.texts)
    assert "People drown wading" in foot
    assert "not known may be deeper" in foot
    assert "worked out in the quick way" in foot


def test_a_name_is_drawn_as_it_was_written(axes):
    assert axes.get_title().startswith(r"A \$x^2\$ <b>")
    assert "cfs" in axes.get_title()


def test_edges_and_water_are_drawn_on_axes_that_were_given(product):
    with mpl.rc_context({"backend": "agg"}):
        figure, given = plt.subplots()
        assert plot_map(product, ax=given) is given
        lines = len(product.layers["edge_left"]) + len(product.layers["edge_right"])
        assert len(given.lines) >= lines > 0
        kinds = set(product.layers["water"]["kind"])
        words = {text.get_text() for text in given.get_legend().get_texts()}
        assert {BY_KIND[kind].words for kind in kinds} <= words
        plt.close(figure)

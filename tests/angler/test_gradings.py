"""Each flow is graded once while its neighbours are read."""

from __future__ import annotations

import xarray as xr

from reachmap.angler.gradings import MOST, Gradings


def test_a_flow_is_graded_once_while_it_is_held_and_the_oldest_goes():
    held, asked = Gradings(), []

    def at(flow):
        one = xr.Dataset(coords={"flow": [flow]})
        return held.at(one, lambda: asked.append(flow) or f"graded {flow:g}")

    assert at(10.0) == "graded 10"
    assert [at(11.0), at(10.0), at(12.0)] == ["graded 11", "graded 10", "graded 12"]
    assert asked == [10.0, 11.0, 12.0]
    assert len(held.held) == MOST
    at(13.0)  # 11 was asked for longest ago
    assert list(held.held) == [10.0, 12.0, 13.0]
    assert at(11.0) == "graded 11"
    assert asked == [10.0, 11.0, 12.0, 13.0, 11.0]

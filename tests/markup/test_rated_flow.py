"""A gauge height typed for a flow: by the folder's own rating, and no further than that."""

from __future__ import annotations

import pytest

from reachmap.base.errors import MarkupError
from reachmap.base.units import to_si
from reachmap.markup.gauge_of_folder import rated_flow

TOML = "format = 1\nname = 'Made'\nunits = 'us'\n[gauge]\nfiles = ['gauge/*.csv']\n"
RATING = "stage_ft,flow_cfs,offset_ft\n4.0,200,2.0\n5.0,800,2.0\n6.0,1800,2.0\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "gauge").mkdir()
    (tmp_path / "reach.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "gauge" / "rating.csv").write_text(RATING, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("stage_ft", "flow_cfs"), [(4.0, 200.0), (5.0, 800.0), (6.0, 1800.0), (4.5, 428.9)]
)
def test_a_height_gives_the_flow_of_the_rating(folder, stage_ft, flow_cfs):
    """At its points, and between two by pencil: 200 (2.5 / 2)^b with b = ln 4 / ln 1.5 = 3.419."""
    got = rated_flow(folder, to_si(stage_ft, "ft"), where="--flow")
    assert got == pytest.approx(to_si(flow_cfs, "cfs"), rel=1e-3)


@pytest.mark.parametrize("stage_ft", [3.9, 6.1, -1.0])
def test_beyond_the_rating_nothing_is_told(folder, stage_ft):
    with pytest.raises(MarkupError, match="outside the rating, which knows flows from 200 cfs to"):
        rated_flow(folder, to_si(stage_ft, "ft"), where="--flow")


def test_without_a_rating_a_height_is_no_flow(folder):
    (folder / "gauge" / "rating.csv").unlink()
    with pytest.raises(MarkupError, match="there is no rating"):
        rated_flow(folder, 1.5, where="--flow")

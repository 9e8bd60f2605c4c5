"""Heights that rise along the river: asked about, and mapped once the angler has said so."""

import pytest

from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from tests.markup.folders import TOML, make, rows, with_line, write_dem

BELOW = with_line(TOML, "flow = 25", "flow = 25\nbelow_water = true")


def rising(folder, toml):
    """Return a folder whose terrain rises 1.2 m downstream; no levels but those it is given."""
    made = rows()
    made["levels"] = []
    make(folder, toml=toml, made=made)
    write_dem(folder / "dem.tif", slope=-0.002)
    return folder


def test_it_is_taken_for_drawn_upstream_and_both_ways_out_are_said(tmp_path):
    with pytest.raises(MarkupError) as caught:
        read_markup(rising(tmp_path / "r", TOML))
    (fault,) = [one for one in caught.value.faults if "drawn upstream" in one.found]
    assert fault.fix.startswith("Reverse the line")
    assert 'accept = ["dem"]' in fault.fix
    assert "below_water = true" in fault.fix


@pytest.mark.parametrize(
    "toml",
    [
        pytest.param(BELOW, id="the bed, with a slope said"),
        pytest.param(TOML + '\n[evidence]\naccept = ["dem"]\n', id="the DEM accepted"),
    ],
)
def test_the_anglers_word_rules(tmp_path, toml):
    assert read_markup(rising(tmp_path / "r", toml)).plan.slope == pytest.approx(0.002)


def test_a_bed_without_a_slope_is_still_asked_about(tmp_path):
    toml = with_line(BELOW, "slope = 0.002", "")
    with pytest.raises(MarkupError, match="drawn upstream"):
        read_markup(rising(tmp_path / "r", toml))

"""The preview on the three invented rivers: what must hold on any of them."""

import numpy as np
import pytest

from reachmap.base.physics import GRAVITY
from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve
from tests.made import made_ground
from tests.reaches import BRAIDED_FLOWS, STEEP_FLOWS, braided_ground, steep_ground
from tests.truth import true_ground

SAMPLE_FLOWS = (17.0, 51.0, 153.0)
RIVERS = {
    "sample": (true_ground, SAMPLE_FLOWS),
    "braided": (braided_ground, BRAIDED_FLOWS),
    "steep": (steep_ground, STEEP_FLOWS),
}


@pytest.fixture(scope="module", params=RIVERS)
def river(request):
    make, flows = RIVERS[request.param]
    ground = make(2)
    return ground, solve(ground, flows, FlowSettings())


@pytest.mark.slow
def test_water_is_kept_at_every_gate(river):
    _, result = river
    assert float(result["imbalance"].max()) < 0.005
    np.testing.assert_allclose(result["outflow"], result["inflow"], rtol=0.005)


@pytest.mark.slow
def test_more_flow_is_never_shallower_nor_narrower(river):
    _, result = river
    wet = (result["wet"] == Wet.YES).to_numpy()
    assert (wet[1:] | ~wet[:-1]).all()
    deeper = result["depth"].diff("flow").to_numpy()
    # Where a ledge holds its water to the speed of waves, the split may move a few centimetres.
    assert np.nanmin(deeper) > -0.05
    assert np.nanquantile(deeper, 0.001) > -1e-6


@pytest.mark.slow
def test_no_water_outruns_its_own_waves(river):
    _, result = river
    speed = np.hypot(result["east_speed"], result["north_speed"])
    assert float((speed - np.sqrt(GRAVITY * result["depth"])).max()) < 1e-6


@pytest.mark.slow
def test_depth_is_level_over_bed_and_unknown_ground_stays_unknown(river):
    ground, result = river
    for index in range(result.sizes["flow"]):
        one = result.isel(flow=index)
        yes = (one["wet"] == Wet.YES).to_numpy()
        over = (one["level"] - ground["bed"]).to_numpy()
        assert over[yes] == pytest.approx(one["depth"].to_numpy()[yes], abs=1e-9)
        assert (one["wet"].to_numpy()[np.isnan(ground["bed"].to_numpy())] == Wet.UNKNOWN).all()


@pytest.mark.slow
def test_the_preview_lies_near_the_two_dimensional_answer():
    ground = made_ground(length=500, wavelength=250, turn_deg=30, half_width=15, riffle=0.2)
    flows = [4.0, 15.0]
    quick = solve(ground, flows, FlowSettings())
    full = solve(ground, flows, FlowSettings(method="engine"))
    apart = (quick["level"] - full["level"]).mean(("x", "y"))
    assert float(abs(apart).max()) < 0.05
    both = ((quick["wet"] == Wet.YES) & (full["wet"] == Wet.YES)).sum(("x", "y"))
    either = ((quick["wet"] == Wet.YES) | (full["wet"] == Wet.YES)).sum(("x", "y"))
    assert float((both / either).min()) > 0.95

"""A mirrored or turned reach gives the mirrored or turned answer."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.notes import NoteKind
from tests.flow.noted import kinds
from tests.made import made_ground

pytestmark = pytest.mark.compiled
TIGHT = EngineSettings(
    section_error=1e-6, depth_change_m=1e-7, speed_change_m_s=1e-6, cycles_most=200
)
FOOT = 98.6


def base():
    return made_ground(
        length=240, wavelength=160, turn_deg=35, half_width=12, deep=1.2, cell=2.0, margin=14
    )


def turned(ground, quarter_turns):
    """Return the ground turned by quarter turns to the left about its first corner."""
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    line_x, line_y = ground["line_x"].to_numpy(), ground["line_y"].to_numpy()
    arrays = {
        name: ground[name].to_numpy()
        for name in ("bed", "cover", "roughness", "top", "station", "offset", "confidence")
    }
    x0, y0 = x[0], y[-1]
    x, y, line_x, line_y = x - x0, y - y0, line_x - x0, line_y - y0
    for _ in range(quarter_turns):
        arrays = {name: np.rot90(array) for name, array in arrays.items()}
        x, y = -y, x[::-1]
        line_x, line_y = -line_y, line_x
    data = {name: (("y", "x"), array) for name, array in arrays.items()}
    for name, values in (("line_x", line_x + x0), ("line_y", line_y + y0)):
        data[name] = (("vertex",), values)
    for name in ("line_station", "line_width"):
        data[name] = (("vertex",), ground[name].to_numpy())
    return xr.Dataset(data, coords={"x": x + x0, "y": y + y0}, attrs=ground.attrs)


def solve(ground):
    answer = solve_engine(ground, [14.0], [FOOT], TIGHT, workers=1)
    assert NoteKind.NOT_AT_REST not in kinds(answer)
    return answer.isel(flow=0)


def test_turned_by_a_quarter_the_answer_turns_with_it():
    ground = base()
    plain, other = solve(ground), solve(turned(ground, 1))
    back = {name: np.rot90(other[name].to_numpy(), -1) for name in ("depth", "east_speed", "wet")}
    assert (back["wet"] == plain["wet"].to_numpy()).all()
    assert np.nanmax(np.abs(back["depth"] - plain["depth"].to_numpy())) < 1e-4
    # what ran east runs north now
    north = np.rot90(other["north_speed"].to_numpy(), -1)
    assert np.nanmax(np.abs(north - plain["east_speed"].to_numpy())) < 1e-3


def test_mirrored_the_answer_is_mirrored():
    ground = base()
    flipped = ground.copy()
    for name in ("bed", "cover", "roughness", "top", "station", "offset", "confidence"):
        flipped[name] = (("y", "x"), ground[name].to_numpy()[::-1].copy())
    flipped["offset"] = -flipped["offset"]
    middle = ground["y"].to_numpy()
    flipped["line_y"] = middle[0] + middle[-1] - ground["line_y"]
    plain, other = solve(ground), solve(flipped)
    assert (other["wet"].to_numpy()[::-1] == plain["wet"].to_numpy()).all()
    depth, speed = (other[name].to_numpy()[::-1] for name in ("depth", "north_speed"))
    assert np.nanmax(np.abs(depth - plain["depth"].to_numpy())) < 1e-4
    assert np.nanmax(np.abs(-speed - plain["north_speed"].to_numpy())) < 1e-3


def test_every_section_carries_the_flow_to_a_millionth():
    answer = solve(base())
    assert float(answer["imbalance"]) < 1e-6
    assert float(answer["outflow"]) == pytest.approx(14.0, rel=1e-6)

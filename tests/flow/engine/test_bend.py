"""Flow round a bend, against theory. No flume was matched: no table of measured speeds in a bend
could be read where we looked, so the judges are the closed forms of developed flow.
"""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.engine.bend import WARN_ABOVE, bend_number, helix_factor, line_curvature
from reachmap.flow.notes import NoteKind
from tests.flow.engine.made_bends import Bend
from tests.flow.noted import kinds
from tests.made import made_ground


def test_curvature_of_the_line_is_the_sine_generated_curves():
    # Langbein and Leopold (1966): direction omega sin(2 pi s/M), curvature its derivative
    ground = made_ground(length=600, wavelength=300, turn_deg=40)
    station, curve = line_curvature(ground, 4.0)
    exact = np.radians(40) * 2 * np.pi / 300 * np.cos(2 * np.pi * station / 300)
    inner = (station > 20) & (station < 580)
    assert curve[inner] == pytest.approx(exact[inner], abs=2e-4)
    mirrored = line_curvature(
        made_ground(length=600, wavelength=300, turn_deg=40, mirror=True), 4.0
    )
    assert mirrored[1][inner] == pytest.approx(-curve[inner], abs=1e-9)


def test_the_bend_number_grows_with_depth_and_falls_with_width_and_radius():
    def number(depth=1.5, radius=120.0, width=40.0):
        values = (np.array([v]) for v in (depth, 0.035**2, 1 / radius, width))
        return float(bend_number(*values)[0])

    assert number(depth=3.0) > number() > number(radius=240.0)
    assert number(width=80.0) == pytest.approx(number() / 2)
    k = float(helix_factor(np.array(1.5), np.array(0.035**2)))
    assert 0 < k < 2.5


@pytest.mark.compiled
def test_a_deep_tight_bend_is_told_of_and_a_wide_gentle_one_is_not():
    tight = made_ground(length=240, wavelength=160, turn_deg=60, half_width=12, deep=2.5)
    gentle = made_ground(length=240, wavelength=2400, turn_deg=10, half_width=12, deep=1.0)
    settings = EngineSettings(grids=1)
    told = [
        NoteKind.STRONG_BEND in kinds(solve_engine(ground, [flow], [level], settings, workers=1))
        for ground, flow, level in ((tight, 40.0, 99.4), (gentle, 6.0, 99.3))
    ]
    assert told == [True, False]
    assert WARN_ABOVE == 0.1


@pytest.mark.compiled
@pytest.mark.parametrize(("cell", "off"), [(2.0, 0.025), (1.0, 0.015)])
def test_developed_flow_round_a_bend_has_its_speeds_and_its_tilt(cell, off):
    bend = Bend(100, 40, 250, depth=1.0, rough=0.05, slope=0.002, cell=cell)
    bend.cycle(60)
    assert bend.solver.balance()[0] < 1e-3
    radii, depths, speeds = bend.developed()
    across = np.arange(84.0, 117.0, 4.0)
    speed = bend.across(bend.solver.speed, across, 120, 180)
    depth = bend.across(bend.solver.water[:, 0], across, 120, 180)
    assert speed == pytest.approx(np.interp(across, radii, speeds), rel=off)
    tilt = depth - depth.mean()
    exact = np.interp(across, radii, depths)
    assert tilt == pytest.approx(exact - exact.mean(), abs=0.001)
    assert depth.mean() == pytest.approx(exact.mean(), abs=0.012)


@pytest.mark.compiled
def test_with_the_closure_the_fast_thread_moves_outwards_as_its_equation_says():
    bend = Bend(60, 30, 300, depth=2.0, rough=0.03, slope=0.001, cell=2.0, closure=True)
    bend.cycle(120)
    assert bend.solver.balance()[0] < 1e-3
    every = np.arange(40.0, 81.0)
    depths = np.nan_to_num(bend.across(bend.solver.water[:, 0], every, 170, 230))
    radii, speeds = bend.developed_with_helix(every, depths)
    across = np.arange(50.0, 71.0, 5.0)
    found = bend.across(bend.solver.speed, across, 170, 230)
    # first order in the closure's derivative: some per cent at 2 m cells
    assert found == pytest.approx(np.interp(across, radii, speeds), rel=0.04)
    plain = Bend(60, 30, 300, depth=2.0, rough=0.03, slope=0.001, cell=2.0)
    plain.cycle(120)
    inside = plain.across(plain.solver.speed, np.array([48.0]), 170, 230)
    assert bend.across(bend.solver.speed, np.array([48.0]), 170, 230) < 0.85 * inside

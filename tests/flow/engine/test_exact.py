"""The exact solutions the engine is held against solve the equations they claim to."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flow.engine import exact
from tests.flow.engine.exact import G


@pytest.mark.parametrize(
    ("depth", "q"), [(exact.bump_subcritical, 4.42), (exact.bump_transcritical, 1.53)]
)
def test_flow_over_the_bump_keeps_its_energy(depth, q):
    x = np.linspace(0.1, 24.9, 400)
    head = exact.bump_bed(x) + depth(x) + q**2 / (2 * G * depth(x) ** 2)
    assert np.ptp(head) < 1e-6


def test_the_jump_keeps_momentum_and_loses_energy():
    x = np.linspace(0.1, 24.9, 4000)
    depth, jump = exact.bump_with_jump(x)
    assert jump == pytest.approx(11.67, abs=0.05)  # as drawn in the collection (from memory)
    before, behind = depth[x < jump][-1], depth[x > jump][0]
    push = [0.18**2 / h + G * h**2 / 2 for h in (before, behind)]
    assert push[0] == pytest.approx(push[1], rel=5e-3)
    assert before + 0.18**2 / (2 * G * before**2) > behind + 0.18**2 / (2 * G * behind**2)


def test_macdonalds_channel_balances_momentum():
    x = np.linspace(1, 999, 20001)
    depth, bed, _ = exact.macdonald(x)
    energy = np.gradient(bed + depth + 2.0**2 / (2 * G * depth**2), x)
    friction = 2.0**2 * 0.033**2 / depth ** (10 / 3)
    assert np.abs(energy + friction)[5:-5].max() < 1e-6


def test_thackers_plane_keeps_its_volume_and_moves_as_a_body():
    x = np.linspace(0, 4, 201)
    gx, gy = np.meshgrid(x, x)
    volumes = [exact.thacker(gx, gy, t)[1].sum() for t in (0.0, 0.3, 1.1)]
    assert np.ptp(volumes) / volumes[0] < 2e-3
    # d(u)/dt = -g d(level)/dx in the wet part
    t, step = 0.4, 1e-5
    bed, depth, _, _, _ = exact.thacker(gx, gy, t)
    force = -G * np.gradient(bed + depth, x, axis=1)
    speedup = (exact.thacker(gx, gy, t + step)[2] - exact.thacker(gx, gy, t - step)[2]) / (2 * step)
    inner = depth > 0.03
    assert np.abs(speedup - force)[inner].max() < 1e-4

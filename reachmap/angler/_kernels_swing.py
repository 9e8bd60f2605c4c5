"""A fly line swung by the current: masses on tension-only links; plain arrays in and out."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from reachmap.angler._kernels_line import (
    QUICK,
    STIFF,
    across_line,
    free_node,
    moved,
    tensions,
    water_along,
    water_at,
)
from reachmap.base.arrays import FloatArray, IntArray

HANGS, STALLS, AGROUND, UNKNOWN, TIMEOUT = 1, 2, 3, 4, 5
PULL_BACK, FASTEST, TIGHTEST = 2.0, 6.0, 20.0  # m/s, m/s, N: brakes on a bad start
AT_REST = 2.5  # of the hang's angle: a fly that stands still nearer than this hangs. Ours, 2-3
SLACK = 0.05  # m/s: in slower water no line hangs straight
THIN, STUCK_S, SETTLE_S = 0.1, 1.5, 3.0  # m of water a fly grounds in; s a stall lasts; s to settle


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def mend_line(
    x: FloatArray, link: FloatArray, afloat: int, bow: float, up_x: float, up_y: float
) -> None:
    """Lay the floating part into a bow of sagitta `bow` [m] towards (up_x, up_y), `x` in place.

    A half sine over the line from the rod tip to node `afloat`, added to where the nodes are. No
    link becomes longer than it is: a taut line shortens its span, and what hangs below follows as
    it is, so that a mend draws the tip a little towards the rod, as it does on the water.
    """
    whole, along = 0.0, 0.0
    for j in range(afloat):
        whole += link[j]
    old_x, old_y, was_x, was_y = x[0, 0], x[0, 1], x[0, 0], x[0, 1]
    for i in range(1, x.shape[0]):
        here_x, here_y = x[i, 0], x[i, 1]
        if i <= afloat:
            along += link[i - 1]
            shift = bow * math.sin(math.pi * along / whole)
            to_x, to_y = here_x + shift * up_x, here_y + shift * up_y
            dx, dy, dz = to_x - old_x, to_y - old_y, x[i, 2] - x[i - 1, 2]
            level = math.sqrt(max(link[i - 1] ** 2 - dz * dz, 0.0))
            size = math.sqrt(dx * dx + dy * dy) + 1e-12
            share = min(1.0, level / size)
            x[i, 0], x[i, 1] = x[i - 1, 0] + share * dx, x[i - 1, 1] + share * dy
            old_x, old_y = to_x, to_y
        else:
            x[i, 0], x[i, 1] = x[i - 1, 0] + here_x - was_x, x[i - 1, 1] + here_y - was_y
        was_x, was_y = here_x, here_y


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def swing_line(
    x: FloatArray,
    link: FloatArray,
    wide: FloatArray,
    mass: FloatArray,
    heavy: FloatArray,
    floats: FloatArray,
    east: FloatArray,
    north: FloatArray,
    depth: FloatArray,
    x0: float,
    y0: float,
    cell: float,
    rod: FloatArray,
    bows: FloatArray,
    fly_area: float,
    power: float,
    skin: float,
    viscosity: float,
    dt: float,
    longest: float,
    hang: float,
    stall: float,
    follow: int,
    afloat: int,
    record: float,
    track: FloatArray,
) -> tuple[int, int]:
    """Swing one line from `x`, changed in place; return how many records and how it ended.

    `link, wide` are lengths and diameters of the links; `mass, heavy` of the nodes: mass [kg] and
    weight under water [N]; `floats` 1 where a node floats. `rod` is (x, y of the angler, height of
    the tip, reach, lag [s], direction up the current east and north, line fed [m] and over how many
    seconds); with reach 0 the tip stays where it is and nothing ends the swing but `longest` [s].
    `bows` are mends: seconds after landing and sagitta [m], up the current; 0 is none. `link[0]`
    grows by what is fed. `hang` [rad] and `stall` [m/s] end it; `follow` is the node the rod points
    at. Every `record` s a row of `track` takes t, x, y, z and speed of the fly, the water's depth,
    the pull at the rod [N], the largest stretch, and the angles to the current [rad] of the line to
    the fly and of the line to node `afloat`, the last that floats.
    """
    n = x.shape[0]
    m, last = n - 1, n - 1
    v, free, give = np.zeros((n, 3)), np.zeros((n, 3)), np.zeros((n, 6))
    way = np.zeros((m, 3))
    main, off, right, tight = np.zeros(m), np.zeros(m), np.zeros(m), np.ones(m)
    tension, kept, row, side = np.zeros(m), np.zeros(m), np.zeros(m), np.zeros(m)
    water, along, past = np.zeros((n, 3)), np.zeros((n, 3)), np.zeros((n, 3))
    across, drag = np.zeros(n), np.zeros(n)
    wet_length, thick = np.zeros(n), np.zeros(n)
    for j in range(m):
        for i in (j, j + 1):
            # Each node owns half of the links beside it; its diameter is their mean by length.
            wet_length[i] += 0.5 * link[j]
            thick[i] += 0.5 * link[j] * wide[j]
    for i in range(n):
        thick[i] /= wet_length[i]
    held = rod[3] <= 0.0
    azimuth = math.atan2(x[0, 1] - rod[1], x[0, 0] - rod[0])
    every, stuck, count = max(1, round(record / dt)), 0.0, 0
    for step in range(int(longest / dt)):
        for k in range(bows.shape[0]):
            if bows[k, 1] != 0.0 and step == int(bows[k, 0] / dt + 0.5):
                mend_line(x, link, afloat, bows[k, 1], rod[5], rod[6])
        if rod[7] > 0.0 and step * dt < rod[8]:
            link[0] += rod[7] * dt / rod[8]
        if not held:
            wanted = math.atan2(x[follow, 1] - rod[1], x[follow, 0] - rod[0]) - azimuth
            # Into -pi to pi: the tip never goes the long way round. Then a lag of first order,
            # implicit: dt / (lag + dt) of what is wanted a step.
            wanted -= 2.0 * math.pi * math.floor(wanted / (2.0 * math.pi) + 0.5)
            azimuth += wanted * dt / (rod[4] + dt)
            # The tip moves as told: this speed takes it
            # there within the step, and `give[0]` stays 0.
            v[0, 0] = (rod[0] + rod[3] * math.cos(azimuth) - x[0, 0]) / dt
            v[0, 1] = (rod[1] + rod[3] * math.sin(azimuth) - x[0, 1]) / dt
            v[0, 2] = (rod[2] - x[0, 2]) / dt
        if not water_along(x, east, north, depth, x0, y0, cell, power, water):
            return count, UNKNOWN
        across_line(x, v, water, thick, viscosity, along, past, across, drag)
        for i in range(1, n):
            pull = kept[i - 1] / link[i - 1] + (kept[i] / link[i] if i < m else 0.0)
            free_node(
                i, x, v, wet_length[i], thick[i], mass[i], heavy[i], floats[i] > 0.5, pull,
                water[i, 2], along, past, across[i], drag[i], fly_area, skin, dt, give, free,
            )  # fmt: skip
        for k in range(3):
            free[0, k] = v[0, k]
        for j in range(m):
            dx, dy, dz = x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2]
            size = math.sqrt(dx * dx + dy * dy + dz * dz + 1e-12)
            way[j, 0], way[j, 1], way[j, 2] = dx / size, dy / size, dz / size
            # What a slack link may still grow counts against it. One that is too long is drawn
            # back, but not quicker than PULL_BACK, or a bad start would throw the line.
            right[j] = -max((link[j] - size) / dt, -PULL_BACK)
            for k in range(3):
                right[j] += way[j, k] * (free[j + 1, k] - free[j, k])
        for j in range(m):
            # Row j: how fast unit tension in link j, and in the next one, closes link j. The last
            # term is the give of the line itself over a step.
            a, b, c = way[j, 0], way[j, 1], way[j, 2]
            gx, gy, gz = moved(give, j + 1, a, b, c)
            main[j] = gx * a + gy * b + gz * c + link[j] / (STIFF * dt)
            if j + 1 < m:
                off[j] = -(gx * way[j + 1, 0] + gy * way[j + 1, 1] + gz * way[j + 1, 2])
            if j > 0:
                gx, gy, gz = moved(give, j, a, b, c)
                main[j] += gx * a + gy * b + gz * c
        tensions(main, off, right, tight, tension, row, side)
        for j in range(m):
            tension[j] = min(tension[j], TIGHTEST)
            # Let go slowly: the damping of `free_node` would else switch on and off with a link
            # that flickers between tight and slack.
            kept[j] = max(tension[j], 0.9 * kept[j])
        for i in range(1, n):
            fx = -tension[i - 1] * way[i - 1, 0]
            fy = -tension[i - 1] * way[i - 1, 1]
            fz = -tension[i - 1] * way[i - 1, 2]
            if i < m:
                fx += tension[i] * way[i, 0]
                fy += tension[i] * way[i, 1]
                fz += tension[i] * way[i, 2]
            gx, gy, gz = moved(give, i, fx, fy, fz)
            v[i, 0], v[i, 1], v[i, 2] = free[i, 0] + gx, free[i, 1] + gy, free[i, 2] + gz
            square = v[i, 0] * v[i, 0] + v[i, 1] * v[i, 1] + v[i, 2] * v[i, 2]
            if square > FASTEST * FASTEST:
                speed = math.sqrt(square)
                for k in range(3):
                    v[i, k] *= FASTEST / speed
        # Places by the new speeds, not the old ones: semi-implicit Euler. Number by number: an
        # expression of arrays would ask for memory at every node and step.
        for i in range(n):
            for k in range(3):
                x[i, k] += dt * v[i, k]
        if (step + 1) % every == 0 and count < track.shape[0]:
            ue, un, h = water_at(east, north, depth, x0, y0, cell, x[last, 0], x[last, 1])
            if not (np.isfinite(ue) and np.isfinite(un) and np.isfinite(h)):
                return count, UNKNOWN
            speed = math.sqrt(v[last, 0] ** 2 + v[last, 1] ** 2)
            lx, ly = x[last, 0] - x[0, 0], x[last, 1] - x[0, 1]
            # Angle of the line to the current: cross over
            # dot product, 0 where it hangs straight down.
            angle = abs(math.atan2(lx * un - ly * ue, lx * ue + ly * un))
            worst = 0.0
            for j in range(m):
                size = 0.0
                for k in range(3):
                    size += (x[j + 1, k] - x[j, k]) ** 2
                worst = max(worst, math.sqrt(size) / link[j] - 1.0)
            track[count, 0], track[count, 4], track[count, 5] = (step + 1) * dt, speed, h
            for k in range(3):  # as a slice it compiles three seconds longer
                track[count, 1 + k] = x[last, k]
            track[count, 6], track[count, 7], track[count, 8] = tension[0], worst, angle
            lx, ly = x[afloat, 0] - x[0, 0], x[afloat, 1] - x[0, 1]
            track[count, 9] = abs(math.atan2(lx * un - ly * ue, lx * ue + ly * un))
            count += 1
            if not held:
                stuck = stuck + record if speed < stall and (step + 1) * dt > SETTLE_S else 0.0
                if h < THIN:
                    return count, AGROUND
                if angle < hang and ue * ue + un * un > SLACK * SLACK:
                    return count, HANGS
                if stuck >= STUCK_S:  # nearly straight down it has come to rest, it has not stalled
                    return count, HANGS if angle < AT_REST * hang else STALLS
    return count, TIMEOUT


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def swing_lines(
    places: FloatArray,
    nodes: IntArray,
    links: FloatArray,
    wides: FloatArray,
    masses: FloatArray,
    heavies: FloatArray,
    floats: FloatArray,
    east: FloatArray,
    north: FloatArray,
    depth: FloatArray,
    x0: float,
    y0: float,
    cell: float,
    rods: FloatArray,
    bows: FloatArray,
    fly_area: float,
    power: float,
    skin: float,
    viscosity: float,
    dt: float,
    longest: float,
    hang: float,
    stall: float,
    follow: int,
    afloat: IntArray,
    record: float,
    tracks: FloatArray,
    counts: IntArray,
    ends: IntArray,
) -> None:
    """Swing many lines, each of `nodes[i]` nodes; fill `tracks`, `counts` and `ends`."""
    for i in range(places.shape[0]):
        n = nodes[i]
        count, end = swing_line(
            places[i, :n], links[i, : n - 1], wides[i, : n - 1], masses[i, :n], heavies[i, :n],
            floats[i, :n], east, north, depth, x0, y0, cell, rods[i], bows[i], fly_area, power,
            skin, viscosity, dt, longest, hang, stall, follow, afloat[i], record, tracks[i],
        )  # fmt: skip
        counts[i], ends[i] = count, end

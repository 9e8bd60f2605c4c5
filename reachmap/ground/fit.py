"""Calibration: roughness and depth scale fitted to what was measured on the river."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import xarray as xr
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.words import SpeedHow
from reachmap.ground.build_ground import low_line
from reachmap.ground.settings import FitSettings, GroundSettings
from reachmap.ground.sources import SOUNDED, TRUST, Source
from reachmap.markup.model import Markup

Solve = Callable[[xr.Dataset, Sequence[float]], xr.Dataset]
"""How a ground runs at flows [m3/s]: the flow stage, given from above."""


@dataclass(frozen=True, slots=True)
class Notes:
    """What was noted, side by side: kind, place, flow, value and standard error in its unit.

    `kind` is "level" [m], "edge" (height of the ground there [m]), "depth" [m] or "speed" [m/s].
    """

    kind: np.ndarray
    x: FloatArray
    y: FloatArray
    flow: FloatArray
    value: FloatArray
    error: FloatArray


@dataclass(frozen=True, slots=True)
class Fitted:
    """A fit.

    Parameters
    ----------
    roughness, depth
        Multipliers of the roughness and of the form's depth.
    before, after
        Root mean square of the residuals by kind, in its unit, before and after.
    number
        How many notes of each kind took part.
    roughness_doubt
        Standard deviation of the logarithm of the roughness that the notes left.
    """

    roughness: float
    depth: float
    before: dict[str, float]
    after: dict[str, float]
    number: dict[str, int]
    roughness_doubt: float


def gather(ground: xr.Dataset, markup: Markup, settings: FitSettings) -> Notes:
    """Return every note that can be held against the flow.

    Edges count where the ground at them is known well (a DEM); heights only where the ground has
    a datum.
    """
    levels = markup.levels if ground.attrs["vertical"] != "local" else ()
    rows: list[tuple[str, float, float, float, float, float]] = [
        ("level", one.place.x, one.place.y, one.flow, one.level_m, settings.level_error_m)
        for one in levels
    ]
    for depth in markup.soundings:
        place = depth.place
        rows.append(
            ("depth", place.x, place.y, depth.flow, depth.depth_m, settings.sounding_error_m)
        )
    for speed in markup.speeds:
        surface = speed.how is SpeedHow.SURFACE
        mean = speed.speed_m_s * (settings.surface_factor if surface else 1.0)
        error = settings.speed_error_m_s + settings.speed_error_share * mean
        rows.append(("speed", speed.place.x, speed.place.y, speed.flow, mean, error))
    for edge in markup.edges:
        points = shapely.get_coordinates(shapely.segmentize(edge.shape, settings.edge_step_m))
        heights = _sure_ground(ground, points)
        for (x, y), height in zip(points, heights, strict=True):
            rows.append(("edge", x, y, edge.flow, height, settings.edge_error_m))
    good = [row for row in rows if np.isfinite(row[1:]).all()]
    kinds = np.array([row[0] for row in good], dtype="U5")
    values = np.array([row[1:] for row in good], dtype=np.float64).reshape(len(good), 5).T
    return Notes(kinds, values[0], values[1], values[2], values[3], values[4])


def _sure_ground(ground: xr.Dataset, points: FloatArray) -> FloatArray:
    """Return the height of well known ground at points [m]; NaN where it is not."""
    x, y = (xr.DataArray(points[:, column], dims="point") for column in (0, 1))
    near = ground[["bed", "confidence"]].interp(x=x, y=y)
    sure = near["confidence"].to_numpy() >= TRUST[Source.DEM] - 0.05
    return np.where(sure, near["bed"].to_numpy(), np.nan)


def scaled(
    ground: xr.Dataset, roughness: float, depth: float, settings: GroundSettings
) -> xr.Dataset:
    """Return the ground with its roughness and the depth of its form multiplied.

    Ground a DEM saw dry, and drawn banks, stay as they are; so does the bed at a sounding, and
    what lies near one by as much as the sounding told of it.
    """
    bed = ground["bed"].to_numpy()
    form, below = form_of(ground, settings)
    moved = np.where(form, bed - below * (depth - 1) * unsounded(ground), bed)
    surface = ground["surface"].to_numpy() + (moved - bed)
    return ground.assign(
        bed=(("y", "x"), moved, ground["bed"].attrs),
        surface=(("y", "x"), surface, ground["surface"].attrs),
        roughness=ground["roughness"] * roughness,
    )


def unsounded(ground: xr.Dataset) -> FloatArray:
    """Return the share of a form's variance that no sounding took, 0 to 1, shape (y, x)."""
    floor = TRUST[Source.FORM_SURFACE if ground.attrs["vertical"] == "dem" else Source.FORM_DRAWN]
    sure = ground["confidence"].to_numpy().astype(np.float64)
    return 1 - np.clip((sure - floor) / (SOUNDED - floor), 0, 1)


def form_of(ground: xr.Dataset, settings: GroundSettings) -> tuple[BoolArray, FloatArray]:
    """Return which cells are a form, and how far they lie below the lowest water seen [m]."""
    low = np.interp(ground["station"].to_numpy(), *low_line(ground))
    below = low - ground["bed"].to_numpy()
    unsure = ground["confidence"].to_numpy() < TRUST[Source.DEM] - 1e-6
    form = unsure & (np.nan_to_num(below) >= 0.9 * settings.least_depth_m)
    return form, np.where(form, below, 0.0)


def fit(ground: xr.Dataset, markup: Markup, solve: Solve, settings: GroundSettings) -> Fitted:
    """Return the multipliers that bring the flow nearest to the notes.

    scipy's bounded least squares with a soft robust loss, so that one wrong note moves little. A
    weak pull towards 1 (standard deviations of the stage's own doubt) keeps what no note speaks of.

    Parameters
    ----------
    ground
        The stage's result.
    markup
        The drawing with its notes; edges logged elsewhere may be added to it by the caller.
    solve
        The flow stage.
    settings
        Of the stage.

    Raises
    ------
    BuildError
        If there is nothing to fit to.
    """
    rules = settings.fitting
    notes = gather(ground, markup, rules)
    if not notes.value.size:
        raise BuildError(
            [
                Fault(
                    "notes",
                    "nothing to fit to",
                    "Note a depth, a speed, a level or an edge, each with the river's flow",
                )
            ]
        )

    def residuals(logs: FloatArray) -> FloatArray:
        tried = scaled(ground, float(np.exp(logs[0])), float(np.exp(logs[1])), settings)
        off = (predicted(notes, tried, solve, rules.near_m) - notes.value) / notes.error
        pull = logs / np.array([rules.roughness_pull, settings.reach_doubt])
        return np.concatenate([_balanced(notes, np.nan_to_num(off), rules.edge_worth), pull])

    low, high = np.log([rules.roughness_bounds, rules.depth_bounds]).T
    found = least_squares(
        residuals,
        np.zeros(2),
        bounds=(low, high),
        loss="soft_l1",
        # Notes meet the nearest wet cell, so answers move
        # by steps: a finer difference sees only these.
        diff_step=np.full(2, 0.03),
        xtol=1e-3,
        max_nfev=12,
    )
    roughness, depth = np.exp(found.x)
    before = _by_kind(notes, predicted(notes, ground, solve, rules.near_m))
    best = scaled(ground, float(roughness), float(depth), settings)
    after = _by_kind(notes, predicted(notes, best, solve, rules.near_m))
    number = {str(kind): int((notes.kind == kind).sum()) for kind in np.unique(notes.kind)}
    return Fitted(
        float(roughness),
        float(depth),
        before,
        after,
        number,
        _doubt_left(np.asarray(found.jac, dtype=np.float64), rules.surest),
    )


def _doubt_left(jacobian: FloatArray, surest: float) -> float:
    """Return the standard deviation of the first parameter by the normal equations.

    Residuals are in units of their standard errors, so the covariance is (J^T J)^-1. Never below
    `surest`: notes share errors that no residual shows.
    """
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    return float(max(np.sqrt(covariance[0, 0]), surest))


def _balanced(notes: Notes, off: FloatArray, edge_worth: float) -> FloatArray:
    """Return residuals weighed so that many places along one edge do not drown the rest."""
    weight = np.ones(off.shape)
    for flow in np.unique(notes.flow[notes.kind == "edge"]):
        mine = (notes.kind == "edge") & (notes.flow == flow)
        # The root, since residuals are squared: all places of one flow weigh as `edge_worth` notes.
        weight[mine] = np.sqrt(min(1.0, edge_worth / mine.sum()))
    return off * weight


def predicted(notes: Notes, ground: xr.Dataset, solve: Solve, near_m: float) -> FloatArray:
    """Return what the flow gives for each note, in the note's unit; NaN where it gives none.

    A level, or the water at an edge, is that of the nearest wet cell within `near_m` [m].
    """
    flows = np.unique(notes.flow)
    water = solve(ground, [float(flow) for flow in flows])
    found = np.full(notes.value.shape, np.nan)
    for number, flow in enumerate(flows):
        one = water.isel(flow=number)
        level = one["level"].to_numpy()
        wet = np.isfinite(level)
        rows, cols = np.nonzero(wet)
        if not rows.size:
            continue
        tree = cKDTree(np.column_stack([one["x"].to_numpy()[cols], one["y"].to_numpy()[rows]]))
        mine = np.flatnonzero(notes.flow == flow)
        far, near = tree.query(np.column_stack([notes.x[mine], notes.y[mine]]))
        row, col = rows[near], cols[near]
        speed = np.hypot(one["east_speed"].to_numpy(), one["north_speed"].to_numpy())
        depth = one["depth"].to_numpy()
        got = np.where(notes.kind[mine] == "speed", speed[row, col], level[row, col])
        got = np.where(notes.kind[mine] == "depth", depth[row, col], got)
        found[mine] = np.where(far <= near_m, got, np.nan)
    return found


def _by_kind(notes: Notes, got: FloatArray) -> dict[str, float]:
    """Return the root mean square of the residuals of each kind, in its unit."""
    off = got - notes.value
    return {
        str(kind): float(np.sqrt(np.nanmean(off[notes.kind == kind] ** 2)))
        for kind in np.unique(notes.kind)
        if np.isfinite(off[notes.kind == kind]).any()
    }

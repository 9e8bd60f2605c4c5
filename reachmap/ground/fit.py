"""Calibration: roughness by cover and depth scale fitted to what was measured on the river."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
import xarray as xr
from scipy.spatial import cKDTree

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.words import SpeedHow
from reachmap.ground.cover_classes import wet_covers
from reachmap.ground.fit_settings import FitSettings
from reachmap.ground.scaling import scaled
from reachmap.ground.settings import GroundSettings
from reachmap.ground.sources import TRUST, Source
from reachmap.markup.model import Markup, Origin

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
class CoverFit:
    """Fit of one class of cover.

    Parameters
    ----------
    roughness
        Multiplier of its roughness.
    doubt
        Standard deviation of the logarithm of its roughness, given the notes.
    """

    roughness: float
    doubt: float


@dataclass(frozen=True, slots=True)
class Fitted:
    """A fit.

    Parameters
    ----------
    roughness, depth
        Multipliers of the channel's roughness and of the form's depth.
    before, after
        Root mean square of the residuals by kind, in its unit, before and after.
    number
        How many notes of each kind took part.
    roughness_doubt
        Standard deviation of the logarithm of the channel's roughness, given the notes.
    covers
        Classes of cover that the notes inform, by name (see `cover_classes`); the roughness of
        all others, and its standard deviation, is as it was.
    """

    roughness: float
    depth: float
    before: dict[str, float]
    after: dict[str, float]
    number: dict[str, int]
    roughness_doubt: float
    covers: dict[str, CoverFit] = field(default_factory=dict)


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
        own = settings.speed_error_m_s + settings.speed_error_share * mean
        error = float(np.hypot(own, settings.model_speed_share * mean))
        alike = sum(one.group == speed.group for one in markup.speeds) if speed.group else 1
        # The root, since residuals are squared: a drift weighs as `float_worth` speeds.
        error *= max(1.0, alike / settings.float_worth) ** 0.5
        rows.append(("speed", speed.place.x, speed.place.y, speed.flow, mean, error))
    for edge in markup.edges:
        points = shapely.get_coordinates(shapely.segmentize(edge.shape, settings.edge_step_m))
        heights = _sure_ground(ground, points)
        place = settings.walked_place_m if edge.origin in {Origin.WALK, Origin.PHOTO} else 0.0
        errors = np.hypot(settings.edge_error_m, place * _steepness(ground, points, place))
        for (x, y), height, error in zip(points, heights, errors, strict=True):
            rows.append(("edge", x, y, edge.flow, height, error))
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


def _steepness(ground: xr.Dataset, points: FloatArray, over_m: float) -> FloatArray:
    """Return the slope of the ground at points [m/m], over a distance to each side; 0 over none."""
    if over_m == 0:
        return np.zeros(len(points))
    x, y = (xr.DataArray(points[:, column], dims="point") for column in (0, 1))
    east, north = (
        [ground["bed"].interp(x=x + a, y=y + b).to_numpy() for a, b in pair]
        for pair in (((over_m, 0), (-over_m, 0)), ((0, over_m), (0, -over_m)))
    )
    return np.asarray(np.hypot(east[0] - east[1], north[0] - north[1]) / (2 * over_m))


def fit(ground: xr.Dataset, markup: Markup, solve: Solve, settings: GroundSettings) -> Fitted:
    """Return the multipliers that bring the flow nearest to the notes.

    One of the channel's roughness, one of the form's depth, and one of each class of cover that
    stands under water at a flow of the notes and that they inform. Bounded least squares with a
    soft robust loss of the notes, so that one wrong note moves little; the pull towards 1 is the
    prior of the stage's settings and is not softened.

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
    from scipy.optimize import least_squares  # slow to load; a check only reads an earlier fit

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
    flows = [float(flow) for flow in np.unique(notes.flow)]
    covers = wet_covers(ground, solve(ground, flows))
    problem = Problem(ground, notes, solve, settings, covers).of_informed_covers()
    found = least_squares(
        problem.residuals,
        np.zeros(problem.prior.size),
        jac=problem.slopes,
        bounds=problem.bounds,
        xtol=1e-3,
        max_nfev=12,
    )
    factors = [float(one) for one in np.exp(found.x)]
    left = problem.posterior_sd(np.asarray(found.jac, dtype=np.float64))
    best = problem.tried(found.x)
    before = _by_kind(notes, predicted(notes, ground, solve, rules.near_m))
    after = _by_kind(notes, predicted(notes, best, solve, rules.near_m))
    number = {str(kind): int((notes.kind == kind).sum()) for kind in np.unique(notes.kind)}
    covers = problem.covers
    fits = {name: CoverFit(factors[2 + k], left[2 + k]) for k, name in enumerate(covers)}
    return Fitted(factors[0], factors[1], before, after, number, left[0], fits)


@dataclass(frozen=True, slots=True)
class Problem:
    """Residuals of the notes as a function of logarithms.

    Those of the roughness of the channel, of the depth, of the roughness of each of `covers`, and
    of the true flow over the noted one at each flow of the notes, rising: flows are known to a
    gauge's error, and all notes of one day share it.
    """

    ground: xr.Dataset
    notes: Notes
    solve: Solve
    settings: GroundSettings
    covers: tuple[str, ...]

    @property
    def prior(self) -> FloatArray:
        """Return the standard deviation of each logarithm before any note."""
        settings, rules = self.settings, self.settings.fitting
        growth = [settings.spread.cover_doubt] * len(self.covers)
        days = [rules.flow_error] * len(np.unique(self.notes.flow))
        return np.array([rules.roughness_pull, settings.reach_doubt, *growth, *days])

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Return the least and the most of each logarithm."""
        rules = self.settings.fitting
        growth = [rules.cover_bounds] * len(self.covers)
        far = float(np.exp(4 * rules.flow_error))
        days = [(1 / far, far)] * len(np.unique(self.notes.flow))
        low, high = np.log([rules.roughness_bounds, rules.depth_bounds, *growth, *days]).T
        return low, high

    def tried(self, logs: FloatArray) -> xr.Dataset:
        """Return the ground that logarithms stand for."""
        roughness, depth, *growth = (float(one) for one in np.exp(logs[: 2 + len(self.covers)]))
        covers = dict(zip(self.covers, growth, strict=True))
        return scaled(self.ground, roughness, depth, self.settings, covers)

    def of_notes(self, logs: FloatArray) -> FloatArray:
        """Return the notes' residuals over their standard errors, softened, shape (notes,)."""
        rules, notes = self.settings.fitting, self.notes
        flows, day = np.unique(notes.flow, return_inverse=True)
        ran = flows * np.exp(logs[2 + len(self.covers) :])
        moved = replace(notes, flow=ran[day])
        off = predicted(moved, self.tried(logs), self.solve, rules.near_m) - notes.value
        return softened(_balanced(notes, np.nan_to_num(off / notes.error), rules.edge_worth))

    def residuals(self, logs: FloatArray) -> FloatArray:
        """Return the residuals of the notes and of the pull towards 1."""
        return np.concatenate([self.of_notes(logs), logs / self.prior])

    def slopes(self, logs: FloatArray) -> FloatArray:
        """Return the change of the residuals with each logarithm.

        Notes meet the nearest wet cell, so answers move by steps: a finer difference sees only
        these. A day's flow moves its own notes alone, so that all days are moved at once.
        """
        step, grounds = self.settings.fitting.difference, 2 + len(self.covers)
        here = self.of_notes(logs)
        each = [*np.eye(logs.size)[:grounds], np.arange(logs.size) >= grounds]
        moved = [(self.of_notes(logs + step * one) - here) / step for one in each]
        days = np.unique(self.notes.flow)
        by_day = np.where(self.notes.flow[:, None] == days, moved[-1][:, None], 0.0)
        of_notes = np.column_stack([*moved[:-1], by_day])
        return np.vstack([of_notes, np.diag(1 / self.prior)])

    def of_informed_covers(self) -> Problem:
        """Return the problem without the classes that the notes hardly inform."""
        slopes = self.slopes(np.zeros(self.prior.size))[: self.notes.value.size]
        # Information of the notes over that of the prior.
        worth = ((slopes * self.prior) ** 2).sum(axis=0)[2:]
        enough = worth >= self.settings.fitting.least_told
        kept = tuple(one for one, good in zip(self.covers, enough, strict=False) if good)
        return replace(self, covers=kept)

    def posterior_sd(self, slopes: FloatArray) -> list[float]:
        """Return the standard deviation of each logarithm given the notes.

        Residuals are in units of their standard errors, so the covariance is (J^T J)^-1. Never
        below `surest`: notes share errors that no residual shows.
        """
        left = np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)))
        return [float(one) for one in np.maximum(left, self.settings.fitting.surest)]


def softened(off: FloatArray) -> FloatArray:
    """Return residuals whose squares are the soft robust loss 2 (sqrt(1 + r^2) - 1) of r."""
    return np.asarray(np.sign(off) * np.sqrt(2 * (np.sqrt(1 + off**2) - 1)))


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

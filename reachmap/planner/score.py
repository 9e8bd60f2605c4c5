"""Shares of a run's score by hour: clarity, limb, days since it came into shape, temperature.

Scores are interpolated between mapped flows, and unknown beyond them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.markup.config.own_numbers import DayNumbers
from reachmap.planner.facts import ReachFacts, RunFacts, columns, nearest

Table = tuple[tuple[float, float], ...]
"""Pairs, increasing by the first: piecewise linear between, constant beyond."""


@dataclass(frozen=True, slots=True)
class ScoreSettings(DayNumbers):
    """Weights of clarity, limb, freshness and temperature; common practice without a source.

    Numbers that an angler may set are in `DayNumbers`.
    """

    coloured_table: Table = ((0.0, 0.0), (0.25, 0.1), (0.5, 0.45), (0.75, 0.8), (1.0, 1.0))
    """Share left by clarity as a multiple of the season's lower bound: half of it still fishes
    along the edge."""
    clear_table: Table = ((1.0, 1.0), (1.4, 0.85), (2.0, 0.6), (3.0, 0.45))
    """Share left by clarity as a multiple of the season's upper bound: fish see the line and sit
    deep."""
    warmth_table: Table = (
        (0.5, 0.4),
        (4.5, 0.7),
        (7.0, 1.0),
        (16.0, 1.0),
        (18.0, 0.4),
        (20.0, 0.0),
    )
    """Share left at a temperature of the water [C]: cold fish move little, warm ones are to be left
    in peace."""
    fresh_table: Table = (
        (0.0, 1.0),
        (1.0, 0.95),
        (2.0, 0.87),
        (4.0, 0.76),
        (7.0, 0.66),
        (14.0, 0.55),
    )
    """Share left by the days since the river came into shape after a rise [d]: new fish have come
    up with it that have not been fished over."""
    fishable_share: float = 0.85
    """Share left by clarity from which a river is in shape again; our choice, 0.6-0.95."""
    rising_per_day: float = 0.15
    """Growth of ln flow [1/d] from which a rise counts in full; our choice, 0.1-0.3."""
    limb_per_day: float = 0.05
    """Growth of ln flow [1/d] up to which a river counts as steady; our choice, 0.03-0.1."""
    falling_per_day: float = 0.04
    """Loss of ln flow [1/d] from which a river counts as dropping; our choice, 0.02-0.1."""
    bright_share: float = 0.92
    """Share left in the middle of the day in water clearer than the season's upper bound; our
    choice, 0.7-1."""
    low_light_hours: float = 1.5
    """Hours after sunrise and before sunset with low light [h]; our choice, 1-3."""
    flood_share: float = 0.4
    """Share left while the tide rises, where a tide table is given: the current stands. Common
    practice, 0.2-0.8."""
    beyond: float = 1.05
    """How far beyond the lowest and highest mapped flow their scores still hold, as a ratio; our
    choice, 1.0-1.1."""

    def band(self, season: str) -> tuple[float, float]:
        """Return the band of good clarity [m] in a season; winter unless summer."""
        if season == "summer":
            return self.summer_coloured_m, self.summer_clear_m
        return self.winter_coloured_m, self.winter_clear_m


def at_flows(run: RunFacts, name: str, flow: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return a number of a run at flows; NaN unknown.

    Parameters
    ----------
    run
        The run at every mapped flow.
    name
        Field of `RunAt`, like score or offer.
    flow
        Flows [m3/s], any shape; NaN stays NaN.
    settings
        How far beyond the mapped flows they hold.

    Notes
    -----
    Linear in the logarithm of the flow between neighbouring mapped flows; NaN where either is.
    """
    mapped, values = columns(run, "flow"), columns(run, name)
    inside = (flow >= mapped[0] / settings.beyond) & (flow <= mapped[-1] * settings.beyond)
    with np.errstate(divide="ignore", invalid="ignore"):
        between = np.interp(np.log(flow), np.log(mapped), values)
    return np.where(inside, between, np.nan)


def score_at(run: RunFacts, flow: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return a run's score by flow alone, 0 to 100; NaN unknown; see `at_flows`."""
    return at_flows(run, "score", flow, settings)


def score_span(
    run: RunFacts, band: tuple[FloatArray, FloatArray, FloatArray], settings: ScoreSettings
) -> tuple[FloatArray, FloatArray]:
    """Return the least and greatest score within a band of flows; NaN where part is unknown.

    Parameters
    ----------
    run
        The run.
    band
        Central flow, lower and upper bound [m3/s], shape (n,) each.
    settings
        As for `score_at`.

    Notes
    -----
    Scores are linear in ln flow between mapped flows, so the extremes are at the ends of the band
    or at mapped flows within it.
    """
    flow, low, high = band
    ends = [score_at(run, one, settings) for one in (flow, low, high)]
    least, most = np.min(ends, axis=0), np.max(ends, axis=0)
    for mapped, score in zip(columns(run, "flow"), columns(run, "score"), strict=True):
        inside = (low < mapped) & (mapped < high)
        least = np.where(inside, np.minimum(least, score), least)
        most = np.where(inside, np.maximum(most, score), most)
    return least, most


def _table_at(table: Table, values: FloatArray) -> FloatArray:
    """Return a table's second column, interpolated at values of its first."""
    first, second = zip(*table, strict=True)
    return np.asarray(np.interp(values, first, second))


def clear_share(
    clarity_m: FloatArray, settings: ScoreSettings, season: str = "winter"
) -> FloatArray:
    """Return the share left at a clarity [m], too coloured or too clear; 1 for NaN."""
    low, high = settings.band(season)
    share = _table_at(settings.coloured_table, clarity_m / low)
    share = share * _table_at(settings.clear_table, clarity_m / high)
    return np.where(np.isnan(clarity_m), 1.0, share)


def warmth_share(celsius: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a temperature of the water [C]; 1 where it is not known."""
    return np.where(np.isnan(celsius), 1.0, _table_at(settings.warmth_table, celsius))


def rise_share(per_day: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a growth of ln flow [1/d]: below 1 on a rise; NaN gives 1."""
    rise = ((settings.limb_per_day, 1.0), (settings.rising_per_day, settings.rising_share))
    return np.where(np.isnan(per_day), 1.0, _table_at(rise, per_day))


def drop_share(per_day: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a growth of ln flow [1/d]: 1 on a drop, less when steady.

    NaN counts as steady.
    """
    drop = ((-settings.falling_per_day, 1.0), (0.0, settings.steady_share))
    return _table_at(drop, np.nan_to_num(per_day, nan=0.0))


def fresh_share(since_days: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left by the days since the river came into shape again [d].

    NaN (no rise, or none known) counts as settled.
    """
    settled = settings.fresh_table[-1][1]
    return np.where(np.isnan(since_days), settled, _table_at(settings.fresh_table, since_days))


def light_share(
    sun_hours: FloatArray, clarity_m: FloatArray, settings: ScoreSettings, season: str
) -> FloatArray:
    """Return the share left by the light: less in bright daylight and clear water.

    Parameters
    ----------
    sun_hours
        Hours to the nearer of sunrise and sunset [h].
    clarity_m
        Clarity [m]; NaN takes nothing.
    settings, season
        The share, and the season whose band of clarity holds.
    """
    bright = (sun_hours > settings.low_light_hours) & (clarity_m > settings.band(season)[1])
    return np.where(bright, settings.bright_share, 1.0)


def tide_share(rising: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left by the tide: 1 rising, 0 falling, NaN unknown or no tide."""
    return np.where(rising == 1.0, settings.flood_share, 1.0)


def growth_per_day(flow: FloatArray, *, hours: int = 3) -> FloatArray:
    """Return the growth of ln flow at each hour [1/d], over `hours` before and after.

    A centred difference along the last axis, one-sided at the ends; NaN where a flow is not known.
    """
    count = flow.shape[-1]
    index = np.arange(count)
    before, after = np.maximum(index - hours, 0), np.minimum(index + hours, count - 1)
    span = np.maximum(after - before, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.log(flow[..., after] / flow[..., before]) / span * 24)


def best_mean(values: FloatArray, count: int, hours: int) -> FloatArray:
    """Return the worth of a day: the mean of its best runs each hour, over its best hours.

    Parameters
    ----------
    values
        Worth of each run at each hour, shape (runs, ..., hours); NaN counts as 0.
    count
        Runs that count each hour; fewer where there are fewer.
    hours
        Hours that count; fewer where the day has fewer.
    """
    best = np.sort(np.nan_to_num(values), axis=0)[-min(count, values.shape[0]) :].mean(axis=0)
    return np.asarray(np.sort(best, axis=-1)[..., -min(hours, best.shape[-1]) :].mean(axis=-1))


def known_share(flow: FloatArray, values: FloatArray) -> float:
    """Return the share of hours with a known flow and some run's worth, 0 to 1."""
    known: BoolArray = np.isfinite(flow) & np.isfinite(values).any(axis=0)
    return float(known.mean()) if known.size else 0.0


def confidence_at(facts: ReachFacts, flow: float) -> float:
    """Return the confidence of the bed at a flow [m3/s], 0 to 1, of the nearest mapped flow."""
    return facts.confidence[nearest(flow, facts.flows)]

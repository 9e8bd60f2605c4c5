"""Shares of a run's score that an hour leaves: clarity, the limb, days since it fished, warmth.

Two mapped flows tell of those between them; beyond the mapped ones nobody knows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.markup.config.own_numbers import DayNumbers
from reachmap.planner.facts import ReachFacts, RunFacts, columns

Table = tuple[tuple[float, float], ...]
"""Pairs that rise by the first; straight between, constant beyond."""


@dataclass(frozen=True, slots=True)
class ScoreSettings(DayNumbers):
    """How clarity, the limb, freshness and warmth count; common practice without a source.

    What an angler may set stands in `DayNumbers`.
    """

    coloured_table: Table = ((0.0, 0.0), (0.25, 0.1), (0.5, 0.45), (0.75, 0.8), (1.0, 1.0))
    """Share left where one sees so much of the season's lower bound: half of it still fishes along
    the edge."""
    clear_table: Table = ((1.0, 1.0), (1.4, 0.85), (2.0, 0.6), (3.0, 0.45))
    """Share left where one sees so many times the season's upper bound: fish see the line and sit
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
    """Share left so many days after the river came into shape again behind a rise [d]: new fish
    have come up with it, and nobody has been over them."""
    fishable_share: float = 0.85
    """A river is in shape again once clarity leaves this share; our choice, 0.6-0.95."""
    rising_per_day: float = 0.15
    """From this growth of ln flow a day on a rise counts in full; our choice, 0.1-0.3."""
    limb_per_day: float = 0.05
    """Up to this growth a river stands; our choice, 0.03-0.1."""
    falling_per_day: float = 0.04
    """A river that loses so much of ln flow a day drops; our choice, 0.02-0.1."""
    bright_share: float = 0.92
    """Share left in the middle of the day in water clearer than the season's upper bound; our
    choice, 0.7-1."""
    low_light_hours: float = 1.5
    """So long after sunrise and before sunset the light is low [h]; our choice, 1-3."""
    flood_share: float = 0.4
    """Share left while the tide rises, where a tide table is given: the current stands. Common
    practice, 0.2-0.8."""
    beyond: float = 1.05
    """How far beyond the lowest and highest mapped flow their scores still hold, as a ratio; our
    choice, 1.0-1.1."""

    def band(self, season: str) -> tuple[float, float]:
        """Return from how far to how far one should see [m] in a season; winter unless summer."""
        if season == "summer":
            return self.summer_coloured_m, self.summer_clear_m
        return self.winter_coloured_m, self.winter_clear_m


def at_flows(run: RunFacts, name: str, flow: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return a number of a run at flows; NaN where nobody knows.

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
    Straight in the logarithm of the flow between neighbours. Where one of both is not known, or the
    run is out of shape at one and in shape at the other, the straight line says so half-way.
    """
    mapped, values = columns(run, "flow"), columns(run, name)
    inside = (flow >= mapped[0] / settings.beyond) & (flow <= mapped[-1] * settings.beyond)
    with np.errstate(divide="ignore", invalid="ignore"):
        told = np.interp(np.log(flow), np.log(mapped), values)
    return np.where(inside, told, np.nan)


def score_at(run: RunFacts, flow: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return a run's score by flow alone, 0 to 100; NaN where nobody knows; see `at_flows`."""
    return at_flows(run, "score", flow, settings)


def score_span(
    run: RunFacts, band: tuple[FloatArray, FloatArray, FloatArray], settings: ScoreSettings
) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest score within a band of flows; NaN where part is unknown.

    Parameters
    ----------
    run
        The run.
    band
        Flow told, lower and upper bound [m3/s], shape (n,) each.
    settings
        As for `score_at`.

    Notes
    -----
    Scores are straight between mapped flows, so that the ends and the mapped flows within the band
    hold the extremes.
    """
    flow, low, high = band
    ends = [score_at(run, one, settings) for one in (flow, low, high)]
    least, most = np.min(ends, axis=0), np.max(ends, axis=0)
    for mapped, score in zip(columns(run, "flow"), columns(run, "score"), strict=True):
        inside = (low < mapped) & (mapped < high)
        least = np.where(inside, np.minimum(least, score), least)
        most = np.where(inside, np.maximum(most, score), most)
    return least, most


def _told(table: Table, values: FloatArray) -> FloatArray:
    """Return a table's second column at values of its first."""
    first, second = zip(*table, strict=True)
    return np.asarray(np.interp(values, first, second))


def clear_share(
    clarity_m: FloatArray, settings: ScoreSettings, season: str = "winter"
) -> FloatArray:
    """Return the share left at a clarity [m], by the season's band; 1 where it is not known.

    Too clear takes from it as too coloured does.
    """
    low, high = settings.band(season)
    share = _told(settings.coloured_table, clarity_m / low)
    share = share * _told(settings.clear_table, clarity_m / high)
    return np.where(np.isnan(clarity_m), 1.0, share)


def warmth_share(celsius: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a temperature of the water [C]; 1 where it is not known."""
    return np.where(np.isnan(celsius), 1.0, _told(settings.warmth_table, celsius))


def rise_share(per_day: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a growth of ln flow [1/d]: 1 unless it rises or nobody knows."""
    rise = ((settings.limb_per_day, 1.0), (settings.rising_per_day, settings.rising_share))
    return np.where(np.isnan(per_day), 1.0, _told(rise, per_day))


def drop_share(per_day: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left at a growth of ln flow [1/d]: 1 where it drops, less where it stands.

    A river whose course is not known counts as one that stands.
    """
    drop = ((-settings.falling_per_day, 1.0), (0.0, settings.steady_share))
    return _told(drop, np.nan_to_num(per_day, nan=0.0))


def fresh_share(since_days: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left so many days after the river came into shape again [d].

    NaN, no rise or none known, counts as settled.
    """
    settled = settings.fresh_table[-1][1]
    return np.where(np.isnan(since_days), settled, _told(settings.fresh_table, since_days))


def light_share(
    sun_hours: FloatArray, clarity_m: FloatArray, settings: ScoreSettings, season: str
) -> FloatArray:
    """Return the share left by the light: less in the bright of the day where one sees far.

    Parameters
    ----------
    sun_hours
        Hours to the nearer of sunrise and sunset [h].
    clarity_m
        How far one sees [m]; NaN unknown takes nothing.
    settings, season
        The share and the band.
    """
    bright = (sun_hours > settings.low_light_hours) & (clarity_m > settings.band(season)[1])
    return np.where(bright, settings.bright_share, 1.0)


def tide_share(rising: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share left by the tide: 1 rising, 0 falling, NaN unknown or no tide here."""
    return np.where(rising == 1.0, settings.flood_share, 1.0)


def growth_per_day(flow: FloatArray, *, hours: int = 3) -> FloatArray:
    """Return the growth of ln flow at each hour [1/d], over `hours` before and after.

    Along the last axis; at the ends over what there is; NaN where a flow is not known.
    """
    count = flow.shape[-1]
    index = np.arange(count)
    before, after = np.maximum(index - hours, 0), np.minimum(index + hours, count - 1)
    span = np.maximum(after - before, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.log(flow[..., after] / flow[..., before]) / span * 24)


def best_mean(values: FloatArray, count: int, hours: int) -> FloatArray:
    """Return what a day is worth: its best runs each hour, over its best hours.

    Parameters
    ----------
    values
        Worth of each run at each hour, shape (runs, ..., hours); NaN counts as nothing.
    count
        Runs that count each hour; fewer where there are fewer.
    hours
        Hours that count; fewer where the day has fewer.
    """
    top = np.sort(np.nan_to_num(values), axis=0)[-min(count, values.shape[0]) :].mean(axis=0)
    return np.asarray(np.sort(top, axis=-1)[..., -min(hours, top.shape[-1]) :].mean(axis=-1))


def known_share(flow: FloatArray, values: FloatArray) -> float:
    """Return of how many hours flow and some run's worth are known, 0 to 1."""
    known: BoolArray = np.isfinite(flow) & np.isfinite(values).any(axis=0)
    return float(known.mean()) if known.size else 0.0


def confidence_at(facts: ReachFacts, flow: float) -> float:
    """Return how sure the bed is at a flow [m3/s], 0 to 1, of the nearest mapped flow."""
    nearest = int(np.argmin(np.abs(np.log(np.array(facts.flows) / flow))))
    return facts.confidence[nearest]

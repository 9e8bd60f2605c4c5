"""What a run is worth at an hour: its score by flow, times how clear the water is and how it goes.

Two mapped flows tell of those between them; beyond the mapped ones nobody knows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.units import FOOT_M
from reachmap.planner.facts import ReachFacts, RunFacts, columns


@dataclass(frozen=True, slots=True)
class ScoreSettings:
    """How clarity and a rising river count; the angler's to change."""

    clear_table: tuple[tuple[float, float], ...] = (
        (0.0, 0.0),
        (0.5 * FOOT_M, 0.1),
        (1.0 * FOOT_M, 0.4),
        (2.0 * FOOT_M, 0.75),
        (3.5 * FOOT_M, 1.0),
    )
    """Share of the score that is left where one sees so far [m], straight between; clearer water
    counts in full. Common practice, no published source: three to four feet is good, one foot still
    fishes along the edge."""
    warmth_table: tuple[tuple[float, float], ...] = (
        (0.5, 0.4),
        (4.5, 0.7),
        (7.0, 1.0),
        (16.0, 1.0),
        (18.0, 0.4),
        (20.0, 0.0),
    )
    """Share of the score that is left at a temperature of the water [C], straight between. Common
    practice, no published source: cold fish move little, warm ones are to be left in peace."""
    rising_per_day: float = 0.15
    """From this growth of ln flow a day on a river counts as rising; our choice, 0.1-0.3."""
    rising_share: float = 0.5
    """Share of the score that is left on a rising river; our choice, 0.3-0.8. Common practice, no
    published source: fish move and take as a river drops and clears."""
    beyond: float = 1.05
    """How far beyond the lowest and highest mapped flow their scores still hold, as a ratio; our
    choice, 1.0-1.1."""


def score_at(run: RunFacts, flow: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return a run's score by flow alone, 0 to 100; NaN where nobody knows.

    Parameters
    ----------
    run
        The run at every mapped flow.
    flow
        Flows [m3/s], shape (n,); NaN stays NaN.
    settings
        How far beyond the mapped flows their scores hold.

    Notes
    -----
    Straight in the logarithm of the flow between neighbours. Where one of both is not known, or the
    run is out of shape at one and in shape at the other, the straight line says so half-way.
    """
    mapped, scores = columns(run, "flow"), columns(run, "score")
    inside = (flow >= mapped[0] / settings.beyond) & (flow <= mapped[-1] * settings.beyond)
    with np.errstate(divide="ignore", invalid="ignore"):
        told = np.interp(np.log(flow), np.log(mapped), scores)
    return np.where(inside, told, np.nan)


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


def clear_share(clarity_m: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share of the score that is left at a clarity [m]; 1 where it is not known."""
    seen, share = zip(*settings.clear_table, strict=True)
    return np.where(np.isnan(clarity_m), 1.0, np.interp(clarity_m, seen, share))


def warmth_share(celsius: float, settings: ScoreSettings) -> float:
    """Return the share of the score that is left at a temperature [C]; 1 where it is not known."""
    warmth, share = zip(*settings.warmth_table, strict=True)
    return 1.0 if np.isnan(celsius) else float(np.interp(celsius, warmth, share))


def rising_share(per_day: FloatArray, settings: ScoreSettings) -> FloatArray:
    """Return the share of the score left at a growth of ln flow [1/d]; 1 where it is not known."""
    return np.where(per_day > settings.rising_per_day, settings.rising_share, 1.0)


def growth_per_day(flow: FloatArray, *, hours: int = 3) -> FloatArray:
    """Return the growth of ln flow at each hour [1/d], over `hours` before and after.

    At the ends over what there is; NaN where a flow is not known.
    """
    count = flow.size
    index = np.arange(count)
    before, after = np.maximum(index - hours, 0), np.minimum(index + hours, count - 1)
    span = np.maximum(after - before, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.log(flow[after] / flow[before]) / span * 24)


def confidence_at(facts: ReachFacts, flow: float) -> float:
    """Return how sure the bed is at a flow [m3/s], 0 to 1, of the nearest mapped flow."""
    nearest = int(np.argmin(np.abs(np.log(np.array(facts.flows) / flow))))
    return facts.confidence[nearest]

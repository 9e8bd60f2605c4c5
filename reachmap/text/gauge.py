"""Sentences on a gauge: what its files hold, and a rating fitted to measurements."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.units import FLOW, LENGTH, flow_words, from_si, to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge, Measured
from reachmap.gauge.rating_fit import (
    FEWEST,
    RatingFit,
    fitted_band,
    fitted_flow,
    is_gauged,
)
from reachmap.gauge.rating_limits import Figure
from reachmap.gauge.record import GAP_HOURS, last_reading
from reachmap.gauge.stage_flow import flow_from_stage, rated_range
from reachmap.markup.gauge_of_folder import FolderGauge

SHARE = 0.9
"""Probability that the band holds the true flow; our choice, 0.8-0.95."""

POWER_ODD = (1.2, 3.0)
"""Exponents outside these are reported as odd: for one control theory gives 1.5 (wide weir) to
2.67 (triangular channel) (Rantz and others 1982; ISO 18320, from memory); our margin around
them."""

MEANING = {
    (Figure.POWER, True): "flow rises more steeply than one control lets it; drawn on above your "
    "measurements it would give too much water",
    (Figure.POWER, False): "flow rises along a straight line; drawn on above your measurements it "
    "would give too little water",
    (Figure.OFFSET, True): "the law has the river dry at your lowest measurement; just above that "
    "it may give too little water, and below it nothing",
    (Figure.OFFSET, False): "the law is all but an exponential without a stage of no flow; drawn "
    "on above your measurements it would give too much water, below them water where none runs",
}
"""Meaning of a rating's figure at its upper (True) or lower limit."""


def gauge_lines(read: FolderGauge) -> list[str]:
    """Return the lines on a folder's gauge files: rating, record, measurements and notes."""
    gauge = read.gauge
    if gauge is None:
        return ["No gauge yet: put its files into the folder gauge/ (docs/gauge.md).", *read.notes]
    lines = [f"{gauge.name}: {len(read.files)} file{'s' if len(read.files) != 1 else ''}."]
    lines += _rating_lines(gauge, read.units)
    lines += _record_lines(gauge, read.units)
    if gauge.measured is not None:
        lines += _measured_lines(gauge, gauge.measured)
    return lines + [f"Note: {note}" for note in read.notes]


def _rating_lines(gauge: Gauge, units: UnitSystem) -> list[str]:
    """Return the lines on the rating."""
    rated = rated_range(gauge.segments) if gauge.segments else None
    if rated is None:
        return ["No rating."]
    low, high = rated
    pieces = len(gauge.segments)
    lines = [
        f"Rating: {flow_words(low, units)} to {flow_words(high, units)} in {pieces} "
        f"piece{'s' if pieces != 1 else ''}. Beyond it nobody has measured: no flow is told there."
    ]
    if gauge.shift is not None:
        lines.append("A shift is in force and is applied to its stages.")
    return lines


def _record_lines(gauge: Gauge, units: UnitSystem) -> list[str]:
    """Return the lines on the record."""
    known = np.isfinite(gauge.flow)
    last = last_reading(gauge)
    if last is None:
        return ["No record of flow."]
    times = gauge.times[known]
    hours = np.diff(times) / np.timedelta64(3600, "s")
    gaps = int((hours > GAP_HOURS).sum())
    return [
        f"Record: {int(known.sum())} readings, {times[0]} to {times[-1]} UTC; {gaps} gaps over "
        f"{GAP_HOURS:g} h; {int((~known).sum())} readings without a number (ice, faults).",
        f"Newest: {flow_words(last.flow, units)}, {last.trend}.",
    ]


def _measured_lines(gauge: Gauge, measured: Measured) -> list[str]:
    """Return the lines on discharge measurements, the newest compared with the rating."""
    number = measured.flow.size
    lines = [f"Measurements: {number}, the newest of {measured.times[-1].astype('M8[D]')}."]
    if gauge.segments and gauge.shift is None:
        rated = float(flow_from_stage(gauge.segments, measured.stage_m[-1:])[0])
        if np.isfinite(rated):
            off = 100 * (float(measured.flow[-1]) / rated - 1)
            lines.append(f"The newest lies {off:+.0f} % from the rating.")
    if number >= FEWEST and not gauge.segments:
        lines.append("A rating can be fitted to them: reachmap gauge DIR fit")
    return lines


def rating_fit_lines(
    fit: RatingFit, number: int, stages: Sequence[float], units: UnitSystem
) -> list[str]:
    """Return the lines on a fitted rating: its law, scatter, range, and the flow of given stages.

    Parameters
    ----------
    fit, number
        The rating and how many measurements it was fitted to.
    stages
        Stages to give the flow of, in the folder's units.
    units
        The folder's units.
    """
    unit, flow = LENGTH[units], FLOW[units]
    ends = from_si(fit.ends, unit)
    lines = [f"A rating from {number} measurements:"]
    for k in range(fit.power.size):
        factor = fit.factor[k] * to_si(1.0, unit) ** fit.power[k] / to_si(1.0, flow)
        offset = from_si(float(fit.offset[k]), unit)
        lines.append(
            f"  {ends[k]:.2f} to {ends[k + 1]:.2f} {unit}: flow = {factor:.4g} x (stage - "
            f"{offset:.2f})^{fit.power[k]:.2f} {flow}"
        )
    lines.append(f"  Your measurements scatter about it by {100 * np.expm1(fit.scatter):.0f} %.")
    lines += [f"  {sentence}" for sentence in limit_words(fit, units)]
    if ((fit.power < POWER_ODD[0]) | (fit.power > POWER_ODD[1])).any():
        lines.append("  An exponent is odd for one control (1.5 to 2.7): look at the measurements.")
    lines.append(
        f"It holds from {ends[0]:.2f} to {ends[-1]:.2f} {unit}, where you measured. Beyond, curves "
        "through real gaugings missed by a third and more: no flow is told there."
    )
    return lines + _stage_lines(fit, stages, units)


def limit_words(fit: RatingFit, units: UnitSystem) -> list[str]:
    """Return the sentences on figures of a fit that stand at a limit; none where none does."""
    lines = []
    for one in fit.limits:
        piece = "" if fit.power.size == 1 else f" of piece {one.segment + 1} from below"
        if one.figure is Figure.POWER:
            value = f"{one.value:.3g}"
        else:
            value = f"{from_si(one.value, LENGTH[units]):.2f} {LENGTH[units]}"
        end = "highest" if one.high else "lowest"
        lines.append(
            f"The {one.figure}{piece} stands at the {end} it may be, {value}: "
            f"{MEANING[one.figure, one.high]}."
        )
    if lines:
        lines.append(
            "Between your measurements the curve holds; its band is wider by as much as the curve "
            "without that limit lies off. Measure at more stages, low and high."
        )
    return lines


def _stage_lines(fit: RatingFit, stages: Sequence[float], units: UnitSystem) -> list[str]:
    """Return the flow of each stage with its band, or that it is beyond the measurements."""
    unit = LENGTH[units]
    lines = []
    for stage in stages:
        height: FloatArray = np.array([to_si(stage, unit)])
        if not is_gauged(fit, height)[0]:
            lines.append(f"  at {stage:g} {unit}: not told, beyond your measurements")
            continue
        low, high = (float(bound[0]) for bound in fitted_band(fit, height, share=SHARE))
        value = float(fitted_flow(fit, height)[0])
        lines.append(
            f"  at {stage:g} {unit}: {flow_words(value, units)}, with {100 * SHARE:.0f} % between "
            f"{flow_words(low, units)} and {flow_words(high, units)}"
        )
    return lines

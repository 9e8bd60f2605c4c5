"""Consistency checks between pieces of evidence that need no ground model."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from reachmap.base.errors import Fault
from reachmap.base.physics import GRAVITY
from reachmap.base.trend import median_slope
from reachmap.markup.check_banks import median_width
from reachmap.markup.check_dem import LEAST_RISE, dem_rises
from reachmap.markup.check_flow import mean_depth
from reachmap.markup.check_river import dem_gives_slope, level_slope
from reachmap.markup.check_spots import unit_ratio
from reachmap.markup.config import flow_text
from reachmap.markup.drawing import Drawing
from reachmap.markup.evidence import Finding, Settled, Weight, settle
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.places import length_words

FEWEST_BANKS = 3
"""Fewest banks with a rise for a check of the DEM's unit (our choice)."""

UNIT_FIX = "Most likely the DEM's heights are in {unit}: set height_unit under [dem]"

EvidenceCheck = Callable[[Drawing, EvidenceSettings], list[Finding]]


def slope_likely(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding for each slope at which the traced flow would be implausible.

    Uniform flow by Manning's formula in the drawn width: its depth, and its Froude number
    U / (g h)^(1/2).
    """
    flow, width = drawing.reach_toml.plan.traced_flow, median_width(drawing)
    if math.isnan(flow) or not width > 0:
        return []
    findings = []
    for where, what, slope in _slopes(drawing):
        depth = mean_depth(flow, width, slope)
        speed = flow / (width * depth)
        froude = speed / math.sqrt(GRAVITY * depth)
        why = _unlikely(depth, width, froude, slope, settings)
        if why:
            found = (
                f"{what} {slope:.2g}: {flow_text(flow, drawing.units)} in a river "
                f"{length_words(width, drawing.units)} wide would be "
                f"{length_words(depth, drawing.units)} deep at "
                f"{length_words(speed, drawing.units)} a second, {why}"
            )
            fix = "Correct traced_flow, the slope, the DEM's height_unit or the banks"
            findings.append(Finding("slope", Weight.WARNING, Fault(where, found, fix)))
    return findings


def _unlikely(
    depth: float, width: float, froude: float, slope: float, settings: EvidenceSettings
) -> str:
    """Return why a uniform flow is implausible, "" where it is not."""
    if slope > settings.steep:
        return f"and rivers steeper than {settings.steep:g} are cascades"
    if froude > settings.froude:
        return f"faster than waves run up it (Froude number {froude:.2g})"
    if depth > settings.deep_m or width < settings.narrow * depth:
        return "deeper than rivers one wades"
    return ""


def _slopes(drawing: Drawing) -> Iterator[tuple[str, str, float]]:
    """Yield each known positive slope as (where, words, slope [m/m])."""
    main, reach_toml, heights = drawing.main, drawing.reach_toml, drawing.heights
    if main is None:
        return
    said = (
        reach_toml.plan.slope
        if math.isnan(reach_toml.fall_m)
        else reach_toml.fall_m / float(main.length)
    )
    known = [("reach.toml, [river]", "slope or fall give", said)]
    if heights is not None and dem_gives_slope(drawing):
        known.append(("DEM", "its fall along the river is", _dem_slope(drawing)))
    for where, what, slope in known:
        if slope > 0:
            yield where, what, slope


def _dem_slope(drawing: Drawing) -> float:
    """Return the DEM's slope along the river [m/m]; NaN where it gives none."""
    heights = drawing.heights
    if heights is None or not dem_gives_slope(drawing):
        return math.nan
    return -median_slope(heights.station, heights.river)


def dem_against_levels(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding where the DEM's fall along the river differs from that of noted levels."""
    main, noted, seen = drawing.main, level_slope(drawing), _dem_slope(drawing)
    if main is None or noted is None or not seen > 0:
        return []
    falls = [float(slope * main.length) for slope in (seen, noted)]
    ratio = seen / noted
    near = 1 / settings.fall_factor <= ratio <= settings.fall_factor
    if near or abs(falls[0] - falls[1]) <= settings.fall_gap_m:
        return []
    one, other = (length_words(fall, drawing.units) for fall in falls)
    found = (
        f"along the river it falls {one}, the levels noted at one flow fall {other}: {ratio:.2g} "
        "times"
    )
    unit = settings.unit_slip(ratio)
    fix = UNIT_FIX.format(unit=unit) if unit else "Correct the levels, or bring a better DEM"
    weight = Weight.STOP if unit else Weight.WARNING
    return [Finding("dem", weight, Fault("DEM", found, fix))]


def dem_against_rises(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding where the DEM's bank rises are to the drawn ones about as feet to metres."""
    pairs = [
        (bank.values["rise"], found)
        for bank, found in zip(drawing.features["banks"], dem_rises(drawing), strict=False)
        if bank.values["rise"] >= LEAST_RISE and np.isfinite(found) and found > 0
    ]
    ratio = float(np.median([found / drawn for drawn, found in pairs])) if pairs else math.nan
    unit = settings.unit_slip(ratio)
    if len(pairs) < FEWEST_BANKS or not unit:
        return []
    if unit_ratio(ratio, 1.0) and "dem" not in drawing.reach_toml.plan.accepted:
        return []  # so near to that ratio it is a fault of check_dem already
    drawn, seen = (
        length_words(float(np.median(v)), drawing.units) for v in zip(*pairs, strict=True)
    )
    found = (
        f"its banks rise {seen} above the water in the median, {drawn} as drawn: {ratio:.2g} times"
    )
    fix = f"{UNIT_FIX.format(unit=unit)}; else correct the rises"
    return [Finding("dem", Weight.WARNING, Fault("DEM", found, fix))]


def dem_against_zero(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding where the DEM's river agrees with the gauge's zero in the other unit."""
    heights, zero = drawing.heights, drawing.reach_toml.gauge.zero_m
    if heights is None or math.isnan(zero) or not np.isfinite(heights.river).any():
        return []
    river = float(np.nanmedian(heights.river))
    if abs(river - zero) <= settings.zero_gap_m or not unit_ratio(river, zero):
        return []
    found = (
        f"its river lies at {length_words(river, drawing.units)}, the gauge's zero at "
        f"{length_words(zero, drawing.units)}: {river / zero:.2g} times"
    )
    fix = f"{UNIT_FIX.format(unit=settings.unit_slip(river / zero))}; else correct zero"
    return [Finding("dem", Weight.WARNING, Fault("DEM", found, fix))]


EVIDENCE: tuple[EvidenceCheck, ...] = (
    slope_likely,
    dem_against_levels,
    dem_against_rises,
    dem_against_zero,
)
"""Every consistency check of this package."""


def settled(drawing: Drawing) -> Settled:
    """Return the contradictions in a drawing: faults that stop, and sentences, warnings first."""
    rules = EvidenceSettings()
    findings = [finding for check in EVIDENCE for finding in check(drawing, rules)]
    return settle(findings, drawing.reach_toml.plan.accepted)


def disagreements(drawing: Drawing) -> list[Fault]:
    """Return a fault for each contradiction that stops a build."""
    return list(settled(drawing).faults)


def doubts(drawing: Drawing) -> list[str]:
    """Return a sentence for each contradiction that does not stop a build, warnings first."""
    return list(settled(drawing).sentences)

"""Checks of one piece of the drawing's evidence against another that need no ground."""

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
from reachmap.markup.check_river import dem_tells_slope, level_slope
from reachmap.markup.check_spots import unit_ratio
from reachmap.markup.config import flow_text
from reachmap.markup.drawing import Drawing
from reachmap.markup.evidence import Finding, Settled, Weight, settle
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.places import length_words

FEWEST_BANKS = 3
"""Banks with a rise needed before they tell on the DEM's unit (our choice)."""

UNIT_FIX = "Most likely the DEM's heights are in {unit}: set height_unit under [dem]"

EvidenceCheck = Callable[[Drawing, EvidenceSettings], list[Finding]]


def slope_likely(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding for each slope at which the traced flow would run as no such river does.

    Uniform flow by Manning's formula in the drawn width: its depth, and its Froude number
    U / (g h)^(1/2).
    """
    flow, width = drawing.asked.plan.traced_flow, median_width(drawing)
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
    """Return what makes a uniform flow unlikely, "" where nothing does."""
    if slope > settings.steep:
        return f"and rivers steeper than {settings.steep:g} are cascades"
    if froude > settings.froude:
        return f"faster than waves run up it (Froude number {froude:.2g})"
    if depth > settings.deep_m or width < settings.narrow * depth:
        return "deeper than rivers one wades"
    return ""


def _slopes(drawing: Drawing) -> Iterator[tuple[str, str, float]]:
    """Yield each slope known as (where, words, slope), positive ones only."""
    main, asked, heights = drawing.main, drawing.asked, drawing.heights
    if main is None:
        return
    said = asked.plan.slope if math.isnan(asked.fall_m) else asked.fall_m / float(main.length)
    known = [("reach.toml, [river]", "slope or fall give", said)]
    if heights is not None and dem_tells_slope(drawing):
        known.append(("DEM", "its fall along the river is", _dem_slope(drawing)))
    for where, what, slope in known:
        if slope > 0:
            yield where, what, slope


def _dem_slope(drawing: Drawing) -> float:
    """Return the DEM's slope along the river [m/m]; NaN where it knows none."""
    heights = drawing.heights
    if heights is None or not dem_tells_slope(drawing):
        return math.nan
    return -median_slope(heights.station, heights.river)


def dem_against_levels(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding where the DEM falls otherwise along the river than the levels noted."""
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
    """Return a finding where the DEM's banks rise by about a foot's ratio of the rises drawn."""
    pairs = [
        (bank.values["rise"], found)
        for bank, found in zip(drawing.features["banks"], dem_rises(drawing), strict=False)
        if bank.values["rise"] >= LEAST_RISE and np.isfinite(found) and found > 0
    ]
    ratio = float(np.median([found / drawn for drawn, found in pairs])) if pairs else math.nan
    unit = settings.unit_slip(ratio)
    if len(pairs) < FEWEST_BANKS or not unit:
        return []
    if unit_ratio(ratio, 1.0) and "dem" not in drawing.asked.plan.accepted:
        return []  # so near to a foot's it is a fault already, by check_dem
    drawn, seen = (
        length_words(float(np.median(v)), drawing.units) for v in zip(*pairs, strict=True)
    )
    found = (
        f"its banks rise {seen} above the water in the median, {drawn} as drawn: {ratio:.2g} times"
    )
    fix = f"{UNIT_FIX.format(unit=unit)}; else correct the rises"
    return [Finding("dem", Weight.WARNING, Fault("DEM", found, fix))]


def dem_against_zero(drawing: Drawing, settings: EvidenceSettings) -> list[Finding]:
    """Return a finding where the DEM's river lies at the gauge's zero in the other unit."""
    heights, zero = drawing.heights, drawing.asked.gauge.zero_m
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
"""Every check of evidence against evidence on this floor."""


def settled(drawing: Drawing) -> Settled:
    """Return what disagrees in a drawing: faults that stop, and sentences, warnings first."""
    rules = EvidenceSettings()
    findings = [finding for check in EVIDENCE for finding in check(drawing, rules)]
    return settle(findings, drawing.asked.plan.accepted)


def disagreements(drawing: Drawing) -> list[Fault]:
    """Return a fault for each disagreement that no map may be made of."""
    return list(settled(drawing).faults)


def doubts(drawing: Drawing) -> list[str]:
    """Return a sentence for each disagreement short of a fault."""
    return list(settled(drawing).sentences)

"""Checks of the DEM by its header and by heights at a few places: coverage, unit, datum."""

from __future__ import annotations

import math

import numpy as np
import shapely

from reachmap.base.errors import Fault
from reachmap.base.trend import median_slope
from reachmap.base.units import FACTORS, FOOT_M
from reachmap.markup.check_river import dem_gives_slope
from reachmap.markup.check_spots import unit_ratio
from reachmap.markup.drawing import Drawing, outline_places
from reachmap.markup.places import length_words

SLIVER = 0.02
"""Share of the river line that a DEM may leave out at the ends (our choice)."""

FEWEST_RISES = 3
"""Fewest banks with a rise for a check of the DEM's unit (our choice)."""

LEAST_RISE = 0.5
"""Least rise used in a check of units [m] (our choice)."""

FALL_GAP = 3.0
"""Largest factor between the DEM's fall and the one given (our choice, 2-4)."""


def coverage(drawing: Drawing) -> list[Fault]:
    """Return a fault where the DEM leaves out part of the river line."""
    heights, main = drawing.heights, drawing.main
    if heights is None or main is None:
        return []
    share = float(heights.covered.mean())
    if share >= 1 - SLIVER:
        return []
    if share == 0:
        fix = "Check its CRS, bring the tiles of this reach, or take the DEM out"
        return [Fault("DEM", "it covers none of the river line", fix)]
    bare = heights.station[heights.covered == 0]
    found = (
        f"it covers {share:.0%} of the river line; none of it at "
        f"{length_words(bare.min(), drawing.units)} to {length_words(bare.max(), drawing.units)} "
        "down the line"
    )
    fix = "Add the missing tiles, shorten the river line, or take the DEM out and give a slope"
    return [Fault("DEM", found, fix)]


def tiles_agree(drawing: Drawing) -> list[Fault]:
    """Return a fault where tiles have different datums; each may have its own unit of height."""
    faults = []
    datums = sorted({tile.datum for tile in drawing.tiles if tile.datum})
    if len(datums) > 1:
        fix = "Bring all tiles to one vertical datum before you use them together"
        faults.append(
            Fault("DEM", f"its tiles name different vertical datums: {', '.join(datums)}", fix)
        )
    return faults


def height_unit(drawing: Drawing) -> list[Fault]:
    """Return a fault for each tile whose unit of height contradicts reach.toml."""
    if not drawing.reach_toml.height_unit_named:
        return []
    said = drawing.reach_toml.plan.dem.height_unit
    return [
        Fault(
            f"DEM {tile.path.name}",
            f"the file says its heights are in {_unit_word(tile.unit_m)}",
            f'reach.toml says height_unit = "{said}": correct the one that is wrong',
        )
        for tile in drawing.tiles
        if not math.isnan(tile.unit_m) and abs(tile.unit_m / FACTORS[said] - 1) > 1e-3
    ]


def fall(drawing: Drawing) -> list[Fault]:
    """Return a fault where the DEM's fall along the river differs widely from reach.toml's."""
    heights, main, reach_toml = drawing.heights, drawing.main, drawing.reach_toml
    if heights is None or main is None or not dem_gives_slope(drawing):
        return []
    if "dem" in reach_toml.plan.accepted or reach_toml.plan.dem.below_water:
        return []  # a bed rises and falls with its pools
    given = (
        reach_toml.fall_m
        if not math.isnan(reach_toml.fall_m)
        else reach_toml.plan.slope * main.length
    )
    measured = -median_slope(heights.station, heights.river) * main.length
    if math.isnan(given) or measured <= 0:
        return []
    hint = unit_ratio(measured, given)
    if not hint and 1 / FALL_GAP <= measured / given <= FALL_GAP:
        return []
    found = (
        f"along the river it falls {length_words(measured, drawing.units)}, reach.toml says "
        f"{length_words(given, drawing.units)}"
    )
    fix = f"Correct slope or fall under [river], or height_unit under [dem]{_advice(hint)}"
    return [Fault("DEM", found, fix)]


def bank_rise(drawing: Drawing) -> list[Fault]:
    """Return a fault where the DEM's banks rise by the drawn rise in another unit."""
    ratios = [
        found / bank.values["rise"]
        for bank, found in zip(drawing.features["banks"], dem_rises(drawing), strict=False)
        if bank.values["rise"] >= LEAST_RISE and np.isfinite(found)
    ]
    hint = unit_ratio(float(np.median(ratios)), 1.0) if len(ratios) >= FEWEST_RISES else ""
    if not hint or "dem" in drawing.reach_toml.plan.accepted:
        return []
    found = f"its banks rise {np.median(ratios):.1f} times what you drew"
    return [Fault("DEM", found, f"Correct rise, or height_unit under [dem]{_advice(hint)}")]


def dem_rises(drawing: Drawing) -> list[float]:
    """Return the height of each bank's outer edge above the water abreast of it [m].

    NaN where the DEM has no value; [] without enough heights along a main line. The outer edge is
    the quarter of the outline that is farthest from the line.
    """
    heights, main = drawing.heights, drawing.main
    if heights is None or main is None or not dem_gives_slope(drawing):
        return []
    good = np.isfinite(heights.river)
    rises = []
    for bank, ring in zip(drawing.features["banks"], heights.banks, strict=True):
        if bank.shape is None or not np.isfinite(ring).any():
            rises.append(math.nan)
            continue
        places = outline_places(bank.shape)
        away = shapely.distance(places, main)
        outer = (away >= np.quantile(away, 0.75)) & np.isfinite(ring)
        station = np.asarray(main.project(places))
        water = np.interp(station, heights.station[good], heights.river[good])
        rises.append(float(np.median((ring - water)[outer])) if outer.any() else math.nan)
    return rises


def datum(drawing: Drawing) -> list[Fault]:
    """Return faults where files and reach.toml name different vertical datums."""
    said = {"[dem]": drawing.reach_toml.plan.dem.datum, "[gauge]": drawing.reach_toml.gauge.datum}
    filed = next((tile.datum for tile in drawing.tiles if tile.datum), "")
    faults = []
    for section, name in said.items():
        if name and filed and not same_datum(name, filed):
            found = f"the DEM's file names the vertical datum {filed!r}"
            fix = f"reach.toml, {section} says {name!r}: correct the one that is wrong"
            faults.append(Fault("DEM", found, fix))
    if not filed and all(said.values()) and not same_datum(said["[dem]"], said["[gauge]"]):
        fix = "Give the gauge's zero in the DEM's datum"
        found = f"[dem] says datum {said['[dem]']!r}, [gauge] says {said['[gauge]']!r}"
        faults.append(Fault("reach.toml", found, fix))
    return faults


def unknown_heights(drawing: Drawing) -> list[str]:
    """Return a note where the DEM has holes along the river."""
    heights = drawing.heights
    if heights is None:
        return []
    holes = float(np.mean((heights.covered > 0) & ~np.isfinite(heights.river)))
    if holes < SLIVER:
        return []
    return [f"The DEM knows no height along {holes:.0%} of the river line, as if cut out there."]


def unsaid(drawing: Drawing) -> list[str]:
    """Return notes on properties of the DEM that are given nowhere."""
    if not drawing.tiles:
        return ["There is no DEM: the ground is made from banks, edges and soundings alone."]
    notes = []
    if math.isnan(drawing.reach_toml.plan.dem.flow):
        notes.append("reach.toml does not say the river's flow on the day the DEM was flown.")
    silent = all(math.isnan(tile.unit_m) for tile in drawing.tiles)
    if silent and not drawing.reach_toml.height_unit_named:
        notes.append("Nobody says the unit of the DEM's heights: metres are taken.")
    return notes


def same_datum(one: str, other: str) -> bool:
    """Return whether two names of a datum agree apart from spelling, short form and "height"."""
    first, second = (_plain_datum(name) for name in (one, other))
    return first in second or second in first


SHORT_DATUMS = {
    "navd88": "northamericanverticaldatum1988",
    "ngvd29": "nationalgeodeticverticaldatum1929",
    "cgvd28": "canadiangeodeticverticaldatumof1928",
    "cgvd2013": "canadiangeodeticverticaldatumof2013",
}
"""Common short names of vertical datums, by their long names in the EPSG registry."""


def _plain_datum(name: str) -> str:
    """Return a datum's name normalised for comparison."""
    plain = "".join(sign for sign in name.lower().replace("height", "") if sign.isalnum())
    return SHORT_DATUMS.get(plain, plain)


def _unit_word(unit_m: float) -> str:
    """Return a unit of height in words."""
    if abs(unit_m - 1) < 1e-3:
        return "metres"
    return "feet" if abs(unit_m / FOOT_M - 1) < 1e-3 else f"units of {unit_m:.6g} m"


def _advice(hint: str) -> str:
    """Return a hint as the end of a sentence."""
    return f" ({hint})" if hint else ""

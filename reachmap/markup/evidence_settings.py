"""Thresholds of the checks that compare one piece of evidence with another."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.units import FOOT_M


@dataclass(frozen=True, slots=True)
class EvidenceSettings:
    """How far two pieces of evidence may differ before it is reported.

    Every threshold is our choice, with the range in which it makes sense; `docs/evidence-checks.md`
    says what each was tried on.

    Parameters
    ----------
    unit_band
        Factor about the ratio of feet to metres, or its inverse, within which a ratio suggests a
        wrong unit: a depth follows from the flow to about a third (range 1.2-1.5).
    unit_spread
        Largest standard deviation of the logarithm of the soundings' ratios taken as one wrong
        unit, not scatter (range 0.45-0.7; on synthetic rivers up to 0.45 with a DEM, 0.61 without).
    usual_depth, usual_depth_drawn
        Median ratio of correct soundings to the depth expected from the flow, with a DEM's water
        and without: soundings are taken where it is deep (measured on synthetic rivers: 0.75 to 1.5
        and 1.0 to 1.9; ranges 1-1.1 and 1.2-1.5).
    depth_factor
        Soundings deeper or shallower than that by more than this, in the median, are reported
        (range 1.7-2.2).
    fewest_soundings
        Fewest soundings whose median stops a build; fewer only give a warning (range 4-8).
    least_depth_m
        Least expected depth of a place used in a check of units [m] (range 0.2-0.5).
    part_gap, part_spread
        Soundings that differ from the others by about the ratio of feet to metres are in another
        unit if the groups are separated by at least this factor, and the scatter of both groups'
        logarithms is no more than this (ranges 1.3-1.7 and 0.2-0.35).
    edge_error_m, edge_error_share
        A lower flow's width may exceed a higher one's by this [m] or by this share of the width,
        whichever is more: the errors of two drawn lines (ranges 2-5 m and 0.05-0.12).
    edge_length_widths, edge_length_share
        Least length of such a stretch that is reported, in river widths and as a share of the
        stretch compared (ranges 0.7-2 and 0.02-0.1).
    swapped_share
        From this share on, the flows are swapped or wrong rather than the drawing (range 0.5-0.8).
    flow_factor
        A flow that differs by this factor from that by width or level is reported (range 1.8-2.5).
    width_error_m
        Error of the median width drawn at a flow [m] (range 1-2).
    width_power
        Limits of the exponent b of w ~ Q^b at a section, to infer a flow from another flow's width
        (from memory: Leopold & Maddock 1953 give 0.26 in the mean; range 0.03-0.6).
    level_error_m, flow_level_m
        Least difference of level used to judge a unit or an order, and a flow [m] (ranges 0.2-0.4
        and 0.1-0.25; medians along correct edges were off by 0.28 and, at the traced flow, 0.05 at
        most).
    rating_factor
        Rises of the water along the reach and at the gauge may differ by this factor (range 2-3).
    fall_factor, fall_gap_m
        Largest difference in fall over the reach between the DEM's water and [river] slope or noted
        levels, as a factor or in metres: pools and riffles at its ends cause as much (ranges 1.5-2
        and 0.5-2).
    zero_gap_m
        Least distance of a gauge's zero from the river's height for a check of units [m] (range
        3-10).
    deck_rise_m
        Ground across the whole river this far above the water is an obstruction [m] (0.7-1.5).
    deck_across
        Least share of the water's width that an obstruction covers (range 0.85-0.95).
    deck_window_widths, deck_window_m
        Window of the running median that gives the water's own level, in widths and at least in
        metres: an obstruction longer than half of it is not detected (ranges 3-8 and 200-400).
    deck_length_m
        Greatest length of a bridge deck along the river [m] (range 30-60).
    side_search_m
        Distance to either side of a drawn side channel at which the DEM is searched [m] (60-120).
    side_trough_m
        Least depth of a channel below the ground next to it [m] (range 0.2-0.5).
    side_above_m
        Ground this much higher than the lowest nearby is no channel [m] (range 0.4-1).
    side_in_main
        Share of a side line in the main river's drawn water that makes it no side channel (range
        0.5-0.8; the sample's true one has 0.23 at its two mouths).
    froude, deep_m, narrow
        Limits of plausible uniform flow in a wadeable river: largest Froude number, largest depth
        [m], least ratio of width to depth (ranges 1-1.5, 2.5-4, 4-7; that rivers with movable beds
        seldom exceed critical flow is from memory: Grant 1997).
    steep
        Slopes above this are cascades (range 0.03-0.06; from memory: Montgomery & Buffington 1997
        put step-pools at 0.03 to 0.065).
    flight_gap_m
        Two flights disagree where one stands this far above the other [m] beside what they differ
        by as a whole (our choice, 0.2-0.5: three times what a lidar ground model is out by).
    flight_patch_m2
        Smaller patches of disagreement are not reported [m2] (our choice, 20-200).
    flight_offset_m
        Differences as a whole beyond this are reported [m] (our choice, 0.05-0.2).
    flight_far_m
        Beyond this no two flights are of one datum and unit, and the build stops [m] (our choice).
    flight_water_m
        Levels of two flights within this are one level [m] (our choice, 0.03-0.1: noise of lidar on
        water).
    flight_seam_widths
        Two flights that see no water in common are compared across a gap of up to so many widths
        (our choice, 1-5).
    """

    unit_band: float = 1.43
    unit_spread: float = 0.6
    usual_depth: float = 1.05
    usual_depth_drawn: float = 1.35
    depth_factor: float = 2.0
    fewest_soundings: int = 5
    least_depth_m: float = 0.3
    part_gap: float = 1.43
    part_spread: float = 0.3
    edge_error_m: float = 3.0
    edge_error_share: float = 0.08
    edge_length_widths: float = 1.0
    edge_length_share: float = 0.03
    swapped_share: float = 0.6
    flow_factor: float = 2.0
    width_error_m: float = 1.5
    width_power: tuple[float, float] = (0.03, 0.6)
    level_error_m: float = 0.25
    flow_level_m: float = 0.12
    rating_factor: float = 2.5
    fall_factor: float = 1.7
    fall_gap_m: float = 1.2
    zero_gap_m: float = 5.0
    deck_rise_m: float = 1.0
    deck_across: float = 0.9
    deck_window_widths: float = 5.0
    deck_window_m: float = 300.0
    deck_length_m: float = 40.0
    side_search_m: float = 90.0
    side_trough_m: float = 0.3
    side_above_m: float = 0.6
    side_in_main: float = 0.6
    froude: float = 1.2
    deep_m: float = 3.5
    narrow: float = 5.0
    steep: float = 0.05
    flight_gap_m: float = 0.3
    flight_patch_m2: float = 50.0
    flight_offset_m: float = 0.1
    flight_far_m: float = 1.0
    flight_water_m: float = 0.05
    flight_seam_widths: float = 3.0

    def unit_slip(self, ratio: float) -> str:
        """Return "feet" for the ratio of feet taken for metres, "metres" for the reverse, else "".

        Parameters
        ----------
        ratio
            Found over expected [-]; NaN and values <= 0 give "".
        """
        if not (math.isfinite(ratio) and ratio > 0):
            return ""
        for unit, exact in (("feet", 1 / FOOT_M), ("metres", FOOT_M)):
            if abs(math.log(ratio / exact)) <= math.log(self.unit_band):
                return unit
        return ""

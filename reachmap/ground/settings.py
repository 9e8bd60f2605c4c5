"""Settings of the ground stage, each default with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """Settings of the ground stage; lengths in metres.

    Parameters
    ----------
    cell
        Side of a raster cell [m]: 1, 2 or 4. Two metres places an edge within about 0.3 m and
        keeps a long reach small (our choice).
    margin_m
        How far beyond the drawn banks the ground is kept where a DEM knows it [m] (our choice,
        range 10-100: room behind a caster and the spread of a flood).
    channel_roughness
        Manning's n of the channel [s/m^(1/3)]. Chow (1959) table 5-6, clean winding stream with
        some pools and shoals: 0.033 to 0.045, normal 0.040; stony straight stream 0.035 normal.
    form_exponent
        p of the section 1 - abs(c)^p, c from -1 to 1 between the water's edges; 2 is a parabola
        (our choice, range 1.5-4: natural sections are a little fuller than a parabola).
    bend_strength
        A of the transverse bed slope A h / r: 2.9 (Suga 1967) to 5.5 (Bridge 1977), from memory.
        They differ twofold, so the low end is taken as a weak prior (our choice, range 0-6).
    bend_lag_widths
        How far downstream of the sharpest turn the deepest outside lies, in widths (from memory:
        0.5-1).
    bend_pooling
        How much flatter the low water stands in sharp bends than between them where no water
        surface was measured: its slope there is (1 - this)^2 of that of a straight stretch; 0 no
        pools, 1 level pools. Inflections carry the riffles (Keller 1972, abstract). Our choice,
        range 0-0.85: on three made rivers without pools the depths came out a third too small.
    slope_floor
        Least local slope of the water that tells a depth, as a share of the mean slope (our
        choice, 0.02-0.3: a centimetre in a hundred metres, what a good survey of water can show).
    pool_most
        Most times as deep as the reach's median section that a pool is made whose water is too
        still to tell its depth. Our choice, range 1.8-3: on three made rivers the deepest such pool
        comes out at 1.8 to 2.2 times without any limit; on a lowland bend, whose lidar water is
        level over 400 m, at five.
    least_depth_m
        Depth given to a cell known to be wet at low water, however near its edge [m] (our choice).
    water_tolerance_m
        How far from the water's level a DEM cell may stand and count as water [m]: noise of lidar
        on water (our choice, range 0.03-0.2).
    reach_doubt, section_doubt
        Standard deviation of the form's depth against the true one, as a share of the depth: what
        all sections have in common, and what each has of its own (our choice from trials on made
        rivers; range 0.1-0.3).
    pool_doubt
        The same of how much deeper the pools are than the riffles, times depth over mean depth less
        one (our choice, 0.05-0.3).
    lean_doubt
        The same of how far sections lean outwards in bends, as a share of the lean given to them
        (our choice, 0.3-1: the published constants differ twofold).
    local_doubt_m
        Standard deviation of the bed about a form of the right depth [m] (our choice, 0.1-0.3).
    section_range_widths
        Along the river, how far a section's own doubt reaches, in widths (our choice, 1-3).
    range_along_widths, range_across_widths
        The same of the local doubt along and across (our choice; range 0.5-2 and 0.1-0.3).
    sounding_error_m
        Standard error of one sounding [m] (our choice: a marked staff in moving water, 0.05-0.15).
    undrawn_height_m, undrawn_slope, undrawn_area_m2
        Ground of a terrain model within this height of the drawn water's level [m], no steeper than
        this [m/m] and at least this large [m2] may be water that nobody drew (our choice, 0.3-1,
        0.008-0.02 and 10-100: bars slope by a few per cent, water by less than one).
    waterline_m
        Ground joined to the drawn water and no more than this above its surface beside it [m] may
        be under water too (our choice, 0.02-0.1: noise of lidar).
    sight_widths
        How far a sounding speaks for the bed beside it, in widths (our choice, 1-6: beyond three
        ranges of the kriging nothing is left of the local part).
    """

    cell: float = 2.0
    margin_m: float = 30.0
    channel_roughness: float = 0.035
    form_exponent: float = 2.2
    bend_strength: float = 3.0
    bend_lag_widths: float = 0.5
    bend_pooling: float = 0.8
    slope_floor: float = 0.05
    pool_most: float = 2.2
    least_depth_m: float = 0.05
    water_tolerance_m: float = 0.08
    reach_doubt: float = 0.2
    section_doubt: float = 0.15
    pool_doubt: float = 0.1
    lean_doubt: float = 0.5
    local_doubt_m: float = 0.15
    section_range_widths: float = 2.0
    range_along_widths: float = 0.7
    range_across_widths: float = 0.15
    sounding_error_m: float = 0.08
    undrawn_height_m: float = 0.5
    undrawn_slope: float = 0.012
    undrawn_area_m2: float = 25.0
    waterline_m: float = 0.04
    sight_widths: float = 3.0

    def __post_init__(self) -> None:
        """Refuse settings no bed can be made with."""
        if self.cell not in (1.0, 2.0, 4.0):
            msg = f"cell is {self.cell:g}, wants 1, 2 or 4"
            raise ValueError(msg)
        if not 0.01 <= self.channel_roughness <= 0.2:
            msg = f"channel_roughness is {self.channel_roughness:g}, wants 0.01 to 0.2"
            raise ValueError(msg)

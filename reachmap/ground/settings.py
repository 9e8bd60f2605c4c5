"""Settings of the ground stage, each default with its reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.ground.fit_settings import FitSettings


@dataclass(frozen=True, slots=True)
class FormSettings:
    """Shape of the unmeasured bed; what moves it most stands in `GroundSettings`."""

    narrow_power: float = 0.6
    """Depth of a narrow branch over that of the widest in its row: width ratio to this power. Our
    choice, 0-0.8: between no difference at all and downstream hydraulic geometry, depth ~ Q^0.4
    over width ~ Q^0.5 (from memory, Leopold & Maddock 1953)."""
    side_width_power: float = 2.0
    """A branch's share of the flow grows with its width to this power: width x depth^(5/3) with
    depth ~ width^0.6. Our choice, 1-2.3; follows from `narrow_power`."""
    lean_high: float = 0.8
    """Most lean of a section in a bend, relative to its depth; our choice, 0.6-1."""
    deepest: float = 2.5
    """Most times as deep as where its depth was last known that a still pool is made; our choice,
    1.8-3."""
    narrowing_loss: float = 0.1
    widening_loss: float = 0.2
    """Share of the change of velocity head lost in eddies where the water quickens or slows. Chow
    (1959), section 10-4, for gradual changes: 0 to 0.1 and 0.2 (from memory)."""
    head_high_m: float = 0.3
    """Most velocity head put back into the slope [m]: 2.4 m/s; our choice, 0.2-0.5."""
    bend_tight: float = 0.25
    """Width over radius at which a bend holds all the pool it can: a radius of four widths. Our
    choice, 0.2-0.5; most bends have radii of two to three widths (Leopold & Wolman 1960)."""
    speck_widths: float = 0.2
    """Dry pieces smaller than a square of this many widths a side part no section; our choice,
    0.1-0.4."""
    swale_share: float = 0.5
    """How far a side channel drawn across dry ground lies below it, as a share of the ground's
    height above the traced water. Our choice, 0.2-0.8: the flow at which it runs is unknown."""
    bed_seen_m: float = 0.3
    """Median depth below the traced water at which a DEM is taken to have seen the bed; our choice,
    0.2-0.5."""
    join_m: float = 0.15
    """How far a side channel's seen water may stand off the main water it joins [m]; our choice,
    0.1-0.3."""


@dataclass(frozen=True, slots=True)
class SurfaceSettings:
    """What a terrain model must show to be taken as showing water."""

    flat_share: float = 0.3
    """Share of a row's drawn water that must lie on one level for it to show water; our choice,
    0.2-0.5."""
    row_share: float = 0.4
    """Share of the rows that must show water; our choice, 0.3-0.6."""
    stray_m: float = 1.0
    """A row's level this far from its neighbours' median is something else than water [m]; our
    choice, 0.5-1.5: a drop of a metre within two widths is a fall, not a run."""
    least_noise_m: float = 0.03
    """A water surface is never taken as known better than this [m]; our choice, 0.02-0.05."""
    rise_m: float = 0.1
    """Rows' levels that rise by more than this from head to foot are those of a bed [m]; our
    choice, 0.05-0.3: water never does, lidar's noise on it makes centimetres."""
    spread_m: float = 0.05
    """Rows' levels further than this, in the median, from a profile that only falls are those of a
    bed with pools, not of water [m]; our choice, 0.03-0.1."""


@dataclass(frozen=True, slots=True)
class SpreadSettings:
    """How far the members of the ensemble of beds lie apart, beside the form's own doubts."""

    roughness_doubt: float = 0.12
    """Standard deviation of the logarithm of a reach's roughness: the ranges of Chow (1959) table
    5-6 reach about a fifth to either side of the normal value, taken as 1.6 standard deviations."""
    flow_doubt: float = 0.10
    """The same of the low flow: gauges are read to within about a tenth. Our choice, 0.05-0.2."""
    unsaid_flow: float = 3.0
    """Factor on it where the flow of the DEM's day is not given; our choice, 2-4."""
    dem_doubt_m: float = 0.05
    """Standard error of a DEM's dry ground [m]; our choice, 0.05-0.15 as lidar ground models
    state."""
    bank_doubt: float = 0.3
    """Standard deviation of ground made from a drawn rise or edge, at no confidence at all [m]; it
    falls with confidence. Our choice, 0.2-0.6."""
    bank_range_widths: float = 2.0
    """How far such an error reaches along the bank, in widths; our choice, 1-4."""
    cover_doubt: float = 0.28
    """Standard deviation of the logarithm of the roughness of each class of growth, and of ground
    of unknown cover, apart from the channel's: brush in Chow (1959) table 5-6
    reaches from 0.045 to 0.110 about 0.070 (from memory), taken as 1.6 standard deviations."""
    drawn_doubt: float = 2.9
    surface_doubt: float = 1.3
    """Times the form's doubts where it follows a drawing, and where it follows a measured water
    surface; found on uneven made rivers (docs/uncertainty.md), 1.8-3.6 and 1-1.6."""
    prior_soundings: float = 8.0
    """How many soundings the stage's own doubt of the form is worth against their own misfit; our
    choice, 4-20."""


@dataclass(frozen=True, slots=True)
class LevelSettings:
    """How far the fall of the low water may differ from its prior where levels were noted."""

    error_m: float = 0.02
    """Standard error of a noted level [m], waves and the slope across the river in it; our choice,
    0.01-0.05."""
    fall_doubt: float = 0.5
    """Standard deviation of the local fall over the prior's, less one; our choice, 0.4-0.8: a pool
    falls a tenth of the mean, a riffle two or three times it."""
    mean_doubt: float = 0.3
    """The same of the fall of the whole reach, 0.1-0.5 (our choice)."""
    range_widths: float = 1.0
    """How far a stretch falls alike, in widths; our choice, 0.7-3: pools and riffles lie five to
    seven widths apart in pairs (Leopold & others 1964, from memory)."""
    rise_doubt: float = 0.3
    rise_local: float = 0.15
    """Standard deviation of a rise worked out from a mean section, as a share of it: common to the
    notes of one flow, and of each; our choice, 0.2-0.4 and 0.1-0.25."""
    local_datum_m: float = 10.0
    dem_datum_m: float = 0.15
    """How far notes and the prior may stand apart as a whole [m]: where the prior's heights are
    local, and where they are read off a terrain model's ground along the edges (our choice)."""
    datum_gap_m: float = 1.5
    """Notes further than this from such ground are of another datum [m]; our choice, 1-3."""
    stray: float = 4.0
    stray_m: float = 0.4
    """A note that the others contradict by more standard errors than this and by more metres is
    left out; our choice, 3-5 and 0.2-0.6."""


@dataclass(frozen=True, slots=True)
class TrackSettings:
    """How the depths of an echo sounder count."""

    bin_m: float = 8.0
    """Depths within this length along the river are averaged [m]; our choice, 6-10: a fifth of the
    local doubt's range, and one wave of a boat's pitch."""
    bin_across_m: float = 3.0
    """The same across [m]; our choice, 2-4: half of the local doubt's range across."""
    point_error_m: float = 0.10
    """Standard error of one depth: pitch, weed, the width of the beam, the place [m]; our choice,
    0.05-0.2."""
    independent: float = 4.0
    """How many depths of one bin count as independent at most; our choice, 2-8: one each 2 m."""
    bin_error_m: float = 0.04
    """What averaging leaves: the bed within a bin is no plane [m]; our choice, 0.02-0.08."""
    set_error_m: float = 0.06
    """Standard error that all depths of one set share: how deep the transducer hung, the speed of
    sound, the water's level that day [m]; our choice, 0.03-0.12."""
    together: int = 600
    """Up to so many soundings are kriged in one system; our choice, 300-1500: 600 x 600 numbers are
    3 MB."""
    near: int = 400
    """Of more, from how many neighbours a stretch of river is kriged; our choice, 200-800."""


@dataclass(frozen=True, slots=True)
class StoneSettings:
    """What a word for the bed means, and how large stones may be for the law of resistance.

    A word's size is the one that 84 of 100 stones of such a bed do not reach. Limits of the words
    are those of the Wentworth scale: gravel to 64 mm, cobbles to 256 mm, boulders above.
    """

    gravel_m: float = 0.045
    """Gravel one would call gravel and not cobble, [m]; our choice, 0.03-0.06: very coarse gravel,
    32 to 64 mm."""
    cobble_m: float = 0.09
    """Cobbles [m]; our choice, 0.08-0.2: the middle of small cobbles, 64 to 128 mm. On measured
    sections of one gravel river it fits the power of speed with depth; 0.13 m overshoots it, and
    what overshoots shows edges slower than they run."""
    boulder_m: float = 0.3
    """Boulders [m]; our choice, 0.26-0.5. Nothing was measured there: `share_high` mostly rules."""
    share_high: float = 0.3
    """Most that a size counts, in mean depths of the traced water. Our choice, 0.2-0.5: the
    measured sections were judged with sizes up to 0.28 of theirs, and larger ones show edges slower
    still."""

    def __post_init__(self) -> None:
        """Refuse sizes that are none."""
        for name in ("gravel_m", "cobble_m", "boulder_m", "share_high"):
            if not getattr(self, name) > 0:
                msg = f"{name} is {getattr(self, name)!r}, wants more than 0"
                raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class JudgeSettings:
    """Which soundings are set aside."""

    dry_m: float = 0.2
    """A sounding where the DEM's ground stands this far above its water was on dry land [m]; our
    choice, 0.1-0.4: twice what a lidar ground model is out by."""
    disagree_m: float = 0.6
    """A bed that differs this much from a DEM's dry ground is set aside [m]; our choice, 0.3-1."""
    too_deep: float = 3.0
    """Times as deep as the deepest of its section's form, and of what the other soundings say, that
    a sounding may be. Our choice, 2.5-5: a wrong decimal is 10, feet for metres 3.3."""
    all_too_deep: float = 2.2
    """The same of the median of all soundings. Our choice, 1.8-2.8: closing a flow known to a third
    is within 1.3."""
    few: int = 5
    """Fewest soundings whose median means something; our choice, 4-8."""
    datum_m: float = 3.0
    """Bed heights further than this above the DEM's water, or four times this below it, are of
    another datum [m]; our choice, 2-5."""


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """Settings of the ground stage; lengths in metres.

    Parameters
    ----------
    cell
        Side of a raster cell [m]: 0.5, 1, 2 or 4; a build takes what `cell_for` chooses by the
        river's width. Two metres places an edge within about 0.3 m and keeps a long reach small
        (our choice).
    margin_m
        How far beyond the drawn banks the ground is kept where a DEM knows it [m] (our choice,
        range 10-100: room behind a caster and the spread of a flood).
    channel_roughness
        Manning's n of the channel [s/m^(1/3)]; where the bed has stones, at the mean depth of the
        traced water. Chow (1959) table 5-6, clean winding stream with
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
        Least local slope of the water that gives a depth, as a share of the mean slope (our
        choice, 0.02-0.3: a centimetre in a hundred metres, what a good survey of water can show).
    pool_most
        Most times as deep as the reach's median section that a pool is made whose water is too
        still to give its depth. Our choice, range 1.8-3: on three made rivers the deepest such pool
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
    logged_place_m
        How far a place kept by a phone is off [m]: a depth logged on a slope counts so much less
        (our choice, 2-8: a phone under open sky is within about five metres, from memory).
    undrawn_height_m, undrawn_slope, undrawn_area_m2
        Ground of a terrain model within this height of the drawn water's level [m], no steeper than
        this [m/m] and at least this large [m2] may be undrawn water (our choice, 0.3-1,
        0.008-0.02 and 10-100: bars slope by a few per cent, water by less than one).
    waterline_m
        Ground joined to the drawn water and no more than this above its surface beside it [m] may
        be under water too (our choice, 0.02-0.1: noise of lidar).
    sight_widths
        How far a sounding stands for the bed around it, in widths (our choice, 1-6: beyond three
        ranges of the kriging nothing is left of the local part).
    edge_worth
        Mean of 1 - confidence of ground beside the water below which no edge is suggested (our
        choice, 0.2-0.5).
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
    logged_place_m: float = 4.0
    undrawn_height_m: float = 0.5
    undrawn_slope: float = 0.012
    undrawn_area_m2: float = 25.0
    waterline_m: float = 0.04
    sight_widths: float = 3.0
    edge_worth: float = 0.3
    form: FormSettings = field(default_factory=FormSettings)
    stones: StoneSettings = field(default_factory=StoneSettings)
    surface: SurfaceSettings = field(default_factory=SurfaceSettings)
    noted: LevelSettings = field(default_factory=LevelSettings)
    tracks: TrackSettings = field(default_factory=TrackSettings)
    spread: SpreadSettings = field(default_factory=SpreadSettings)
    judging: JudgeSettings = field(default_factory=JudgeSettings)
    fitting: FitSettings = field(default_factory=FitSettings)

    def __post_init__(self) -> None:
        """Refuse settings no bed can be made with."""
        if self.cell not in (0.5, 1.0, 2.0, 4.0):
            msg = f"cell is {self.cell:g}, wants 0.5, 1, 2 or 4"
            raise ValueError(msg)
        if not 0.01 <= self.channel_roughness <= 0.2:
            msg = f"channel_roughness is {self.channel_roughness:g}, wants 0.01 to 0.2"
            raise ValueError(msg)

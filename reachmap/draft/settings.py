"""Settings of a draft, each default with its reason."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class RouteSettings:
    """Where the river runs through the terrain."""

    most_cells: int = 1_500_000
    """Cells of the raster on which it is looked for; our choice, 0.5-4 million: seconds."""
    fine_cells: int = 6_000_000
    """Cells of the raster about it on which all else is drawn; our choice, 2-10 million."""
    flat_slope: float = 0.03
    """Ground less steep than this over three cells may be water [m/m]; our choice, 0.01-0.05."""
    gentle_slope: float = 0.12
    """Ground less steep than this may be a flood plain [m/m]; our choice, 0.08-0.2."""
    flat_weight: float = 200.0
    """Times that such a cell counts among those that drain into the river. Our choice, 50-500: a
    river that enters from beyond the terrain is followed by its own water, not up a side valley."""
    about_m: float = 75.0
    """Gentle ground this far about a cell is compared with it [m]; our choice, 50-150."""
    lower_m: float = 0.25
    """Water lies this far below the gentle ground about it, on average, at least [m]; our choice,
    0.1-0.5."""
    alone_share: float = 0.35
    """Gentle ground of at most this share of what lies about it is likely all water; our choice,
    0.2-0.5."""
    source_m2: float = 1000.0
    """Flat cells that must drain through the head of the line [m2]; our choice, 500-5000."""
    near_m: float = 60.0
    """How far the river may lie from the given place [m]; our choice, 30-100: an imprecise tap."""
    corridor_m: float = 250.0
    """Half width of the corridor of terrain read along the line [m]; our choice, 150-400."""


@dataclass(frozen=True, slots=True)
class SurfaceSettings:
    """Detection of the water surface on the day of the flight."""

    within_m: float = 0.25
    """Heights this near to the level tell its noise [m]; our choice, 0.15-0.4."""
    least_noise_m: float = 0.04
    most_noise_m: float = 0.25
    """Bounds of how far above the level is still water [m]; our choice, 0.02-0.05 and 0.2-0.3."""
    spread_m: float = 0.05
    """Heights along the line further than this, in the median, from a profile that only falls are
    those of a bed [m]; the ground stage's own number."""
    widest: float = 6.0
    """Water farther from the line than this many widths is another's; our choice, 4-8."""
    speck: float = 0.15
    """Dry pieces smaller than a square of this many widths a side are no islands; our choice,
    0.1-0.3."""
    island_m2: float = 40.0
    """The same in whole [m2]; our choice, 20-100."""


@dataclass(frozen=True, slots=True)
class BankSettings:
    """Bank outlines and their cover."""

    wide_m: float = 30.0
    """Breadth of the banks [m]; our choice, 20-40: a long back cast and what stands behind it."""
    long_m: float = 300.0
    """Pieces longer than this along the river are cut [m]; our choice, 150-500."""
    least_m2: float = 250.0
    """Smaller pieces of one cover are given to their neighbour [m2]; our choice, 100-500."""
    blur_m: float = 5.0
    """Cover is that of most ground within this [m]; our choice, 3-8."""
    trees_m: float = 4.0
    brush_m: float = 0.7
    """Growth this high is trees, and brush [m]; our choice, 3-5 and 0.5-1: a line catches in
    either, a person sees over the second."""
    bar_rise_m: float = 0.8
    """Bare ground less high above the water than this is gravel, else grass [m]; our choice,
    0.5-1.5: what floods keep bare."""
    steep: float = 0.8
    """Bare ground steeper than this is a raw bank [m/m]; our choice, 0.6-1: earth rests at about
    35 degrees, 0.7 (from memory)."""
    simple_m: float = 2.0
    """How far a drawn outline may leave the cells' [m], in cells where these are larger; our
    choice, 0.5-2."""


@dataclass(frozen=True, slots=True)
class CrestSettings:
    """Heads of riffles, from the fall of the water along the line."""

    calm_widths: float = 0.5
    """The fall is taken over this many widths; our choice, 0.3-1."""
    quick: float = 1.2
    """A riffle falls at least this many times the mean; our choice, 1.1-2."""
    calm: float = 0.6
    """The water above its head falls at most this many times the mean; our choice, 0.3-0.8."""
    least_fall_m: float = 0.12
    """A riffle falls at least this in whole [m]; our choice, 0.08-0.3: more than noise."""


@dataclass(frozen=True, slots=True)
class DraftSettings:
    """All settings of a draft."""

    route: RouteSettings = field(default_factory=RouteSettings)
    surface: SurfaceSettings = field(default_factory=SurfaceSettings)
    banks: BankSettings = field(default_factory=BankSettings)
    crests: CrestSettings = field(default_factory=CrestSettings)

"""Settings of the distances that stands, walks and casts keep from drawn hazards."""

from __future__ import annotations

from dataclasses import dataclass

from reachmap.base.words import HazardKind


@dataclass(frozen=True, slots=True)
class HazardSettings:
    """Distances from drawn hazards [m]; every one our choice, there is no published source.

    Where the wading settings ask for more (`hazard_reach_m`, `drift_high_m`), theirs counts.
    """

    undercut_m: float = 3.0
    """Nearest place to stand to a drawn undercut, on top of it and on dry ground too: the bank may
    break and a drawn line is good to a few metres. Our choice, 2-6."""
    strainer_m: float = 4.0
    """Nearest place to stand to a strainer. Our choice, 3-10."""
    strainer_drift_m: float = 30.0
    """A place from whose water the current leads into a strainer within this is left out. Our
    choice, 25-60: at 1 m/s it leaves half a minute."""
    ledge_m: float = 3.0
    """Nearest place to stand in the water to a ledge. Our choice, 2-6."""
    ledge_drift_m: float = 15.0
    """A place to stand from whose water the current leads over a ledge within this is left out. Our
    choice, 8-40."""
    soft_m: float = 1.0
    """How far outside its drawn outline a soft bottom may reach. Our choice, 0.5-3."""
    slip_m: float = 5.0
    """From dry ground this near the water one may slip into it: the current there counts too. Our
    choice, 3-8; no less than how far back from the edge one stands."""
    drift_width_m: float = 4.0
    """A drift that passes this near a hazard meets it. Our choice, 2-8."""
    walk_m: float = 4.0
    """A walk that passes this near a hazard comes to it. Our choice, 2-8."""
    sweep_m: float = 2.0
    """A hazard this near what the line sweeps counts as within the cast. Our choice, 0-5."""
    more_water_m: float = 0.1
    """Rise of the water that a stale or guessed gauge may hide: a hand's breadth. Our choice,
    0.08-0.15."""
    every_cells: int = 2
    """Of so many cells of swing water along each axis one is followed down the current. Our choice,
    1-3; drifts are wider than that."""

    def keep_off(self, kind: HazardKind) -> float:
        """Return how far a place to stand keeps off a hazard, straight [m]; 0 for no limit."""
        return {
            HazardKind.UNDERCUT: self.undercut_m,
            HazardKind.STRAINER: self.strainer_m,
            HazardKind.LEDGE: self.ledge_m,
            HazardKind.SOFT_BOTTOM: self.soft_m,
        }.get(kind, 0.0)

    def keep_above(self, kind: HazardKind) -> float:
        """Return how far up the current a place to stand keeps off a hazard [m]; 0 for no limit."""
        return {
            HazardKind.STRAINER: self.strainer_drift_m,
            HazardKind.LEDGE: self.ledge_drift_m,
        }.get(kind, 0.0)

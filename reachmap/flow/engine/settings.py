"""Settings of the two-dimensional flow engine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Inflow:
    """Water that joins within the reach: a tributary.

    Parameters
    ----------
    share
        Part of the flow that enters here, above 0 and below 1; the head gets the rest.
    x, y
        Where it enters [m, project CRS].
    radius_m
        Cells within this distance share it [m].
    """

    share: float
    x: float
    y: float
    radius_m: float = 6.0

    def __post_init__(self) -> None:
        """Validate the share: something must be left for the river."""
        if not 0 < self.share < 1 or not self.radius_m > 0:
            msg = (
                f"inflow share is {self.share!r}, wants 0 to 1; radius_m {self.radius_m!r}, above 0"
            )
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class EngineSettings:
    """How the engine solves; lengths in metres, speeds in metres a second.

    Parameters
    ----------
    section_error
        Largest error of discharge through any section over the inflow at which a flow counts as
        solved. Our choice, range 1e-6 to 0.01: far below the uncertainty of any rating.
    depth_change_m, speed_change_m_s
        Largest root-mean-square change of depth and speed over a cycle at which it counts as
        solved. Our choice.
    speed_remaining_m_s
        Largest remaining change of speed (root mean square), extrapolated from how fast the changes
        shrink, at which it counts as solved. Our choice: far below what one can measure wading.
    section_error_most
        A flow that comes to rest above `section_error` but below this is given with a note; above
        it no map is made. Our choice, range 0.01 to 0.05.
    cycles_most
        Cycles on a grid at each length of step before the engine falls back. Our choice.
    sweeps
        Sweeps down and up a cycle where there is no coarser grid. Our choice by trial, range 2-8.
    coarse_sweeps
        Sweeps on the next coarser grid a cycle. Our choice by trial, range 4-16.
    courant
        Cells a wave may cross in a pseudo-time step. Our choice by trial, range 2-15.
    correction
        Share of the 1-D correction that is applied, range 0.3-0.9; our choice by trial.
    grids
        How many grids, each twice as fine, up to the ground's own. Our choice, range 1-4.
    eddy_share
        k of the eddy viscosity k u* h. About 0.15 in straight channels (Fischer et al. 1979, from
        memory), 0.6 in bends.
    thin_m
        Water thinner than this has no slopes within cells and no eddies. Our choice by trial, range
        0.001-0.01: above it, thin water flickers.
    wet_m
        Water thinner than this counts as dry on the map; our choice, range 0.005-0.05.
    margin_m
        How far above the profile's level ground may still get wet; widened where it turns out
        short.
    bend_closure
        Whether the force of secondary flow in bends is added. Off: it is not matched to
        measurements.
    inflows
        Tributaries.
    """

    section_error: float = 0.002
    depth_change_m: float = 0.0005
    speed_change_m_s: float = 0.002
    speed_remaining_m_s: float = 0.01
    section_error_most: float = 0.02
    cycles_most: int = 120
    sweeps: int = 4
    coarse_sweeps: int = 10
    courant: float = 6.0
    correction: float = 0.6
    grids: int = 3
    eddy_share: float = 0.15
    thin_m: float = 0.002
    wet_m: float = 0.01
    margin_m: float = 1.0
    bend_closure: bool = False
    inflows: tuple[Inflow, ...] = ()

    def __post_init__(self) -> None:
        """Validate the settings."""
        wrong = [
            f"{name} is {getattr(self, name)!r}, wants more than 0"
            for name in (
                "section_error",
                "depth_change_m",
                "speed_change_m_s",
                "speed_remaining_m_s",
                "section_error_most",
                "cycles_most",
                "sweeps",
                "coarse_sweeps",
                "courant",
                "grids",
                "thin_m",
                "wet_m",
                "margin_m",
            )
            if not getattr(self, name) > 0
        ]
        if not 0 <= self.correction <= 1 or not 0 <= self.eddy_share <= 5:
            wrong.append("correction wants 0 to 1, eddy_share 0 to 5")
        if sum(inflow.share for inflow in self.inflows) >= 1:
            wrong.append("the inflows' shares add up to 1 or more: nothing is left for the head")
        if wrong:
            msg = "; ".join(wrong)
            raise ValueError(msg)

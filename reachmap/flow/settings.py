"""Settings of the flow stage and its version."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from reachmap.flow.tributaries import Tributary

if TYPE_CHECKING:
    from reachmap.flow.engine.settings import EngineSettings

VERSION = 7
"""Raised when the numbers of the flow stage change."""


@dataclass(frozen=True, slots=True)
class FlowSettings:
    """How a flow is solved.

    Parameters
    ----------
    method
        "profile": one level a section and a split by conveyance, quick, a preview. "engine": depth
        and speed in two dimensions.
    section_step_m
        Distance between sections [m]; at least two cells are taken. Our choice, range 2-20: as
        short as the raster's grain allows, so that a ledge keeps its own level.
    foot_stretch
        Over how many river widths normal depth is averaged at the foot. Our choice, range 1-10:
        long enough to hold a pool and a riffle.
    narrowing_loss, widening_loss
        Share of the change of velocity head that is lost where the river narrows or widens. Chow
        (1959), section 10-4: 0 to 0.1 and 0.2 for gradual changes (from memory).
    dry_depth_m
        Water thinner than this counts as dry [m]. Our choice, range 0.005-0.05: below the
        uncertainty of any bed.
    sill_step_m
        Steps of height in which the sills of side channels are found [m]. Our choice, 0.01-0.05.
    slope_rounds
        How often the split over channels is repeated with the slope it found. Our choice, range
        0-5: a further round moves the speeds by millimetres a second.
    tributaries
        Side rivers that join within the reach, with their shares of the flow. The engine lets them
        in where they meet the river; the profile carries one flow all along.
    engine
        The engine's own settings; None: its defaults.
    """

    method: Literal["profile", "engine"] = "profile"
    section_step_m: float = 4.0
    foot_stretch: float = 4.0
    narrowing_loss: float = 0.1
    widening_loss: float = 0.2
    dry_depth_m: float = 0.01
    sill_step_m: float = 0.02
    slope_rounds: int = 1
    tributaries: tuple[Tributary, ...] = ()
    engine: EngineSettings | None = None

    def __post_init__(self) -> None:
        """Validate the settings."""
        wrong = [
            f"{name} is {getattr(self, name)!r}, wants more than 0"
            for name in ("section_step_m", "foot_stretch", "dry_depth_m", "sill_step_m")
            if not getattr(self, name) > 0
        ]
        wrong += [
            f"{name} is {getattr(self, name)!r}, wants 0 to 1"
            for name in ("narrowing_loss", "widening_loss")
            if not 0 <= getattr(self, name) <= 1
        ]
        if self.method not in ("profile", "engine"):
            wrong.append(f"method is {self.method!r}, wants 'profile' or 'engine'")
        if sum(one.share for one in self.tributaries) >= 1:
            wrong.append("the tributaries' shares add up to 1 or more")
        if self.slope_rounds < 0:
            wrong.append(f"slope_rounds is {self.slope_rounds}, wants 0 or more")
        if wrong:
            msg = "; ".join(wrong)
            raise ValueError(msg)

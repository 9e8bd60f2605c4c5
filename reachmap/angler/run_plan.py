"""Plan of a whole run: what the plans of most of its places have in common."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import mode

import numpy as np

from reachmap.base.grouped import Rows, known_median, present
from reachmap.base.words import MendTo, Strip, WouldHelp

PLANNED = (
    *("mends", "mend_m", "mend_to", "mend_s", "mend_last_s", "pulls", "take", "share_in_bands"),
    *("second_pass", "out_cast_m", "out_angle_deg", "out_tip", "out_mends", "out_mend_to"),
    *("would_help", "rod_high"),
)
"""Columns of `stations` that this needs."""


@dataclass(frozen=True, slots=True)
class RunPlan:
    """The plan of most places of a run's bank.

    `mends` of most places, to side `mend_to`, the first `mend_s` after landing [s], each `mend_m`
    [m]; `pulls` of line from the first cast to the middle one; `share` of the strip that the middle
    place swims as wanted; `high` whether most hold the rod high. The second pass: whether it is
    worth it at most places, its middle cast [m] and angle [degrees], NaN where there is none, and
    the tip. `take` is where the take is expected at most; `help` what would help where most plans
    do not serve, else None.
    """

    mends: int
    mend_to: MendTo | None
    mend_s: float
    mend_last_s: float
    mend_m: float
    pulls: int
    share: float
    high: bool
    second: bool
    out_cast_m: float
    out_angle_deg: float
    out_tip: str
    take: Strip
    help: WouldHelp | None


def run_plan(castable: Rows) -> RunPlan | None:
    """Return what the plans of places with room have in common; None where none is planned."""
    rows = castable[np.isfinite(castable["share_in_bands"])]
    if not len(rows):
        return None
    count = int(mode(rows["mends"]))
    mended = rows[rows["mends"] == count]
    to = mode(mended["mend_to"]) if count else None
    mended = mended[mended["mend_to"] == to] if count else mended
    far = rows[np.isfinite(rows["out_cast_m"])]
    helped = rows["would_help"][present(rows["would_help"])]
    return RunPlan(
        mends=count,
        mend_to=MendTo(to) if to is not None else None,
        mend_s=known_median(mended["mend_s"]),
        mend_last_s=known_median(mended["mend_last_s"]),
        mend_m=known_median(mended["mend_m"]),
        pulls=int(np.median(rows["pulls"])),
        share=known_median(rows["share_in_bands"]),
        high=bool(rows["rod_high"].mean() > 0.5),
        second=bool(rows["second_pass"].mean() > 0.5),
        out_cast_m=known_median(far["out_cast_m"]),
        out_angle_deg=known_median(far["out_angle_deg"]),
        out_tip=str(mode(far["out_tip"])) if len(far) else "",
        take=Strip(mode(rows["take"])),
        help=WouldHelp(mode(helped)) if len(helped) > 0.5 * len(rows) else None,
    )

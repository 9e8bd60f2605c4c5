"""A swing plan in plain words: what to do at a place, and the effect of every tip."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.angler.ladder import Step
from reachmap.angler.run_plan import RunPlan
from reachmap.base.words import HangDown, MendTo, UnitSystem, WouldHelp
from reachmap.text.numbers import length_words, number_of, text_of

TIMES = ("", "once", "twice", "three times")
"""Number of mends in words."""

MENDED: Mapping[str, str] = {
    MendTo.UP: "up the current",
    MendTo.DOWN: "down the current",
}
"""Direction of a mend."""

HANGING: Mapping[str, str] = {
    HangDown.STEP: "Let it hang, and take your step while it does.",
    HangDown.PULL: "When it hangs the current no longer moves it: short pulls, then step.",
    HangDown.LIFT: "Lift as soon as it hangs: it drags there.",
}
"""What to do at the hang-down."""

HELPS: Mapping[str, str] = {
    WouldHelp.LONGER_CAST: "a longer cast",
    WouldHelp.HEAVIER_TIP: "a heavier tip than any you own",
    WouldHelp.LIGHTER_TIP: "a lighter tip than any you own",
    WouldHelp.OTHER_BANK: "fishing it from the other bank",
    WouldHelp.BOAT: "fishing it from a boat",
}
"""What would help, in a sentence."""

TOUCHES, DRAGS = 0.02, 0.1
"""Shares of the time on the bottom from which a tip touches in the last part, and drags."""


def plan_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how to swing from a place, from a row of `stations`; empty where no cast has room."""
    return " ".join(plan_lines(row, units)) if text_of(row["cast"]) else ""


def plan_lines(row: Mapping[str, Any], units: UnitSystem) -> list[str]:
    """Return the steps of a swing and the fly's path, from a row of the layer `stations`.

    Nothing where no swing was simulated.
    """
    if not math.isfinite(number_of(row["strip_m"])):
        return []
    lines = [
        _starting(row, units),
        mend_words(row, units),
        _held(row, units),
        _swum(row, units),
        wait_words(number_of(row["wait_s"])),
        HANGING.get(text_of(row["hang_down"]), ""),
        _help(row),
        second_words(row, units),
    ]
    return [line for line in lines if line]


def mend_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return count, length, side and time of the mends; empty for none."""
    count, to = int(row["mends"]), text_of(row["mend_to"])
    if not count or not to:
        return ""
    first, last = number_of(row["mend_s"]), number_of(row["mend_last_s"])
    when = "as the line lands" if first < 1 else f"{first:.0f} s after it lands"
    if count > 1:
        when += f" and on to {last:.0f} s"
    times = TIMES[count] if count < len(TIMES) else f"{count} times"
    return f"Mend {times} {MENDED[to]}, {length_words(number_of(row['mend_m']), units)}, {when}."


def art_words(plan: RunPlan | None) -> str:
    """Return the line handling at most places of a run: mends, a rod held high."""
    if plan is None:
        return ""
    words = []
    if plan.mends and plan.mend_to is not None:
        times = TIMES[plan.mends] if plan.mends < len(TIMES) else f"{plan.mends} times"
        when = "as it lands" if plan.mend_s < 1 else f"{plan.mend_s:.0f} s after it lands"
        words.append(f"mend {times} {MENDED[plan.mend_to]} {when}")
    return ", ".join([*words, *(["rod held high"] if plan.high else [])])


def wait_words(wait_s: float) -> str:
    """Return the delay of the tip behind the line; empty below 1 s."""
    if not wait_s >= 1:
        return ""
    return f"The tip comes round later: wait {wait_s:.0f} s after the floating line is straight."


def second_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the plan for the water outside; empty where there is none."""
    cast, angle = number_of(row["out_cast_m"]), number_of(row["out_angle_deg"])
    if not math.isfinite(cast):
        return ""
    count, to = int(row["out_mends"]), text_of(row["out_mend_to"])
    mend = f", mend {TIMES[min(count, len(TIMES) - 1)]} {MENDED[to]}" if count and to else ""
    worth = "worth a second pass" if row["second_pass"] else "hardly worth a second pass"
    if wants := text_of(row["out_tip_wants"]):
        mend += f"; it wants a {wants} tip than any you own"
    take = " The take is expected there." if text_of(row["take"]) == "outside" else ""
    return (
        f"Then the water outside, {worth}: cast {length_words(cast, units)}, "
        f"{angle_words(angle)}, {row['out_tip']}{mend}.{take}"
    )


def angles_words(low_deg: float, high_deg: float) -> str:
    """Return a span of angles in words, from straight across."""
    low, high = round(low_deg), round(high_deg)
    if low == high:
        return angle_words(high_deg)
    if low < 0 < high:
        return f"{-low} deg up to {high} deg down from straight across"
    way = "down" if high > 0 else "up"
    return f"{min(abs(low), abs(high))}-{max(abs(low), abs(high))} deg {way} from straight across"


def angle_words(angle_deg: float) -> str:
    """Return an angle of a cast in words, from straight across."""
    if not math.isfinite(angle_deg):
        return "angle not known"
    if abs(angle_deg) < 5:
        return "straight across"
    way = "down from" if angle_deg > 0 else "up from"
    return f"{abs(angle_deg):.0f} deg {way} straight across"


def ladder_words(steps: Sequence[Step], units: UnitSystem) -> str:
    """Return each tip's depth or drag, lightest first, like ``floating 0.7 ft down, T-8 drags``.

    A tip that drags over the bottom with all heavier ones is joined with them; of one that touches
    in the last part the depth is told too where it is the chosen one.
    """
    parts: list[str] = []
    for number, step in enumerate(steps):
        if step.drag_share > DRAGS:
            more = all(one.drag_share > DRAGS for one in steps[number:]) and step is not steps[-1]
            parts.append(f"{step.tip} and heavier ones drag" if more else f"{step.tip} drags")
            if more:
                break
        elif step.tick_share > TOUCHES:
            deep = step.chosen and math.isfinite(step.depth_m)
            at = f" {length_words(step.depth_m, units)}, and" if deep else ""
            parts.append(f"{step.tip}{at} touches in the last part")
        elif math.isfinite(step.depth_m):
            down = " down" if not parts else ""
            parts.append(f"{step.tip} {length_words(step.depth_m, units)}{down}")
    return ", ".join(parts)


def why_words(steps: Sequence[Step]) -> str:
    """Return the reason for the tip chosen; empty where none is."""
    chosen = next((step for step in steps if step.chosen), None)
    if chosen is None or not math.isfinite(chosen.share):
        return ""
    return f"{chosen.tip} swims {chosen.share:.0%} of the strip as wanted"


def _starting(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how a run is begun."""
    pulls = int(row["pulls"])
    strip = number_of(row["strip_m"])
    near = f"The near {length_words(strip, units)} first" if strip > 0 else "The near water first"
    if not pulls:
        return f"{near}: a rod's length of line reaches it."
    plural = "" if pulls == 1 else "s"
    return f"{near}: begin with a rod's length of line, {pulls} pull{plural} more to the full cast."


def _held(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how rod and line are held."""
    words = []
    if row["rod_high"]:
        slack = number_of(row["slack_m"])
        hangs = f": {length_words(slack, units)} of slack hangs below its tip" if slack > 0 else ""
        words.append(f"Hold the rod high{hangs}.")
    elif row["short_cast"] and number_of(row["slack_m"]) > 0:
        leaves = length_words(number_of(row["slack_m"]), units)
        words.append(f"A short cast: held high the rod leaves {leaves} of slack for the take.")
    fed = number_of(row["fed_m"])
    if fed > 0:
        words.append(f"Feed {length_words(fed, units)} of line as it lands.")
    return " ".join(words)


def _swum(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how the fly swims: from the surface and above the bed at once."""
    deep, above = number_of(row["fly_depth_m"]), number_of(row["above_bed_m"])
    share = number_of(row["share_in_bands"])
    if not math.isfinite(deep + above):
        return ""
    words = f"The fly swims {length_words(deep, units)} down, "
    words += f"{length_words(above, units)} above the bed"
    if math.isfinite(share):
        words += f"; {share:.0%} of the strip at the wanted depth and pace"
    return f"{words}."


def _help(row: Mapping[str, Any]) -> str:
    """Return what would help where the plan hardly swims the water."""
    found = text_of(row["would_help"])
    return f"From here it is hardly swum: {HELPS[found]} would help." if found else ""

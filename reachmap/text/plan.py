"""A swing plan in plain words: what to do at a place, and the effect of every tip."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.angler.ladder import Step
from reachmap.angler.run_plan import RunPlan
from reachmap.base.language import noted, tr, tr_count
from reachmap.base.words import HangDown, MendTo, UnitSystem, WouldHelp
from reachmap.text.numbers import length_words, number_of, text_of
from reachmap.text.plain_words import in_words

TIMES = ("", noted("once"), noted("twice"), noted("three times"))
"""Number of mends in words."""

MENDED: Mapping[str, str] = {
    MendTo.UP: noted("up the current"),
    MendTo.DOWN: noted("down the current"),
}
"""Direction of a mend."""

HANGING: Mapping[str, str] = {
    HangDown.STEP: noted("Let it hang, and take your step while it does."),
    HangDown.PULL: noted("When it hangs the current no longer moves it: short pulls, then step."),
    HangDown.LIFT: noted("Lift as soon as it hangs: it drags there."),
}
"""What to do at the hang-down."""

HELPS: Mapping[str, str] = {
    WouldHelp.LONGER_CAST: noted("a longer cast"),
    WouldHelp.HEAVIER_TIP: noted("a heavier tip than any you own"),
    WouldHelp.LIGHTER_TIP: noted("a lighter tip than any you own"),
    WouldHelp.OTHER_BANK: noted("fishing it from the other bank"),
    WouldHelp.BOAT: noted("fishing it from a boat"),
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
        tr(HANGING.get(text_of(row["hang_down"]), "")),
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
    when = (
        tr("as the line lands")
        if first < 1
        else tr("{first} s after it lands", first=f"{first:.0f}")
    )
    if count > 1:
        when += tr(" and on to {last} s", last=f"{last:.0f}")
    return tr(
        "Mend {times} {to}, {mend}, {when}.",
        times=_times(count),
        to=tr(MENDED[to]),
        mend=length_words(number_of(row["mend_m"]), units),
        when=when,
    )


def art_words(plan: RunPlan | None) -> str:
    """Return the line handling at most places of a run: mends, a rod held high."""
    if plan is None:
        return ""
    words = [tr("mend {how}", how=mends_words(plan))] if is_mended(plan) else []
    return ", ".join([*words, *([tr("rod held high")] if plan.high else [])])


def is_mended(plan: RunPlan | None) -> bool:
    """Return whether the line is mended at most places of a run."""
    return plan is not None and bool(plan.mends) and plan.mend_to is not None


def mends_words(plan: RunPlan) -> str:
    """Return count, side and time of the mends at most places of a run; empty for none."""
    if plan.mend_to is None:
        return ""
    when = (
        tr("as it lands")
        if plan.mend_s < 1
        else tr("{seconds} s after it lands", seconds=f"{plan.mend_s:.0f}")
    )
    side = tr(MENDED[plan.mend_to])
    return tr("{times} {side} {when}", times=_times(plan.mends), side=side, when=when)


def _times(count: int) -> str:
    """Return how many times."""
    return tr(TIMES[count]) if count < len(TIMES) else tr("{times} times", times=count)


def wait_words(wait_s: float) -> str:
    """Return the delay of the tip behind the line; empty below 1 s."""
    if not wait_s >= 1:
        return ""
    return tr(
        "The tip comes round later: wait {wait} s after the floating line is straight.",
        wait=f"{wait_s:.0f}",
    )


def second_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the plan for the water outside; empty where there is none."""
    cast, angle = number_of(row["out_cast_m"]), number_of(row["out_angle_deg"])
    if not math.isfinite(cast):
        return ""
    count, to = int(row["out_mends"]), text_of(row["out_mend_to"])
    mend = (
        tr(", mend {times} {to}", times=tr(TIMES[min(count, len(TIMES) - 1)]), to=tr(MENDED[to]))
        if count and to
        else ""
    )
    worth = tr("worth a second pass") if row["second_pass"] else tr("hardly worth a second pass")
    if wants := text_of(row["out_tip_wants"]):
        mend += tr("; it wants a {wants} tip than any you own", wants=in_words(wants))
    take = tr(" The take is expected there.") if text_of(row["take"]) == "outside" else ""
    return tr(
        "Then the water outside, {worth}: cast {cast}, {angle}, {out_tip}{mend}.{take}",
        worth=worth,
        cast=length_words(cast, units),
        angle=angle_words(angle),
        out_tip=row["out_tip"],
        mend=mend,
        take=take,
    )


def angles_words(low_deg: float, high_deg: float) -> str:
    """Return a span of angles in words, from straight across."""
    low, high = round(low_deg), round(high_deg)
    if low == high:
        return angle_words(high_deg)
    if low < 0 < high:
        return tr("{up} deg up to {down} deg down from straight across", up=-low, down=high)
    near, far = sorted((abs(low), abs(high)))
    if high > 0:
        return tr("{near}-{far} deg down from straight across", near=near, far=far)
    return tr("{near}-{far} deg up from straight across", near=near, far=far)


def angle_words(angle_deg: float) -> str:
    """Return an angle of a cast in words, from straight across."""
    if not math.isfinite(angle_deg):
        return tr("angle not known")
    if abs(angle_deg) < 5:
        return tr("straight across")
    angle = f"{abs(angle_deg):.0f}"
    if angle_deg > 0:
        return tr("{angle} deg down from straight across", angle=angle)
    return tr("{angle} deg up from straight across", angle=angle)


def ladder_words(steps: Sequence[Step], units: UnitSystem) -> str:
    """Return each tip's depth or drag, lightest first, like ``floating 0.7 ft down, T-8 drags``.

    A tip that drags over the bottom with all heavier ones is joined with them; of one that touches
    in the last part the depth is told too where it is the chosen one.
    """
    parts: list[str] = []
    for number, step in enumerate(steps):
        if step.drag_share > DRAGS:
            more = all(one.drag_share > DRAGS for one in steps[number:]) and step is not steps[-1]
            parts.append(
                tr("{tip} and heavier ones drag", tip=step.tip)
                if more
                else tr("{tip} drags", tip=step.tip)
            )
            if more:
                break
        elif step.tick_share > TOUCHES:
            deep = step.chosen and math.isfinite(step.depth_m)
            depth = length_words(step.depth_m, units)
            parts.append(
                tr("{tip} {depth}, and touches in the last part", tip=step.tip, depth=depth)
                if deep
                else tr("{tip} touches in the last part", tip=step.tip)
            )
        elif math.isfinite(step.depth_m):
            depth = length_words(step.depth_m, units)
            parts.append(
                f"{step.tip} {depth}"
                if parts
                else tr("{tip} {depth} down", tip=step.tip, depth=depth)
            )
    return ", ".join(parts)


def why_words(steps: Sequence[Step]) -> str:
    """Return the reason for the tip chosen; empty where none is."""
    chosen = next((step for step in steps if step.chosen), None)
    if chosen is None or not math.isfinite(chosen.share):
        return ""
    return tr(
        "{tip} swims {share} of the strip as wanted", tip=chosen.tip, share=f"{chosen.share:.0%}"
    )


def _starting(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how a run is begun."""
    pulls = int(row["pulls"])
    strip = number_of(row["strip_m"])
    near = (
        tr("The near {strip} first", strip=length_words(strip, units))
        if strip > 0
        else tr("The near water first")
    )
    if not pulls:
        return tr("{near}: a rod's length of line reaches it.", near=near)
    return tr_count(
        "{near}: begin with a rod's length of line, {count} pull more to the full cast.",
        "{near}: begin with a rod's length of line, {count} pulls more to the full cast.",
        pulls,
        near=near,
    )


def _held(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how rod and line are held."""
    words = []
    if row["rod_high"]:
        slack = number_of(row["slack_m"])
        hangs = (
            tr(": {slack} of slack hangs below its tip", slack=length_words(slack, units))
            if slack > 0
            else ""
        )
        words.append(tr("Hold the rod high{hangs}.", hangs=hangs))
    elif row["short_cast"] and number_of(row["slack_m"]) > 0:
        leaves = length_words(number_of(row["slack_m"]), units)
        words.append(
            tr(
                "A short cast: held high the rod leaves {leaves} of slack for the take.",
                leaves=leaves,
            )
        )
    fed = number_of(row["fed_m"])
    if fed > 0:
        words.append(tr("Feed {fed} of line as it lands.", fed=length_words(fed, units)))
    return " ".join(words)


def _swum(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how the fly swims: from the surface and above the bed at once."""
    deep, above = number_of(row["fly_depth_m"]), number_of(row["above_bed_m"])
    share = number_of(row["share_in_bands"])
    if not math.isfinite(deep + above):
        return ""
    lies = {"deep": length_words(deep, units), "above": length_words(above, units)}
    if math.isfinite(share):
        return tr(
            "The fly swims {deep} down, {above} above the bed; {share} of the strip at the wanted "
            "depth and pace.",
            share=f"{share:.0%}",
            **lies,
        )
    return tr("The fly swims {deep} down, {above} above the bed.", **lies)


def _help(row: Mapping[str, Any]) -> str:
    """Return what would help where the plan hardly swims the water."""
    found = text_of(row["would_help"])
    return (
        tr("From here it is hardly swum: {found} would help.", found=tr(HELPS[found]))
        if found
        else ""
    )

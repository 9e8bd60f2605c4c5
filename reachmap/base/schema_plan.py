"""Columns of swing plans: what to do at a place, what the swing does there, the ladder of tips."""

from __future__ import annotations

from reachmap.base.columns import Column, count, flag, number, text, word
from reachmap.base.words import HangDown, MendTo, Side, Strip, TipWant, WouldHelp

PLAN: tuple[Column, ...] = (
    word("take", Strip, "In which strip the take is expected.", spare=True),
    number("strip_m", "m", "Width of the near strip; NaN unknown.", 0, spare=True),
    number(
        "share_in_bands", "1", "Share of it swum at the wanted depth and pace.", 0, 1, spare=True
    ),
    number("depth_share", "1", "Share of it swum at the wanted depth.", 0, 1, spare=True),
    number("pace_share", "1", "Share of it swum at the wanted pace.", 0, 1, spare=True),
    number(
        "drag_share",
        "1",
        "On the bottom before the last part, of the time in it.",
        0,
        1,
        spare=True,
    ),
    number(
        "tick_share", "1", "On the bottom in the last part, of the time in it.", 0, 1, spare=True
    ),
    number("above_bed_m", "m", "How far above the bed the fly swims in it.", 0, spare=True),
    count("mends", "How many mends.", spare=True),
    number("mend_m", "m", "Bow of each mend; NaN none.", 0, spare=True),
    word("mend_to", MendTo, "To which side one mends; missing: none.", spare=True),
    number("mend_s", "s", "First mend, seconds after landing; NaN none.", 0, spare=True),
    number("mend_last_s", "s", "Last mend, seconds after landing; NaN none.", 0, spare=True),
    number("fed_m", "m", "Line to feed after landing; 0 none.", 0, spare=True),
    flag("rod_high", "Whether the rod is held high through the swing.", spare=True),
    number(
        "slack_m",
        "m",
        "Slack that a rod held high leaves; NaN unknown.",
        0,
        spare=True,
    ),
    number("head_out_m", "m", "Head outside the rod tip; NaN: all of it.", 0, spare=True),
    flag("short_cast", "Whether the cast is short for the rod.", spare=True),
    word("hang_down", HangDown, "What to do at the hang-down.", spare=True),
    number("step_m", "m", "Step to the next cast; NaN unknown.", 0, spare=True),
    number("arc_gap_m", "m", "Widest gap between two arcs that far apart.", 0, spare=True),
    count("pulls", "Pulls of line from the first cast of a run to the full one.", spare=True),
    word("would_help", WouldHelp, "What would help; missing: the plan serves.", spare=True),
    flag("second_pass", "Whether a second pass, outside the strip, is worth it.", spare=True),
    number("out_strip_m", "m", "Width of the water outside; NaN none.", 0, spare=True),
    number("out_cast_m", "m", "Second pass: length of the cast; NaN none.", 0, spare=True),
    number("out_angle_deg", "degrees", "Second pass: angle down from straight across.", spare=True),
    text("out_tip", "Second pass: tip from the kit, or empty.", spare=True),
    count("out_mends", "Second pass: how many mends.", spare=True),
    word("out_mend_to", MendTo, "Second pass: to which side.", spare=True),
    word("out_tip_wants", TipWant, "Second pass: a tip not owned that it wants.", spare=True),
    number("out_share_in_bands", "1", "Second pass: share in the bands.", 0, 1, spare=True),
    number("out_fly_depth_m", "m", "Second pass: depth of the fly.", 0, spare=True),
    number("out_swing_s", "s", "Second pass: seconds to the hang-down.", 0, spare=True),
    number("out_wait_s", "s", "Second pass: from line straight to fly straight.", 0, spare=True),
)
"""What to do at a place to stand, and what the fly does; see docs/swing.md."""

SWUM: tuple[Column, ...] = (
    word("strip", Strip, "Which water it is for.", spare=True),
    number(
        "share_in_bands", "1", "Share of it swum at the wanted depth and pace.", 0, 1, spare=True
    ),
)
"""What a path tells besides."""

LADDER: tuple[Column, ...] = (
    text("water", "Code of the piece of water."),
    word("side", Side, "Bank one stands on."),
    text("tip", "Tip from the kit."),
    count("order", "Its place among the tips, the lightest first, from 1."),
    flag("chosen", "Whether it is the one to tie on."),
    number("fly_depth_m", "m", "Depth of the fly in the near strip; NaN it never swims there.", 0),
    number("above_bed_m", "m", "How far above the bed it swims.", 0),
    number("share_in_bands", "1", "Share of the strip at the wanted depth and pace.", 0, 1),
    number("drag_share", "1", "On the bottom before the last part, of the time in it.", 0, 1),
    number("tick_share", "1", "On the bottom in the last part, of the time in it.", 0, 1),
    number("swing_s", "s", "Seconds from landing to hang-down.", 0),
    number("wait_s", "s", "From floating line straight to fly straight.", 0),
)
"""Steps of the ladder: the same cast with one tip after the other."""

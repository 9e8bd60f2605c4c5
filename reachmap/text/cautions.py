"""The cautions on every page: people drown in rivers."""

from __future__ import annotations

from reachmap.base.language import noted

SHORT = noted(
    "People drown wading. This map is a working guess: trust your eyes over it, and turn back."
)
"""The line that is always in view."""

CAUTIONS: tuple[str, ...] = (
    noted(
        "People drown wading and drifting. Nothing here says that any water can be waded, "
        "crossed or boated; it says what was worked out from a drawing. Look, feel for each "
        "step, turn back."
    ),
    noted(
        "Hatched water marked as not known may be deeper or faster than anything else on the map."
    ),
    noted(
        "Water rises fast below dams and after rain. Read the official gauge before you go and "
        "watch the edge while you fish."
    ),
    noted(
        "A flood moves gravel, wood and banks. If one came through since the river was drawn, "
        "this map is old."
    ),
    noted(
        "Wear a wading belt and carry a staff; cold water takes your strength in minutes. Fish "
        "with somebody, and tell somebody where."
    ),
    noted(
        "Closures, seasons, gear rules, access and boat rules are set by those in charge of the "
        "river. This map knows none of them: look them up for the day."
    ),
    noted(
        "Local guides, river wardens and gauge keepers know more than this map does. It stands "
        "in for no guide's advice and for no licensed engineer's, surveyor's or pilot's work."
    ),
)

INVENTED = noted("This river is invented. It lies where no river is; do not go looking for it.")

PREVIEW = noted(
    "The water was worked out in the quick way, section by section. Levels may be off and soft "
    "water only roughly placed. Build in full before you lean on it."
)

STILL_SWITCHES = noted(
    "Scripts do not run in this copy: it was saved, or this browser has them off. The flow cannot "
    "be switched, a tap reads nothing, and no other flow is drawn."
)
STILL_UNKNOWN = noted(
    "Striped water is beyond your limits or not graded. Bricked water is not known: treat it as "
    "deep and fast. What is not known is never harmless."
)
"""Lines next to the still picture of a page whose scripts do not run."""

TERMINAL = noted(
    "Worked out from a drawing; it has not seen the river today. People drown wading. Follow local "
    "rules, gauges and guides, and look before every step."
)
"""The last line of every command that gives something to go by."""

ON_SHEETS = noted(
    "People drown wading. This sheet was worked out from a drawing and has not seen the river "
    "today. It never says that water can be waded. Check the gauge, local rules and closures; ask "
    "guides; look and feel before each step; turn back early."
)
"""Foot of a pocket sheet."""

IN_FILES = noted(
    "Worked out from a drawing, not seen today. Rivers change. Look before you wade; follow local "
    "rules, gauges and guides. A point says where water may fish, never that one can stand there."
)
"""In every file for a GPS or a phone, after how water was graded."""

PREVIEW_IN_FILES = noted(" Preview: quick one-dimensional flow, rough speeds.")

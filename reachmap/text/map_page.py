"""Texts of the map's page around the map."""

from __future__ import annotations

import math
from collections.abc import Mapping

from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem

TRENDS = (noted("rising"), noted("falling"), noted("steady"))

METHODS = {
    "profile": noted(
        "The water was worked out section by section, not over the whole bed: currents that "
        "cross the river, eddies and seams are only roughly placed."
    ),
}
"""Notes on methods of solving the water that have a known weakness."""

NO_ENSEMBLE = noted(
    "How far the water could differ was not tried on other beds: how sure goes by what was "
    "measured nearby only."
)
UNCERTAINTY_KEY = noted(
    "A tap on the water tells how far its depth may be off: give or take twice the spread over the "
    "beds that what you gave allows. Specked water is a guess."
)

READING: Mapping[str, str] = {
    "none": noted("Type what the gauge reads."),
    "same": noted("The map is at your {read}."),
    "between": noted("Between {low} and {high}; list of {cards}"),
    "higher": noted(": water about {rise} higher, edges {edge} farther out"),
    "level": noted(": water about {rise} higher"),
    "above": noted("{read} is above {high}, the highest flow drawn: this map says nothing of it."),
    "below": noted("{read} is below {low}, the lowest flow drawn: this map says nothing of it."),
    "unrated": noted("{read} is outside the rating of this gauge: its flow is not known."),
    "no_number": noted("That is no reading: type a number, like {example}."),
    "record": noted("Record of {day}: {read}{trend}. Read the gauge first."),
}
"""Texts on a reading of the gauge; names in braces are filled in by the page.

`read` is the reading, `low` and `high` the flows drawn on either side or the
ends of the map, `cards` the one whose list is shown, `rise` and `edge` how much higher and wider
the water is there than at the reading.
"""

LIST: Mapping[str, str] = {
    "today": noted("Today at {at}"),
    "one": noted("One run"),
    "many": noted("{count} runs"),
    "walk": noted("{runs}, walking down from 1"),
    "float": noted("{runs}, floating down from 1"),
    "bank": noted("{runs} on {bank}, walking down from 1"),
    "none": noted("No run to go to at {at}"),
    "silent": noted("No list for {read}"),
    "silent_why": noted("Nothing was drawn at such a flow. Look at the river from the bank."),
    "boat": noted("By boat"),
    "also": noted("Also fish at this flow"),
    "look": noted("Water to look at"),
    "shape": noted("Not at this flow"),
    "mind": noted("Mind:"),
    "best": noted("best odds today"),
    "empty": noted("No runs were found"),
}
"""Texts around the day's short list."""

WINDOW = noted(
    "Odds beside the other runs, flow by flow, with their span; the dashed line is this flow. "
    "Where there is no line nobody can fish it."
)
"""Caption of a run's flow window."""

CONTOURS = noted("Thin brown lines are contours of the ground, one every {step}.")
BEYOND = noted(
    "The pale ground beyond the mapped one is your terrain model: nothing is known there of water, "
    "cover or hazards."
)
"""Notes on the ground's contours, and on the ground drawn around the mapped one."""

NO_ROOM = noted("Your imagery is left out: this page has no room for it.")
NOT_HERE = noted("Your imagery shows nothing of this reach.")
"""Notes where the angler's own aerial picture is not shown under the water."""

CURVES = noted(
    "Each run's odds beside the others, from the lowest flow to the highest; the dashed line is "
    "this flow, the number its odds at it of 100. No line: nobody can fish it."
)
"""Caption of the curves of all runs."""


def covered_words(share: float, across: float = 0.0, by_boat: float = 0.0) -> str:
    """Return what of a run's water casts swim as wanted, and what none gets to; empty if unknown.

    Parameters
    ----------
    share
        Of its water that the casts swim rightly, 0 to 1; NaN where it is not known.
    across, by_boat
        That a cast gets to from the other bank alone, and from no place on a bank.

    Examples
    --------
    >>> covered_words(0.62).split(":")[0]
    'Your casts swim 62 % of its water rightly'
    >>> covered_words(0.62, 0.2, 0.004).split("dark. ")[1].split(" The rest")[0]
    'Hatched, no cast from your bank gets there: 20 % from the other bank.'
    """
    if not math.isfinite(share):
        return ""
    ways = (
        (across, noted("{share} from the other bank")),
        (by_boat, noted("{share} only from a boat")),
    )
    shares = [tr(way, share=_whole(one)) for one, way in ways if one >= LEAST_TOLD]
    told = tr("Hatched, no cast from your bank gets there: {shares}.", shares=", ".join(shares))
    beyond = f"{told} " if shares else ""
    return tr(
        "Your casts swim {share} of its water rightly: dark. {beyond}The rest is pale; dots are "
        "places to stand. North is up.",
        share=_whole(share),
        beyond=beyond,
    )


LEAST_TOLD = 0.01
"""Smaller shares of a run's water that no cast gets to are not told; our choice."""


def _whole(share: float) -> str:
    """Return a share in whole percent."""
    return f"{100 * share:.0f} %"


STAND: Mapping[str, str] = {
    "up": noted("Upstream"),
    "down": noted("Downstream"),
    "of": noted("{at} of {count}"),
    "room": noted("Room behind"),
}
"""Texts on the card of a place to stand: the way to the next ones, the fact its wedge carries."""

CHANGE: Mapping[str, str] = {
    "at": noted("At {at}: {told}."),
    "new": noted("+{count} new"),
    "gone": noted("{count} gone"),
    "in": noted("{run} moves {far} in to its bank"),
    "out": noted("{run} moves {far} out from its bank"),
    "same": noted("the same runs"),
}
"""Texts on a change of the flow."""


CHART: Mapping[str, str] = {
    "limit": noted("{depth}: your limit, if the map is right"),
    "dries": noted("dries at {flow}"),
    "drowns": noted("drowns at {flow}"),
}
"""Texts of the chart's key."""

GRADES: Mapping[str, str] = {
    "easy": noted("within"),
    "careful": noted("close"),
    "no": noted("beyond"),
    "unknown": noted("unknown"),
}
"""Grades in one word each, in the key of the water's colours."""

TAKEN: Mapping[str, str] = {
    "could": noted("{depth}, could be {most}: take {most}"),
    "much": noted("{depth}, could be far more: treat it as deep"),
    "easy": noted("Within your limits."),
    "careful": noted("Close to your limits: slow down, use a staff."),
    "no": noted("Beyond your limits: stay out."),
    "unknown": noted("Not known: treat it as beyond your limits."),
    "depth": noted("Deeper than your {limit}."),
    "speed": noted("Quicker than your {limit}."),
    "product": noted("Depth x speed is over your {limit}."),
    "chance": noted("The chance of being beyond a limit here, or of no way back, is too great."),
    "by": noted("By the rule: {by}."),
    "zone": noted("Where one gets in and out here"),
}
"""Texts of a tap on wading: depth with margin, grade, deciding limit, the rule, the zone's card."""


def trend_words(trend: str) -> str:
    """Return the trend of a flow, to follow it; empty where it is unknown."""
    return tr(" and {trend}", trend=tr(trend)) if trend in TRENDS else ""


def gauge_sentence(day: str, flow: float, trend: str, units: UnitSystem) -> str:
    """Return the sentence on the end of the gauge's record: day, flow [m3/s] and trend."""
    return tr(READING["record"]).format(
        day=day, read=flow_words(flow, units), trend=trend_words(trend)
    )

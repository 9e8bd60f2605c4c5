"""Texts of the map's page on the phone's position."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted

POSITION: Mapping[str, str] = {
    "show": noted("Show where I am"),
    "turn": noted("Turn the map: downstream up"),
    "north": noted("Turn the map: north up"),
    "north_up": noted("North is up"),
    "turned": noted("North is where the arrow points"),
    "seeking": noted("Looking for your place."),
    "here": noted("You: {what}"),
    "good": noted("your place is good to {far}"),
    "dry": noted("dry ground"),
    "deep": noted("{depth} deep"),
    "off": noted("You are off this map: it says nothing of the water here."),
    "rough": noted(
        "Your place is good to {far} only: too rough to tell the water. Look at the river."
    ),
    "easy": noted("within your limits"),
    "careful": noted("close to your limits"),
    "no": noted("BEYOND YOUR LIMITS: go back the way you came"),
    "unknown_water": noted("UNKNOWN WATER: treat it as deep and fast"),
    "careful_near": noted(
        "Within {far} of you the water is close to your limits, to {depth} deep."
    ),
    "no_near": noted("Within {far} of you the water is BEYOND YOUR LIMITS, to {depth} deep."),
    "unknown_near": noted("Within {far} of you there is UNKNOWN water: treat it as deep and fast."),
    "silent": noted("This map says nothing of {read}: stay out by it."),
    "run": noted("In {run}"),
    "stand": noted("stand {code} {far} {way}"),
    "down": noted("downstream"),
    "up": noted("upstream"),
    "across": noted("across"),
    "none": noted("no stand on this bank at this flow"),
    "stale": noted("Your place was last found {ago} ago: nothing is told of it."),
    "lost": noted("Your place is not found. Go by the river."),
    "refused": noted(
        "The browser may not tell this page where you are: allow it in the browser's "
        "settings for this page."
    ),
    "refused_file": noted(
        "This browser refuses your place to a page opened from a file. Put the map on "
        "a site of your own (build --site), or carry the GPX file in the phone's GPS."
    ),
    "refused_plain": noted(
        "A browser tells your place only to a page that came over https, and this "
        "one did not. Put the map on a site of your own (build --site), or carry the GPX file."
    ),
    "warning": noted(
        "A phone's place is often 5 to 20 m off, more under trees and rock walls. Your "
        "staff and your eyes come first."
    ),
}
"""Texts on the phone's position; names in braces are filled in by the page."""

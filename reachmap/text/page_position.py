"""Texts of the map's page on the phone's position."""

from __future__ import annotations

from collections.abc import Mapping

POSITION: Mapping[str, str] = {
    "show": "Show where I am",
    "turn": "Turn the map: downstream up",
    "north": "Turn the map: north up",
    "north_up": "North is up",
    "turned": "North is where the arrow points",
    "seeking": "Looking for your place.",
    "here": "You: {what}",
    "good": "your place is good to {far}",
    "dry": "dry ground",
    "deep": "{depth} deep",
    "off": "You are off this map: it says nothing of the water here.",
    "rough": "Your place is good to {far} only: too rough to tell the water. Look at the river.",
    "easy": "within your limits",
    "careful": "close to your limits",
    "no": "BEYOND YOUR LIMITS: go back the way you came",
    "unknown_water": "UNKNOWN WATER: treat it as deep and fast",
    "careful_near": "Within {far} of you the water is close to your limits, to {depth} deep.",
    "no_near": "Within {far} of you the water is BEYOND YOUR LIMITS, to {depth} deep.",
    "unknown_near": "Within {far} of you there is UNKNOWN water: treat it as deep and fast.",
    "silent": "This map says nothing of {read}: stay out by it.",
    "run": "In {run}",
    "stand": "stand {code} {far} {way}",
    "down": "downstream",
    "up": "upstream",
    "across": "across",
    "none": "no stand on this bank at this flow",
    "stale": "Your place was last found {ago} ago: nothing is told of it.",
    "lost": "Your place is not found. Go by the river.",
    "refused": "The browser may not tell this page where you are: allow it in the browser's "
    "settings for this page.",
    "refused_file": "This browser refuses your place to a page opened from a file. Put the map on "
    "a site of your own (build --site), or carry the GPX file in the phone's GPS.",
    "refused_plain": "A browser tells your place only to a page that came over https, and this "
    "one did not. Put the map on a site of your own (build --site), or carry the GPX file.",
    "warning": "A phone's place is often 5 to 20 m off, more under trees and rock walls. Your "
    "staff and your eyes come first.",
}
"""Texts on the phone's position; names in braces are filled in by the page."""

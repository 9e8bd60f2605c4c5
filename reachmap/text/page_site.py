"""Texts of a map page on the angler's own web host (installable page)."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted

SITE: Mapping[str, str] = {
    "unkept": noted("Not kept yet: stay on the net a moment."),
    "kept": noted("Kept on this phone: map of {day}"),
    "newer": noted("A newer map is here."),
    "load": noted("Load it"),
    "failed": noted("This browser does not keep this page: save it as a file, or stay on the net."),
}
"""Texts on the page's offline copy; names in braces are filled in by the page."""

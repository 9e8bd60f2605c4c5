"""Common style of all pages: colours by day and by night, type, and the side panel of the map."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

HERE = files("reachmap.outputs.theme")


@cache
def page_style(*, ledger: bool = False, document: bool = False) -> str:
    """Return the common style sheet, which precedes a page's own.

    Parameters
    ----------
    ledger
        Whether the page has a side panel next to a map, which on a phone slides over it.
    document
        Whether the page is a document read from top to bottom.
    """
    more = (("ledger.css", ledger), ("document.css", document))
    names = ("colours.css", "every.css", *(name for name, wanted in more if wanted))
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in names)

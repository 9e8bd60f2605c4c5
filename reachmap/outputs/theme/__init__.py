"""The look that every page shares: colours by day and by night, type, and the ledger by a map."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

HERE = files("reachmap.outputs.theme")


@cache
def page_style(*, ledger: bool = False, document: bool = False) -> str:
    """Return the style sheet that comes before a page's own.

    Parameters
    ----------
    ledger
        Whether the page is a ledger beside a map, which on a phone slides over it.
    document
        Whether the page is read from top to bottom.
    """
    more = (("ledger.css", ledger), ("document.css", document))
    names = ("colours.css", "every.css", *(name for name, wanted in more if wanted))
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in names)

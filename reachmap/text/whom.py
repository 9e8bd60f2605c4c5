"""Who fishes, in words: on the page, the sheet, files for a GPS and the terminal alike."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import figures_text, noted, tr
from reachmap.base.words import Side
from reachmap.markup.plan_parts import Outing

WHOM: Mapping[str, str] = {
    "foot": noted("on foot"),
    "boat": noted("by boat"),
    "": noted("the better bank"),
    "left": noted("river left"),
    "right": noted("river right"),
    "both": noted("both banks"),
    "hours": noted("{hours} h"),
}
"""Parts of who fishes; a bank by its side, "both" for those who can cross or come by boat."""

FORM: Mapping[str, str] = {
    "title": noted("Who fishes"),
    "way": noted("How you come"),
    "bank": noted("Bank"),
    "hours": noted("Hours, ways between included"),
    "cross": noted("both banks: I can cross"),
    "back": noted("Back to the folder's"),
    "changed": noted("Your choice: {whom}. Sheet and GPS files hold the folder's: {own}."),
    "unkept": noted("This browser keeps no choice: it holds until the page is closed."),
}
"""What the page's form says."""


def whom_words(outing: Outing) -> str:
    """Return for whom a list is made.

    Examples
    --------
    >>> whom_words(Outing())
    'on foot, the better bank, 6 h'
    >>> whom_words(Outing(boat=True, bank=Side.LEFT, hours=4.5))
    'by boat, river left, 4.5 h'
    """
    way = tr(WHOM["boat" if outing.boat else "foot"])
    hours = tr(WHOM["hours"]).format(hours=figures_text(outing.hours))
    return f"{way}, {tr(WHOM[bank_of(outing)])}, {hours}"


def list_for_words(outing: Outing) -> str:
    """Return whose list a sheet, a file for a GPS or a terminal holds, as one sentence.

    Examples
    --------
    >>> list_for_words(Outing())
    'List for: on foot, the better bank, 6 h (as reach.toml says).'
    """
    return tr("List for: {outing} (as reach.toml says).", outing=whom_words(outing))


def bank_of(outing: Outing) -> str:
    """Return the bank one fishes: a side, "both", or "" for the better one."""
    if outing.bank is not None:
        return Side(outing.bank).value
    return "both" if outing.both_banks else ""

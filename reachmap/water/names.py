"""Generated names for runs the angler did not name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from reachmap.water.gather import Run
from reachmap.water.stretches import Sections

AGAIN = " (second of the name)"

_PLACE = rf"(?:, (?:upper|middle|lower|\d+))?(?:{re.escape(AGAIN)})*"
_CUT = rf"(?: (?:left|right|island side|tailout))?{_PLACE}"
"""Suffix of a name: bank and place along the river, by which older builds numbered the runs of a
drawn one."""


def without_place(name: str) -> str:
    """Return a run's name without its place along the river: "Long Alder left" of ".., upper"."""
    return re.sub(rf"{_PLACE}$", "", name, flags=re.IGNORECASE)


def drawn_name(name: str, drawn: Iterable[str]) -> str:
    """Return the drawn name that a run's name was made from, the longest that fits; "" for none.

    Capitals and blanks do not count.

    Examples
    --------
    >>> drawn_name("long alder left, upper", ["Long Alder", "Alder"])
    'Long Alder'
    """
    plain = " ".join(name.split())
    fits = [
        one
        for one in drawn
        if re.fullmatch(re.escape(" ".join(one.split())) + _CUT, plain, re.IGNORECASE)
    ]
    return max(fits, key=len, default="")


def give_names(runs: Sequence[Run], sections: Sections, names: Mapping[int, str]) -> None:
    """Give a name to every run that has none: an earlier one, or that of its stretch.

    Parameters
    ----------
    runs
        Those that were drawn bear their name already.
    sections
        Of the main line.
    names
        Names of stretches by number that were given before.

    Notes
    -----
    No name stands twice: where a drawn run bears it, the other says so.
    """
    taken = {run.name for run in runs if run.name}
    for run in runs:
        if run.name:
            continue
        run.name = names.get(run.stretch) or sections.name(run.stretch)
        while run.name in taken:
            run.name += AGAIN
        taken.add(run.name)

"""Generated names for runs the angler did not name."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

import geopandas as gpd

from reachmap.base.words import Side, WaterKind
from reachmap.water.bends import Bend

if TYPE_CHECKING:
    from reachmap.water.gather import Run

BANKS = {Side.ISLAND.value: "island side", "": "tailout"}
"""How a bank is called in a run's name where its own word would not do; a tailout has none."""
PLACES = {2: ("upper", "lower"), 3: ("upper", "middle", "lower")}
AGAIN = " (second of the name)"

_PLACE = rf"(?:, (?:upper|middle|lower|\d+))?(?:{re.escape(AGAIN)})*"
_CUT = rf"(?: (?:left|right|{'|'.join(BANKS.values())}))?{_PLACE}"
"""What `own_names` and `give_names` put behind a name."""


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


def give_names(
    runs: Sequence[Run], pieces: gpd.GeoDataFrame, bends: Sequence[Bend], width: float
) -> None:
    """Give a name to every run that has none: "Bend 2 left", "Straight 1 right edge, upper".

    Bends and straights count downstream and keep their numbers at every flow. Where runs would
    share a name, their place along the river tells them apart.
    """
    taken = {run.name for run in runs if run.name}
    alike: dict[str, list[Run]] = {}
    for run in sorted((run for run in runs if not run.name), key=lambda run: (run.start, run.end)):
        alike.setdefault(_plain_name(run, pieces, bends, width), []).append(run)
    for name, group in alike.items():
        for run, place in zip(group, _places(len(group)), strict=True):
            run.name = f"{name}, {place}" if place else name
            while run.name in taken:
                run.name += AGAIN
            taken.add(run.name)


def own_names(
    own: Sequence[Run], runs: Sequence[Run], belongs: Callable[[Run, Run], bool]
) -> list[Run]:
    """Give the angler's names to the runs that lie in theirs; return those of theirs without any.

    Parameters
    ----------
    own
        The angler's runs, in the order they were drawn: the first that holds a run names it.
    runs
        What was gathered; those that are named are changed.
    belongs
        Whether a run lies in one of the angler's.

    Notes
    -----
    A run alone in one of theirs keeps the name and the outline as drawn. Of several, those on the
    bank of the best keep the name; "left", "right" or "island side" is added for others, "upper"
    and "lower" along the river: "Long Alder, lower", "Long Alder left".
    """
    empty = []
    for mine in own:
        held = [run for run in runs if not run.name and belongs(run, mine)]
        if not held:
            empty.append(mine)
        elif len(held) == 1:
            held[0].outline = mine.outline
        best = max(held, key=lambda run: run.worth).side if held else ""
        for side in dict.fromkeys(run.side for run in held):
            base = mine.name if side == best else f"{mine.name} {BANKS.get(side, side)}"
            there = sorted((r for r in held if r.side == side), key=lambda r: (r.start, r.end))
            for run, place in zip(there, _places(len(there)), strict=True):
                run.name = f"{base}, {place}" if place else base
                run.named_by = "angler"
    return empty


def _places(count: int) -> tuple[str, ...]:
    """Return words for places along the river, downstream; one place needs none."""
    if count == 1:
        return ("",)
    return PLACES.get(count, tuple(str(number) for number in range(1, count + 1)))


def _plain_name(run: Run, pieces: gpd.GeoDataFrame, bends: Sequence[Bend], width: float) -> str:
    """Return what an angler would call a run for want of a better name."""
    mine = pieces.loc[run.members]
    kind = Counter(mine["kind"]).most_common(1)[0][0] if len(mine) else WaterKind.SOFT_EDGE.value
    sides = Counter(side for side in mine["side"] if side != Side.ISLAND)
    side = sides.most_common(1)[0][0] if sides else Side.ISLAND.value
    middle = 0.5 * (run.start + run.end)
    bend = _bend_at(bends, middle, width)
    place = f"Bend {bend.number}" if bend is not None else f"Straight {_straight(bends, middle)}"
    if kind == WaterKind.TAILOUT:
        return f"{place} tailout"
    if kind == WaterKind.EVEN_RUN:
        return f"{place} {side} run"
    if kind == WaterKind.SEAM:
        return f"{place} {side} seam"
    if kind == WaterKind.INSIDE_BEND and bend is not None and side == bend.inside:
        return f"{place} {side}"
    return f"{place} {side} edge"


def _bend_at(bends: Sequence[Bend], station: float, width: float) -> Bend | None:
    """Return the bend a station lies in, or just below."""
    for bend in bends:
        if bend.station_m <= station <= bend.station_end_m + 0.5 * width:
            return bend
    return None


def _straight(bends: Sequence[Bend], station: float) -> int:
    """Return the number of the straight a station lies in: 1 above the first bend, and so on."""
    return 1 + sum(bend.station_end_m < station for bend in bends)

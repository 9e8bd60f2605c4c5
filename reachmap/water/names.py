"""Plain names for runs nobody named."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import geopandas as gpd

from reachmap.base.words import Side, WaterKind
from reachmap.water.bends import Bend

if TYPE_CHECKING:
    from reachmap.water.runs import Run

LETTERS = "abcdefghijklmnopqrstuvwxyz"


def give_names(
    runs: Sequence[Run], pieces: gpd.GeoDataFrame, bends: Sequence[Bend], width: float
) -> None:
    """Give a name to every run that has none: "Bend 2 left", "Tailout 3", "Straight 1 right".

    Bends and straights count downstream and keep their numbers at every flow. Where two runs would
    share a name, a letter tells them apart, downstream.
    """
    nameless = sorted((run for run in runs if not run.name), key=lambda run: (run.start, run.end))
    plain = [_plain_name(run, pieces, bends, width) for run in nameless]
    taken = {run.name for run in runs if run.name}
    counts = Counter(plain)
    used: Counter[str] = Counter()
    for run, name in zip(nameless, plain, strict=True):
        full = name
        while (full == name and counts[name] > 1) or full in taken:
            number = used[name]
            full = f"{name} {LETTERS[number % 26] * (1 + number // 26)}"
            used[name] += 1
        run.name = full
        taken.add(full)


def _plain_name(run: Run, pieces: gpd.GeoDataFrame, bends: Sequence[Bend], width: float) -> str:
    """Return what an angler would call a run for want of a better name."""
    kinds = Counter(pieces.loc[run.members, "kind"])
    kind = kinds.most_common(1)[0][0] if kinds else WaterKind.SOFT_EDGE.value
    middle = 0.5 * (run.start + run.end)
    bend = _bend_at(bends, middle, width)
    side = run.side
    if bend is not None and side == bend.inside.value and kind == WaterKind.INSIDE_BEND:
        return f"Bend {bend.number} {side}"
    place = f"bend {bend.number}" if bend is not None else f"straight {_straight(bends, middle)}"
    if kind == WaterKind.TAILOUT:
        return f"Tailout, {place}"
    if kind == WaterKind.SEAM:
        return f"Seam, {place} {side}"
    if side == Side.ISLAND:
        return f"Island edge, {place}"
    return f"{place[0].upper()}{place[1:]} {side} edge"


def _bend_at(bends: Sequence[Bend], station: float, width: float) -> Bend | None:
    """Return the bend a station lies in, or just below."""
    for bend in bends:
        if bend.station_m <= station <= bend.station_end_m + 0.5 * width:
            return bend
    return None


def _straight(bends: Sequence[Bend], station: float) -> int:
    """Return the number of the straight a station lies in: 1 above the first bend, and so on."""
    return 1 + sum(bend.station_end_m < station for bend in bends)

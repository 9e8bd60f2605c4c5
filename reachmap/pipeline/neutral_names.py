"""Stand-ins for the names of runs: nothing computed depends on what a run is called.

Runs are followed, scored and listed under stand-ins; names take their place in what is handed on.
So a renamed run changes words alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import pandas as pd

from reachmap.markup.model import NamedRun
from reachmap.water.names import AGAIN
from reachmap.water.stretches import BANKS, Sections

DRAWN, FOUND = "\x02", "\x03"
"""First signs of stand-ins: of a drawn run, by its place in the drawing, and of a stretch, by its
number. No name holds control characters, and drawn runs sort before the others."""

COLUMNS = ("run", "instead")
"""Columns of layers and tables that hold names of runs."""


def without_names(runs: Sequence[NamedRun]) -> tuple[NamedRun, ...]:
    """Return drawn runs under stand-ins."""
    return tuple(replace(run, name=f"{DRAWN}{k:06d}") for k, run in enumerate(runs))


def stand_ins(sections: Sections) -> dict[int, str]:
    """Return the stand-in of every stretch, by its number."""
    last = sections.number(len(sections.sections) - 1, BANKS[-1])
    return {number: f"{FOUND}{number:06d}" for number in range(1, last + 1)}


@dataclass(frozen=True, slots=True)
class RunNames:
    """Names of runs by stand-in, and back."""

    names: Mapping[str, str]

    @classmethod
    def of(
        cls,
        used: Iterable[str],
        drawn: Sequence[NamedRun],
        sections: Sections,
        kept: Mapping[int, str],
    ) -> RunNames:
        """Return the names of runs.

        Parameters
        ----------
        used
            The stand-ins in use.
        drawn
            The angler's own runs: their names win.
        sections
            Of the main line, with the default name of each stretch.
        kept
            Names of stretches by number that an earlier build gave.

        Notes
        -----
        No name stands twice: where a drawn run bears it, the other says so.
        """
        taken = {run.name for run in drawn}
        names = {}
        for one in sorted(set(used)):
            if one.startswith(DRAWN):
                names[one] = drawn[int(one[1:7])].name
            elif one:
                number = int(one[1:7])
                name = kept.get(number) or sections.name(number)
                while name in taken:
                    name += AGAIN
                taken.add(name)
                names[one] = name
        return cls(names)

    def of_run(self, stand_in: str) -> str:
        """Return the name of a run; empty for none."""
        return self.names[stand_in] if stand_in else ""

    def stand_in(self, name: str) -> str:
        """Return the stand-in of a name; the name itself where no run bears it."""
        return next((one for one, known in self.names.items() if known == name), name)

    def table(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Return a table with names in place of stand-ins."""
        return frame.assign(**self._columns(frame))

    def layer(self, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        """Return a layer with names in place of stand-ins."""
        return frame.assign(**self._columns(frame))

    def _columns(self, frame: pd.DataFrame) -> dict[str, pd.Series]:
        """Return the columns of names that a frame has, filled in."""
        return {
            name: frame[name].map(lambda one: self.of_run(str(one))).astype(frame[name].dtype)
            for name in COLUMNS
            if name in frame
        }

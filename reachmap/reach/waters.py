"""Several home waters: built together, and their coming days side by side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from reachmap.base.progress import Progress
from reachmap.base.words import UnitSystem
from reachmap.markup.files import folder_units
from reachmap.markup.waters import Water, read_waters
from reachmap.planner.days import Days
from reachmap.planner.waters import WatersDay, waters_days
from reachmap.reach.days import DaysAsked, coming_days


@dataclass(frozen=True, slots=True)
class Week:
    """The coming days of several waters.

    Parameters
    ----------
    home
        Name of the folder that holds them.
    waters, days, units
        The waters that could be read, their coming days and their folders' units.
    table
        For each day the waters to drive to, in order.
    failed
        The other waters, each with its error.
    """

    home: str
    waters: tuple[Water, ...]
    days: tuple[Days, ...]
    units: tuple[UnitSystem, ...]
    table: tuple[WatersDay, ...]
    failed: tuple[tuple[Water, Exception], ...]

    @property
    def drives(self) -> tuple[float, ...]:
        """Return the minutes of the drive to each water; NaN where not given."""
        return tuple(water.drive_min for water in self.waters)


def coming_week(
    folder: Path,
    asked: DaysAsked,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> Week:
    """Return the coming days of every water of a folder; what is not built is built first.

    Parameters
    ----------
    folder
        A folder of reach folders, `waters.toml` in it or not.
    asked
        Options for each water; the forecast is taken from waters.toml.
    progress, workers
        As for `coming_days`.

    Raises
    ------
    MarkupError
        If waters.toml cannot be read or there is no reach folder. A water that fails is in
        `failed`, and stops no other.
    """
    read, days, units, failed = [], [], [], []
    waters = read_waters(folder)
    for number, water in enumerate(waters):
        progress(f"reading {water.folder.name}", number, len(waters))
        try:
            found = coming_days(
                water.folder,
                None,
                replace(asked, forecast=water.forecast),
                progress=progress,
                workers=workers,
            )
        except Exception as error:  # noqa: BLE001 - whatever it is, it must not hide other waters
            failed.append((water, error))
            continue
        read.append(water)
        days.append(found)
        units.append(folder_units(water.folder))
    table = waters_days(days, [one.drive_min for one in read])
    home = folder.resolve().name
    return Week(home, tuple(read), tuple(days), tuple(units), table, tuple(failed))

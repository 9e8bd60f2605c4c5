"""What the days behind a storm are worth: python -m scripts.days_judge [DIR].

DIR is a reach folder, the sample's where none is given (built first if it is not). Prints one row a
day: days since the peak and since it came into shape, limb, flow, clarity, shares and worth, as in
docs/days.md.
"""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import numpy as np

from reachmap.base.units import from_si
from reachmap.reach.days import DaysAsked, coming_days

SAMPLE = Path(__file__).resolve().parent.parent / "data_samples" / "madeup_river"
NOW = datetime(2030, 1, 12, 8)  # noqa: DTZ001 - on the clock of the place


def main() -> int:
    """Print the table."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE
    found = coming_days(folder, None, DaysAsked(now=NOW, days=10))
    print(
        "day | after the peak | in shape for | limb | cfs | sees ft | clear | drop | fresh | worth"
    )
    for index, day in enumerate(found.days):
        middle = day.hours.times.size // 2
        worth = day.worth
        cells = (
            f"{day.light.day:%a %d}",
            f"{day.since_peak:.1f} d",
            "" if np.isnan(day.since_fishable) else f"{day.since_fishable:.1f} d",
            str(day.phase),
            f"{from_si(float(day.hours.flow[middle]), 'cfs'):.0f}",
            f"{from_si(day.hours.clarity[middle].metres, 'ft'):.1f}",
            f"{worth.clear[middle]:.2f}",
            f"{worth.drop[middle]:.2f}",
            f"{worth.fresh[middle]:.2f}",
            f"{day.score:.0f}{' best' if index == found.best else ''}",
        )
        print(" | ".join(cells))
    return 0


if __name__ == "__main__":
    sys.exit(main())

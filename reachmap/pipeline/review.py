"""The season review of a reach folder: log, last build and gauge joined."""

from __future__ import annotations

import json
import math
from datetime import timedelta
from pathlib import Path

from reachmap.base.generation import REPORT
from reachmap.logbook.model import Entry
from reachmap.logbook.review import OddsAt, Review, make_review, odds_rows
from reachmap.logbook.store import kept_in
from reachmap.markup.gauge_of_folder import GaugeBook
from reachmap.pipeline.run_book import RunBook
from reachmap.pipeline.stamp import settled_folder

LIMB_HOURS = 12.0
"""A limb is told by the record so long before a trip and after it [h]; our choice, 6-24."""

LIMB_LOG = 0.05
"""Change of ln flow over a day from which on the river rises or falls; as for the coming days."""


def season_review(folder: Path) -> Review:
    """Return the season review of a reach folder.

    Raises
    ------
    MarkupError
        If the log or the gauge's files do not read well.
    """
    entries = kept_in(folder)
    book = GaugeBook(folder)

    def limb(entry: Entry) -> str:
        side = timedelta(hours=LIMB_HOURS)
        before, after = book.flow_at(entry.when - side), book.flow_at(entry.when + side)
        if not (before > 0 and after > 0):
            return ""
        change = math.log(after / before) * 12.0 / LIMB_HOURS
        if change > LIMB_LOG:
            return "rising"
        return "falling" if change < -LIMB_LOG else "steady"

    return make_review(entries, RunBook(folder).join(entries), _model(folder), limb)


def _model(folder: Path) -> list[OddsAt]:
    """Return the last build's odds, runs downstream; none where nothing is built."""
    try:
        path = settled_folder(folder, None) / REPORT
        report = json.loads(path.read_text(encoding="utf-8"))
        along = {str(row["run"]): float(row["station_m"] or 0) for row in report["runs_along"]}
        rows = odds_rows(report["runs_by_flow"])
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return sorted(rows, key=lambda one: (along.get(one.run, math.inf), one.run, one.flow))

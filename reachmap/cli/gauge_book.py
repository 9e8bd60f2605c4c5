"""A folder's gauge, looked up for the flow of an hour."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path

import numpy as np

from reachmap.base.fingerprint import digest_files
from reachmap.gauge.model import Gauge
from reachmap.gauge.record import flow_at
from reachmap.markup.gauge_of_folder import folder_gauge, gauge_files


class GaugeBook:
    """A folder's gauge, read once and again when its files change."""

    def __init__(self, folder: Path) -> None:
        """Take the folder; nothing is read before it is asked."""
        self.folder = folder
        self.digests: dict[str, str] | None = None
        self.gauge: Gauge | None = None

    def flow_at(self, when: datetime) -> float:
        """Return the flow of the record at a time [m3/s], NaN where it does not know."""
        digests = digest_files(gauge_files(self.folder), self.folder)
        if digests != self.digests:
            self.gauge = folder_gauge(self.folder).gauge
            self.digests = digests
        if self.gauge is None:
            return math.nan
        return flow_at(self.gauge, np.datetime64(int(when.timestamp()), "s"))

"""Reads the gauge of a reach folder without the drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.fingerprint import digest_files
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.units import LENGTH, flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge
from reachmap.gauge.read import read_gauge
from reachmap.gauge.record import flow_at, flow_of_stage
from reachmap.gauge.stage_flow import rated_range
from reachmap.markup.config import PlanRead, read_plan
from reachmap.markup.files import REACH_FILE, matching, refuse_no_folder, unfit_matches
from reachmap.markup.waters_file import shared_text


@dataclass(frozen=True, slots=True)
class FolderGauge:
    """A folder's gauge, None where no file holds any data, with its files, faults and notes.

    `zone` is the time zone in reach.toml, "" for none.
    """

    gauge: Gauge | None
    files: tuple[Path, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    units: UnitSystem
    zone: str


def folder_gauge(folder: Path) -> FolderGauge:
    """Return the gauge of a reach folder, as far as it can be read.

    Faults of the drawing are ignored here; `check` reports them.
    """
    reach_toml = folder_plan(folder)
    files = matching(folder, reach_toml.gauge.files)
    gauge, faults, notes = read_gauge(files, reach_toml.gauge, reach_toml.plan.units)
    return FolderGauge(
        gauge,
        tuple(files),
        (*unfit_matches(folder, reach_toml.gauge.files, "gauge file"), *faults),
        tuple(notes),
        reach_toml.plan.units,
        reach_toml.gauge.time_zone,
    )


def checked_gauge(folder: Path) -> FolderGauge:
    """Return the gauge of a reach folder.

    Raises
    ------
    MarkupError
        If there is no such folder, or listing every fault of its gauge files.
    """
    refuse_no_folder(folder)
    read = folder_gauge(folder)
    if read.faults:
        raise MarkupError(read.faults)
    return read


def gauge_files(folder: Path) -> list[Path]:
    """Return the gauge's files and reach.toml: the inputs of `folder_gauge`."""
    plan = folder / REACH_FILE
    return [*matching(folder, folder_plan(folder).gauge.files), *([plan] if plan.is_file() else [])]


def folder_plan(folder: Path) -> PlanRead:
    """Return reach.toml as far as it can be read."""
    try:
        text = read_text(folder / REACH_FILE, FileKind.SETTINGS, folder)
    except (RefusedError, OSError):
        text = ""
    return read_plan(text, shared_text(folder)[0])


def rated_flow(folder: Path, stage_m: float, *, where: str) -> float:
    """Return the flow of a gauge height by the folder's rating [m3/s].

    Parameters
    ----------
    folder
        Reach folder.
    stage_m
        Height above the gauge's zero [m].
    where
        Place named in a fault.

    Raises
    ------
    MarkupError
        If the gauge's files are at fault or hold no rating, or the stage lies outside it: a rating
        is not extrapolated.
    """
    read = checked_gauge(folder)
    unit = LENGTH[read.units]
    told = f"{from_si(stage_m, unit):.4g} {unit}"
    span = None if read.gauge is None else rated_range(read.gauge.segments)
    if read.gauge is None or span is None:
        fix = "Ask for a flow, or put a rating table into the folder gauge/"
        raise MarkupError([Fault(where, f"{told} is a gauge height and there is no rating", fix)])
    flow = flow_of_stage(read.gauge, stage_m)
    if not math.isfinite(flow):
        low, high = (flow_words(one, read.units) for one in span)
        found = f"{told} is outside the rating, which knows flows from {low} to {high}"
        raise MarkupError([Fault(where, found, "Ask for a flow, or a height that it covers")])
    return flow


class GaugeBook:
    """Cached gauge of a folder, read again when its files change."""

    def __init__(self, folder: Path) -> None:
        """Keep the folder; nothing is read before the first use."""
        self.folder = folder
        self.digests: dict[str, str] | None = None
        self.gauge: Gauge | None = None

    def flow_at(self, when: datetime) -> float:
        """Return the flow of the record at a time [m3/s], NaN where unknown."""
        digests = digest_files(gauge_files(self.folder), self.folder)
        if digests != self.digests:
            self.gauge = folder_gauge(self.folder).gauge
            self.digests = digests
        if self.gauge is None:
            return math.nan
        return flow_at(self.gauge, np.datetime64(int(when.timestamp()), "s"))

"""Joins what the planner needs: the built reach, the gauge's record, a forecast, notes of clarity.

Slow results are kept in the written folder's cache: the facts of the build under a key of all their
inputs, and the gauge's record under the digests of its files.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.cache import is_good, keep_file
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.fingerprint import digest_files, stage_key
from reachmap.base.progress import Progress
from reachmap.base.safe_files import FileKind, RefusedError, read_text, refusal
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity_data import ClarityNote
from reachmap.gauge.model import GaugeNote
from reachmap.gauge.read import read_gauge
from reachmap.gauge.readers import READ_ENDINGS
from reachmap.gauge.series import NOTHING, Series, Times
from reachmap.gauge.tide import Tide, read_tide
from reachmap.logbook.digest import evidence_digest
from reachmap.logbook.store import kept_in
from reachmap.markup.config import read_plan
from reachmap.markup.files import (
    GAUGE_PATTERNS,
    REACH_FILE,
    RULES_FILE,
    TIDE_FILES,
    matching,
    patterns_of,
    reach_text,
    unfit_matches,
)
from reachmap.markup.found import input_files
from reachmap.markup.model import Plan
from reachmap.markup.waters_file import shared_text
from reachmap.pipeline.kept_facts import BuildOnDemand, kept_facts
from reachmap.pipeline.noted_clarity import notes_of_folder
from reachmap.pipeline.noted_warmth import recorded_warmth
from reachmap.pipeline.stamp import Options, program_digest
from reachmap.planner.facts import VERSION, ReachFacts, reach_facts
from reachmap.planner.facts_json import facts_from, facts_text
from reachmap.planner.rules import Rules
from reachmap.planner.rules_csv import read_rules


@dataclass(frozen=True, slots=True)
class Gathered:
    """Inputs of a reach folder besides its drawing: plan, gauge, record; `out` holds the cache."""

    folder: Path
    out: Path
    plan: Plan
    note: GaugeNote
    record: Series
    rating_key: str
    notes: tuple[str, ...]


def gather(folder: Path, out: Path) -> Gathered:
    """Return plan and record of a reach folder, the record from the cache where it is there.

    Raises
    ------
    MarkupError
        If reach.toml or a gauge file does not read well.
    """
    if not (folder / REACH_FILE).exists():
        fix = "Name a reach folder, or begin one with: reachmap new DIR"
        raise MarkupError([Fault(str(folder), f"it holds no {REACH_FILE}", fix)])
    text, wrong = reach_text(folder)
    shared, unread = shared_text(folder)
    settings = read_plan(text or "", shared)
    wrong += [*unread, *unfit_matches(folder, settings.gauge.files, "gauge file")]
    if wrong:
        raise MarkupError(wrong)
    files = matching(folder, settings.gauge.files)
    key = stage_key(
        "record", 3, {"note": str(settings.gauge), "units": str(settings.plan.units)},
        digest_files(files, folder),
    )  # fmt: skip
    stored = out / "cache" / f"record-{key}.npz"
    if not is_good(stored):
        _keep_record(stored, files, settings.gauge, settings.plan.units)
    os.utime(stored)
    with np.load(stored, allow_pickle=False) as held:
        record = Series(held["times"], held["flow"])
        rating, notes = str(held["rating"]), tuple(str(line) for line in held["notes"])
    return Gathered(folder, out, settings.plan, settings.gauge, record, rating, notes)


def _keep_record(path: Path, files: Sequence[Path], note: GaugeNote, units: UnitSystem) -> None:
    """Read gauge files and store their record with a key of the rating."""
    gauge, faults, notes = read_gauge(files, note, units)
    if faults:
        raise MarkupError(faults)
    series = NOTHING if gauge is None else Series(gauge.times, gauge.flow)
    parts = () if gauge is None else (gauge.segments, gauge.shift, gauge.measured)
    with np.printoptions(threshold=10**9):
        rating = stage_key("rating", 1, {"parts": repr(parts)}, {})

    def write(aside: Path) -> None:
        with aside.open("wb") as stream:
            np.savez(
                stream, times=series.times, flow=series.flow, rating=rating,
                notes=np.array(notes, dtype=str),
            )  # fmt: skip

    keep_file(path, write, Path.read_bytes)


def read_forecast(path: Path, got: Gathered) -> Series:
    """Return the flow a forecast file holds; its stages go through the folder's own rating.

    Raises
    ------
    MarkupError
        If it does not read well or holds no flow.
    """
    paths = _of_one_run(path) if path.is_dir() else [path]
    units = got.plan.units
    gauge, faults, notes = read_gauge(paths, got.note, units, forecast=True)
    if not faults and (gauge is None or not np.isfinite(gauge.flow).any()):
        every = [*paths, *_ratings(got)]
        gauge, faults, notes = read_gauge(every, got.note, units, forecast=True)
    if faults:
        raise MarkupError(faults)
    if gauge is None or not np.isfinite(gauge.flow).any():
        raise MarkupError([_no_flow(path, notes)])
    return Series(gauge.times, gauge.flow)


def _of_one_run(folder: Path) -> list[Path]:
    """Return the files of a folder that together are one forecast: a model's, hour by hour."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in READ_ENDINGS
        and not path.name.startswith(".")
        and refusal(path, FileKind.RECORD, folder) is None
    )


def _ratings(got: Gathered) -> list[Path]:
    """Return the gauge files that hold a rating and no record."""
    found = []
    for path in matching(got.folder, got.note.files):
        gauge, _, _ = read_gauge([path], got.note, got.plan.units)
        if gauge is not None and gauge.segments and not gauge.times.size:
            found.append(path)
    return found


def _no_flow(path: Path, notes: Sequence[str]) -> Fault:
    """Return the fault of a forecast without flow."""
    found = "it holds no flow" + (f" ({notes[0]})" if notes else "")
    return Fault(f"--forecast {path.name}", found, "Give times with flows, like time,flow_cfs")


def clarity_notes(got: Gathered, files: Sequence[Path], zone: ZoneInfo) -> list[ClarityNote]:
    """Return all notes of clarity: the folder's, those of named files, and the log's."""
    return notes_of_folder(got.folder, got.plan.units, zone, got.record, files)


def water_readings(got: Gathered, zone: ZoneInfo) -> tuple[Times, FloatArray]:
    """Return every reading of the water's temperature, the log's and the folder's (UTC) [C].

    Raises
    ------
    MarkupError
        Listing every row that makes no sense.
    """
    logged = [entry for entry in kept_in(got.folder) if not math.isnan(entry.water_c)]
    times, celsius = recorded_warmth(got.folder, got.plan.units, zone)
    when = [np.datetime64(int(entry.when.timestamp()), "s") for entry in logged]
    return (
        np.r_[np.array(when, dtype="datetime64[s]"), times],
        np.r_[np.array([entry.water_c for entry in logged], dtype=np.float64), celsius],
    )


def rules_of(got: Gathered, runs: Sequence[str]) -> Rules:
    """Return the rules that the angler looked up; none where there is no file.

    Raises
    ------
    MarkupError
        Listing every row that makes no sense.
    """
    path = got.folder / RULES_FILE
    if not path.exists():
        return Rules()
    rules, faults = read_rules(path.name, _text(path, got.folder), runs)
    if faults:
        raise MarkupError(faults)
    return Rules(rules)


def tide_of(got: Gathered, zone: ZoneInfo) -> Tide | None:
    """Return the tide table of the folder; None where there is none.

    Raises
    ------
    MarkupError
        Listing every row that makes no sense.
    """
    for path in sorted(got.folder.glob(TIDE_FILES)):
        tide, faults = read_tide(path.name, _text(path, got.folder), got.plan.units, zone)
        if faults:
            raise MarkupError(faults)
        return tide
    return None


def _text(path: Path, home: Path) -> str:
    """Return the text of a file of the folder."""
    try:
        return read_text(path, FileKind.TEXT, home)
    except RefusedError as error:
        raise MarkupError([Fault(path.name, error.found, error.fix)]) from None


def build_on_demand(
    got: Gathered, options: Options, *, progress: Progress, workers: int
) -> BuildOnDemand:
    """Return the build of a folder with these options, made only when its facts need it.

    `progress` and `workers` are as for `build_reach`.
    """
    return BuildOnDemand(got.folder, got.out, options, progress, workers)


def facts_of(got: Gathered, build: BuildOnDemand) -> ReachFacts:
    """Return the facts of a build, built first where they are not stored.

    Notes
    -----
    A new reading in a gauge file changes no fact: the key holds the rating, not the record.
    """

    def make() -> ReachFacts:
        from reachmap.pipeline.settings import settings_for  # a stored answer needs none of it

        product = build.product
        settings = settings_for(build.reach, build.options)
        return reach_facts(
            build.reach,
            product.report,
            product.read.layers,
            dict(zip(product.read.labels, product.read.flows, strict=True)),
            angler=settings.angler,
            shape_score=settings.water.score.shape_score,
            preview=product.preview,
        )

    path = got.out / "cache" / f"facts-{facts_key(got, build.options)}.json"
    return kept_facts(path, facts_from, facts_text, make)


def facts_key(got: Gathered, options: Options) -> str:
    """Return the key of the facts: program, options, rating and every input but the record.

    Of the log only its evidence on bed and water counts.
    """
    settings: Mapping[str, Any] = {"gauge": {"files": list(got.note.files)}}
    gauge = set(matching(got.folder, patterns_of(settings, "gauge", GAUGE_PATTERNS)))
    files = [path for path in input_files(got.folder) if path not in gauge]
    return stage_key(
        "facts",
        VERSION,
        {
            "program": program_digest(),
            "rating": got.rating_key,
            "log_evidence": evidence_digest(got.folder),
            **asdict(options),
        },
        digest_files(files, got.folder),
    )

"""Content of report.json: inputs, results, closure errors and confidence."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from importlib.metadata import version
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap.base.arrays import BoolArray, CodeArray
from reachmap.base.centreline import Centreline
from reachmap.base.patches import EIGHT, cells_of, steps_in
from reachmap.base.units import flow_words
from reachmap.base.version import VERSION
from reachmap.base.words import UnitSystem, Wet
from reachmap.flow.nodes import LeftOut, expected_errors
from reachmap.flow.notes import VALUES, FlowNote, NoteKind, notes_of
from reachmap.gauge.record import last_reading, nearest_flow
from reachmap.ground.cell_size import CellChoice, CellReason
from reachmap.ground.used import facts_of
from reachmap.markup.evidence import warnings_first
from reachmap.markup.model import Markup
from reachmap.outputs.product import CardOf
from reachmap.pipeline.foot import foot_report
from reachmap.pipeline.rungs import Nodes
from reachmap.pipeline.settings import Settings, lie_limits
from reachmap.pipeline.solving import Solved
from reachmap.pipeline.wading_terms import wading_terms
from reachmap.text.cells import cell_words
from reachmap.text.evidence import set_aside_words
from reachmap.text.files import file_rows
from reachmap.text.flow_notes import between_words, flow_notes_text
from reachmap.text.ground_notes import ground_sentences
from reachmap.text.honest import cannot_say, cheapest, given_of
from reachmap.text.lie_warmth import lie_words
from reachmap.text.made_from import made_from
from reachmap.text.run_card import no_water_line, run_card_lines
from reachmap.text.water import unknown_tailouts
from reachmap.water.known_bed import known_bed_shares

FORMAT = 1

LIBRARIES = ("numpy", "scipy", "xarray", "shapely", "geopandas", "rasterio", "numba", "networkx")


def make_report(
    reach: Markup,
    terrain: xr.Dataset,
    flowing: xr.Dataset,
    layers: Mapping[str, gpd.GeoDataFrame],
    settings: Settings,
    solved: Solved,
    seconds: Mapping[str, float],
) -> dict[str, Any]:
    """Return the report as plain JSON values; NaN becomes null.

    Parameters
    ----------
    reach, terrain, settings, solved
        Drawing, ground, settings and solved flows of the build.
    flowing, layers
        At the flows shown.
    seconds
        How long the stages made afresh took.
    """
    choice = settings.cell_choice or given_cell(terrain)
    known_shares = known_bed_shares(terrain, flowing, settings.water.tailouts)
    left_out = solved.nodes.left_out
    usual = lie_limits(settings.water.limits.season, reach.plan.lies)
    foot = foot_report(terrain, settings.flow, reach.plan.units)
    more = [*unknown_tailouts(known_shares), *([foot["words"]] if foot["refused"] else [])]
    return {
        "format": FORMAT,
        "name": reach.plan.name,
        "invented": "invented" in reach.plan.name.lower(),
        "versions": _versions(),
        "crs": reach.crs,
        "cell_m": settings.ground.cell,
        "cell": cell_facts(choice, reach.plan.units),
        "wading_terms": wading_terms(reach, terrain, flowing, settings),
        "season": str(settings.water.limits.season),
        "inputs": dict(reach.digests),
        "folder_files": file_rows(reach.files),
        "water_c": None if settings.warmth is None else settings.warmth.celsius,
        "made_from": [
            *made_from(reach),
            *lie_words(settings.warmth, settings.water.lies.limits, usual, reach.plan.units),
            *(foot["words"], cell_words(choice, reach.plan.units)),
        ],
        "cannot_say": cannot_say(given_of(reach)),
        "cheapest": cheapest(given_of(reach)),
        "foot": foot,
        "confidence": _confidence(terrain, flowing),
        "tailouts": {"told_share": known_shares},
        "warnings": _warnings(reach, terrain, flowing, solved.nodes, more),
        "solved": _solved(solved.nodes, left_out, settings.rungs),
        "method": str(flowing.attrs.get("method", "")),
        "gauge": _gauge(reach, flowing),
        "flows": [
            _flow(flowing, layers, index, settings, reach.plan.units)
            for index in range(flowing.sizes["flow"])
        ],
        "counts": {name: len(frame) for name, frame in sorted(layers.items())},
        "seconds": {stage: round(value, 3) for stage, value in seconds.items()},
    }


def given_cell(terrain: xr.Dataset) -> CellChoice:
    """Return the size of cells that was given by an option, as a choice."""
    line = Centreline.of(terrain)
    cell = float(terrain.attrs["cell"])
    return CellChoice(cell, line.median_width, line.length, CellReason.ASKED)


def cell_facts(choice: CellChoice, units: UnitSystem) -> dict[str, Any]:
    """Return the size of the cells and why as plain JSON values, and in words."""
    return {
        "side_m": choice.cell_m,
        "river_width_m": _number(choice.width_m),
        "river_length_m": _number(choice.length_m),
        "across": _number(choice.across),
        "reason": str(choice.reason),
        "words": cell_words(choice, units),
    }


def run_tables(
    table: pd.DataFrame, card_of: CardOf, settings: Settings, units: UnitSystem
) -> dict[str, Any]:
    """Return the table of runs by flow and the run cards in words as plain JSON values.

    Parameters
    ----------
    table, card_of
        Table of runs, and what gives the card of a run at a flow.
    settings, units
        Settings of the build, for the flows shown, and the folder's units.
    """
    rows = [
        {str(name): _plain(value) for name, value in row.items()}
        for row in table.to_dict(orient="records")
    ]
    cards: dict[str, dict[str, list[str]]] = {}
    for run, flow, label in zip(table["run"], table["flow"], table["flow_label"], strict=True):
        if flow not in settings.flows:
            continue
        card = card_of(run, label)
        lines = [no_water_line(run, flow, units)] if card is None else run_card_lines(card, units)
        cards.setdefault(run, {})[label] = lines
    return {"runs_by_flow": rows, "cards": cards}


def _plain(value: Any) -> Any:
    """Return a table's cell as a JSON value; NaN becomes null."""
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return _number(float(value))
    return None if value is None or value is pd.NA else str(value)


def _versions() -> dict[str, str]:
    """Return the versions of reachmap, Python and the libraries that make the numbers."""
    libraries = {name: version(name) for name in LIBRARIES}
    return {
        "reachmap": VERSION,
        "python": platform.python_version(),
        **libraries,
    }


def _confidence(terrain: xr.Dataset, flowing: xr.Dataset) -> dict[str, float | None]:
    """Return the mean confidence of the bed under water at the lowest and the highest flow."""
    sure = terrain["confidence"].to_numpy()
    found: dict[str, float | None] = {}
    for index, label in enumerate(flowing["asked"].to_numpy()):
        wet = flowing["wet"].isel(flow=index).to_numpy() == Wet.YES
        found[str(label)] = _number(float(np.nanmean(sure[wet]))) if wet.any() else None
    return found


def _warnings(
    reach: Markup, terrain: xr.Dataset, flowing: xr.Dataset, nodes: Nodes, more: Sequence[str]
) -> list[str]:
    """Return sentences on contradictions, then on assumptions and rejected evidence, each once."""
    units = reach.plan.units
    notes = [*reach.assumed, *ground_sentences(terrain.attrs, units)]
    shown = flowing["flow"].to_numpy().tolist()
    between = [note for note in notes_of(flowing) if note.kind is NoteKind.INTERPOLATED]
    whose = nodes.flow if len(shown) > 1 else flowing
    notes += set_aside_words(facts_of(terrain.attrs), units)
    notes += flow_notes_text(notes_of(whose), units)
    if between:
        flows = nodes.solved.flows.tolist()
        notes.append(between_words(flows, expected_errors(nodes.solved, nodes.left_out), units))
    notes += more
    return warnings_first(sentence for sentence in dict.fromkeys(notes) if sentence)


def _solved(nodes: Nodes, errors: Sequence[LeftOut], rungs: Sequence[float]) -> dict[str, Any]:
    """Return which flows were solved, the interpolation errors between them, and which were read.

    `left_out`: errors of each solved flow interpolated from the others. `expected`: error between
    each two, root mean square, from those. `notes`: of the solver, with their figures.
    """
    flows = nodes.solved.flows.tolist()
    expected = expected_errors(nodes.solved, errors)
    return {
        "flows_m3_s": flows,
        "left_out": [
            {f"{name}": _number(value) for name, value in asdict(one).items()} for one in errors
        ],
        "expected": [
            {
                "low_m3_s": low,
                "high_m3_s": high,
                "depth_rms_m": _number(float(depth)),
                "speed_rms_m_s": _number(float(speed)),
            }
            for (low, high), (depth, speed) in zip(pairwise(flows), expected, strict=True)
        ],
        "read_m3_s": list(rungs),
        "notes": [_note(note) for note in notes_of(nodes.flow)],
    }


def _note(note: FlowNote) -> dict[str, Any]:
    """Return a note of the flow stage: kind, flow, place, and its values by name."""
    return {
        "kind": str(note.kind),
        "flow_m3_s": note.flow,
        "station_m": None if note.station is None else _number(note.station),
        "name": note.name,
        "values": {
            name: _known(value) for name, value in zip(VALUES[note.kind], note.values, strict=True)
        },
    }


def _gauge(reach: Markup, flowing: xr.Dataset) -> dict[str, Any] | None:
    """Return the last reading of the folder's record and the mapped flow nearest to it."""
    last = None if reach.gauge is None else last_reading(reach.gauge)
    if last is None:
        return None
    nearest = nearest_flow(last.flow, flowing["flow"].to_numpy())
    return {
        "name": reach.gauge.name if reach.gauge else "",
        "flow": last.flow,
        "words": flow_words(last.flow, reach.plan.units),
        "when_utc": str(last.when),
        "trend": str(last.trend),
        "nearest_label": str(flowing["asked"].to_numpy()[nearest]),
    }


def _flow(
    flowing: xr.Dataset,
    layers: Mapping[str, gpd.GeoDataFrame],
    index: int,
    settings: Settings,
    units: UnitSystem,
) -> dict[str, Any]:
    """Return one flow's balance, wetted area and counts."""
    one = flowing.isel(flow=index)
    label = str(one["asked"].to_numpy())
    wet = one["wet"].to_numpy()
    area = settings.ground.cell**2
    return {
        "label": label,
        "words": flow_words(float(one["flow"]), units),
        "flow_m3_s": float(one["flow"]),
        "inflow_m3_s": float(one["inflow"]),
        "outflow_m3_s": _known(float(one["outflow"])),
        "worst_section_error": _known(float(one["imbalance"])),
        "foot_level_m": _number(float(one["foot_level"])),
        "wetted_m2": float((wet == Wet.YES).sum() * area),
        "unknown_m2": float(_touching_water(wet).sum() * area),
        "mean_depth_m": _mean(one["depth"].to_numpy()),
        "mean_speed_m_s": _mean(
            np.hypot(one["east_speed"].to_numpy(), one["north_speed"].to_numpy())
        ),
        "counts": {
            name: int((frame["flow_label"] == label).sum())
            for name, frame in sorted(layers.items())
            if "flow_label" in frame
        },
    }


def _touching_water(wet: CodeArray) -> BoolArray:
    """Return the unknown cells that touch water: there it may be wider than mapped."""
    rows, cols = cells_of(np.asarray(wet == Wet.YES))
    step_row, step_col = steps_in(EIGHT)
    row, col = (rows[:, None] + step_row).ravel(), (cols[:, None] + step_col).ravel()
    inside = (row >= 0) & (row < wet.shape[0]) & (col >= 0) & (col < wet.shape[1])
    touched = np.zeros(wet.shape, dtype=bool)
    touched[row[inside], col[inside]] = True
    return np.asarray(touched & (wet == Wet.UNKNOWN))


def _mean(values: Any) -> float | None:
    """Return the mean of the known values; None without any."""
    known = values[np.isfinite(values)]
    return _number(float(known.mean())) if known.size else None


def _known(value: float) -> float | None:
    """Return a number as it is, None for NaN."""
    return value if np.isfinite(value) else None


def _number(value: float) -> float | None:
    """Return a finite number rounded to four decimals; None for NaN or inf."""
    return round(value, 4) if np.isfinite(value) else None

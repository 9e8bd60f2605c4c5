"""Layers with their columns of sentences, as written to files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import geopandas as gpd
import pandas as pd

from reachmap.base.schema import BY_NAME
from reachmap.base.words import UnitSystem
from reachmap.text.plan import plan_note
from reachmap.text.run_table import run_note
from reachmap.text.station import casts_words, station_note, swing_note, tight_words
from reachmap.text.survey import survey_note
from reachmap.text.zone import bar_note, zone_note

Row = Mapping[str, Any]
SentenceMaker = Callable[[Row], str]


def written_layer(
    name: str, frame: gpd.GeoDataFrame, table: pd.DataFrame, units: UnitSystem
) -> gpd.GeoDataFrame:
    """Return a layer with the columns of sentences that its schema names.

    Parameters
    ----------
    name
        Of the layer.
    frame
        Its facts.
    table
        The table of runs by flow.
    units
        The reach folder's units.
    """
    if not BY_NAME[name].written:
        return frame
    makers = _sentence_makers(name, table, units)
    rows = frame.drop(columns="geometry").to_dict("records")
    columns = {
        column.name: pd.Series([makers[column.name](row) for row in rows], frame.index, "str")
        for column in BY_NAME[name].written
    }
    return frame.assign(**columns)


def _sentence_makers(
    name: str, table: pd.DataFrame, units: UnitSystem
) -> Mapping[str, SentenceMaker]:
    """Return the function that makes each column of sentences of a layer."""
    notes: Mapping[str, Callable[[Row, UnitSystem], str]] = {
        "wading": zone_note,
        "bars": bar_note,
        "stations": station_note,
        "swings": swing_note,
        "asks": survey_note,
    }
    if name == "runs":
        of_run = {str(run): mine for run, mine in table.groupby("run")}
        return {
            "flows_in_shape": lambda row: flows_in_shape(of_run.get(str(row["run"]))),
            "note": lambda row: run_note(row, of_run.get(str(row["run"]), table.iloc[:0]), units),
        }
    made: dict[str, SentenceMaker] = {
        "casts": casts_words,
        "tight": tight_words,
        "plan": lambda row: plan_note(row, units),
    }
    if name in notes:
        note = notes[name]
        made["note"] = lambda row: note(row, units)
    return made


def flows_in_shape(mine: pd.DataFrame | None) -> str:
    """Return the labels of the flows at which a run fishes, with commas."""
    if mine is None:
        return ""
    return ", ".join(mine.loc[mine["in_shape"], "flow_label"].astype(str))

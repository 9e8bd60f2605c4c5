"""Columns and layers: what a table of features holds, and the check of it.

The tables themselves are in `base.schema`. A column of facts is made by a stage and holds numbers
in SI, truth values or words of `base.words`; a column of sentences is added by `text` when a
layer is written.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, cast

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.base.words import Word

Frame = TypeVar("Frame", bound=pd.DataFrame)


class Dtype(StrEnum):
    """What the cells of a column are."""

    FLOAT = "float"
    INT = "int"
    BOOL = "bool"
    TEXT = "text"
    WORD = "word"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a layer.

    Parameters
    ----------
    name
        As in Python, the cache and the GIS files.
    dtype
        What its cells are. Float cells may be NaN: not known, or not there.
    meaning
        One sentence for people who open the file.
    unit
        SI; "1" for a number without one, "" for anything that is no number.
    low, high
        Range of the known numbers, both ends included.
    words
        Allowed values of a column of words.
    spare
        Whether rows may leave it out: it is then NaN, missing, empty or False.
    missing
        Whether a cell of a column of words may be missing.
    """

    name: str
    dtype: Dtype
    meaning: str
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    words: type[Word] | None = None
    spare: bool = False
    missing: bool = False

    @property
    def pandas_dtype(self) -> Any:
        """Return the dtype of the column in a DataFrame."""
        if self.words is not None:
            return _categories(self.words)
        return {Dtype.FLOAT: "float64", Dtype.INT: "int64", Dtype.BOOL: "bool"}.get(
            self.dtype, "str"
        )

    @property
    def empty(self) -> Any:
        """Return the cell of a spare column that was left out."""
        return {Dtype.FLOAT: math.nan, Dtype.INT: 0, Dtype.BOOL: False, Dtype.TEXT: ""}.get(
            self.dtype
        )


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer or table.

    Parameters
    ----------
    name, meaning
        Of the layer.
    geometry
        "Point", "LineString" or "Polygon"; empty for a table without geometry.
    columns
        Facts, in order.
    written
        Columns of sentences that `text` adds when the layer is written for people.
    """

    name: str
    geometry: str
    meaning: str
    columns: tuple[Column, ...]
    written: tuple[Column, ...] = ()


def number(
    name: str,
    unit: str,
    meaning: str,
    low: float = -math.inf,
    high: float = math.inf,
    *,
    spare: bool = False,
) -> Column:
    """Return a column of numbers, NaN where not known."""
    return Column(name, Dtype.FLOAT, meaning, unit, low, high, spare=spare)


def count(name: str, meaning: str, *, spare: bool = False) -> Column:
    """Return a column of whole numbers from 0."""
    return Column(name, Dtype.INT, meaning, "1", 0, math.inf, spare=spare)


def flag(name: str, meaning: str, *, spare: bool = False) -> Column:
    """Return a column of truth values."""
    return Column(name, Dtype.BOOL, meaning, spare=spare)


@cache
def _categories(words: type[Word]) -> pd.CategoricalDtype:
    """Return the dtype of a column of words; the same one each time compares at once."""
    return pd.CategoricalDtype([word.value for word in words])


def text(name: str, meaning: str, *, spare: bool = False) -> Column:
    """Return a column of codes, names or what the angler wrote; empty where there is none."""
    return Column(name, Dtype.TEXT, meaning, spare=spare)


def word(
    name: str, words: type[Word], meaning: str, *, spare: bool = False, missing: bool = False
) -> Column:
    """Return a column of words; a spare one may be missing too."""
    return Column(name, Dtype.WORD, meaning, words=words, spare=spare, missing=missing or spare)


def frame_of(layer: Layer, rows: Sequence[Mapping[str, Any]], crs: str) -> gpd.GeoDataFrame:
    """Return rows as a typed, checked layer, columns in the schema's order, also where empty.

    Parameters
    ----------
    layer
        What is promised.
    rows
        Each with every promised column and `geometry` [m, `crs`]; spare columns may be left out.
    crs
        The project's metric CRS.

    Raises
    ------
    ValueError
        If a row lacks a promised column or has one that was not promised, or as `checked` does.
    """
    full = _full(layer, rows, {"geometry"})
    names = [column.name for column in layer.columns]
    frame = gpd.GeoDataFrame(full, columns=[*names, "geometry"], geometry="geometry", crs=crs)
    return checked(layer, typed(layer, frame))


def table_of(layer: Layer, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return rows as a typed, checked table without geometry; see `frame_of`."""
    names = [column.name for column in layer.columns]
    return checked(layer, typed(layer, pd.DataFrame(_full(layer, rows, set()), columns=names)))


def _full(layer: Layer, rows: Sequence[Mapping[str, Any]], more: set[str]) -> list[dict[str, Any]]:
    """Return rows with their spare columns filled, names checked."""
    promised = {column.name for column in layer.columns} | more
    spare = {column.name: column.empty for column in layer.columns if column.spare}
    full = [{**spare, **row} for row in rows]
    for row in full:
        if row.keys() != promised:
            msg = f"layer {layer.name}: columns that differ: {sorted(row.keys() ^ promised)}"
            raise ValueError(msg)
    return full


def typed(layer: Layer, frame: Frame) -> Frame:
    """Return a frame with its columns in the schema's dtypes, as after reading from a file.

    Raises
    ------
    ValueError
        If a word is not allowed or a cell cannot be what it should be.
    """
    done: dict[str, Any] = {}
    plain = pd.DataFrame(frame)  # a GeoDataFrame takes long to give a column
    kinds = plain.dtypes.to_dict()
    for column in layer.columns:
        if column.name not in kinds or kinds[column.name] == column.pandas_dtype:
            continue
        values = plain[column.name]
        _only_allowed(layer, column, values)
        if column.dtype is Dtype.TEXT:
            values = values.astype(object).where(values.notna(), "")
        try:
            done[column.name] = values.astype(column.pandas_dtype)
        except (ValueError, TypeError) as error:
            msg = f"layer {layer.name}: {column.name}: {error}"
            raise ValueError(msg) from None
    if not done:
        return frame
    made = plain.assign(**done)
    if isinstance(frame, gpd.GeoDataFrame):
        made = gpd.GeoDataFrame(made, geometry=frame.geometry.name)
    return cast("Frame", made)


def _only_allowed(layer: Layer, column: Column, values: pd.Series) -> None:
    """Raise where a cell holds a word that is not allowed, or no truth value where one is due."""
    if column.dtype is Dtype.BOOL:
        allowed = {"True", "False"}
        found = set(values.map(str))
    elif column.words is not None:
        allowed = set(column.pandas_dtype.categories)
        found = {str(value) for value in values.dropna().unique()}
    else:
        return
    if strange := sorted(found - allowed):
        msg = f"layer {layer.name}: {column.name} holds {strange}, wants {sorted(allowed)}"
        raise ValueError(msg)


def checked(layer: Layer, frame: Frame) -> Frame:
    """Return a frame that holds what its layer promises: names, dtypes, ranges, no holes.

    Raises
    ------
    ValueError
        Listing everything that does not hold.
    """
    promised = [column.name for column in layer.columns]
    held = [str(name) for name in frame.columns if name != "geometry"]
    wrong = [f"columns {held}, want {promised}"] if held != promised else []
    if not wrong:
        plain = pd.DataFrame(frame)
        faults = ((column.name, _fault(column, plain[column.name])) for column in layer.columns)
        wrong = [f"{name} {fault}" for name, fault in faults if fault]
    if wrong:
        msg = f"layer {layer.name}: {'; '.join(wrong)}"
        raise ValueError(msg)
    return frame


def _fault(column: Column, values: pd.Series) -> str:
    """Return what is wrong with a column, or nothing."""
    if values.dtype != column.pandas_dtype:
        return f"is {values.dtype}, wants {column.pandas_dtype}"
    if column.dtype is Dtype.WORD and not column.missing and values.isna().any():
        return "has missing words"
    if column.dtype in (Dtype.FLOAT, Dtype.INT):
        known = values.to_numpy(dtype=np.float64)
        known = known[~np.isnan(known)]
        outside = known[(known < column.low) | (known > column.high)]
        if outside.size:
            return f"holds {outside[0]:g}, wants {column.low:g} to {column.high:g}"
    return ""

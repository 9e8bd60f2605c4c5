"""Rows of a layer as structured arrays, grouped by key once.

A run has a few rows at a flow. Selecting them anew from a table over all runs and flows, for every
run and flow, takes longer than all that is computed from them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reachmap.base.arrays import BoolArray, FloatArray

Rows = NDArray[np.void]
"""Rows of a layer, shape (n,), by column: numbers and truth values as they are; text, words and
geometry as objects, None where one is missing."""

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grouped:
    """Rows of a layer, and the row numbers that belong to each key, in the layer's order."""

    rows: Rows
    places: Mapping[Key, Sequence[int]]

    def of(self, *key: str) -> Rows:
        """Return the rows of a key; none where the key is not known."""
        return self.rows[np.asarray(self.places.get(key, ()), dtype=np.intp)]


def grouped_by(frame: pd.DataFrame, keys: Sequence[str], names: Sequence[str]) -> Grouped:
    """Return columns of a layer grouped by the words in its columns `keys`."""
    words = zip(*(frame[key].astype(str).tolist() for key in keys), strict=True)
    return grouped(frame, ((key,) for key in words), names)


def grouped(frame: pd.DataFrame, keys: Iterable[Iterable[Key]], names: Sequence[str]) -> Grouped:
    """Return columns of a layer by key; `keys` are those that each row belongs to."""
    places: dict[Key, list[int]] = {}
    for place, mine in enumerate(keys):
        for key in mine:
            places.setdefault(key, []).append(place)
    return Grouped(rows_of(frame, names), places)


def rows_of(frame: pd.DataFrame, names: Sequence[str]) -> Rows:
    """Return columns of a layer as rows."""
    columns = {name: _plain(frame[name]) for name in names}
    rows = np.empty(len(frame), dtype=[(name, one.dtype) for name, one in columns.items()])
    for name, one in columns.items():
        rows[name] = one
    return rows


def present(words: NDArray[np.object_]) -> BoolArray:
    """Return which words are not missing."""
    return np.asarray(pd.notna(words))


def known(numbers: FloatArray) -> FloatArray:
    """Return the numbers that are known."""
    return numbers[~np.isnan(numbers)]


def known_median(numbers: FloatArray) -> float:
    """Return the median of the known numbers; NaN where there is none."""
    finite = known(numbers)
    return float(np.median(finite)) if len(finite) else math.nan


def _plain(values: pd.Series) -> NDArray[np.generic]:
    """Return a column as an array, None where a word is missing."""
    if values.dtype.kind in "bif":
        return values.to_numpy()
    return values.astype(object).where(values.notna(), None).to_numpy(dtype=object)

"""Rows of the layers put together by run and flow once, as plain arrays.

A run has a few rows at a flow. To choose them from a table over all runs and flows, anew for every
run and flow, takes longer than all that is then reckoned from them.
"""

from __future__ import annotations

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
    """Rows of a layer and the places of those that stand under a key, in the layer's order."""

    rows: Rows
    places: Mapping[Key, Sequence[int]]

    def of(self, *key: str) -> Rows:
        """Return the rows that stand under a key; none where it is not known."""
        return self.rows[np.asarray(self.places.get(key, ()), dtype=np.intp)]


def by_flow(frame: pd.DataFrame, names: Sequence[str]) -> Grouped:
    """Return columns of a layer over all flows by flow label."""
    return _grouped(frame, names, ([(str(label),)] for label in frame["flow_label"]))


def water_by_run(water: pd.DataFrame, names: Sequence[str]) -> Grouped:
    """Return columns of the layer `water` by run and flow label."""
    keys = zip(water["run"], water["flow_label"], strict=True)
    return _grouped(water, names, ([(str(run), str(label))] for run, label in keys))


def named_by_run(frame: pd.DataFrame, water: pd.DataFrame, names: Sequence[str]) -> Grouped:
    """Return columns of a layer by the run whose water it names and flow label.

    Parameters
    ----------
    frame
        A layer whose column `water` holds codes of the layer `water`, such as `stations`.
    water
        That layer, over the same flows, runs filled in.
    names
        The columns.
    """
    runs: dict[Key, set[Key]] = {}
    for run, label, code in zip(water["run"], water["flow_label"], water["code"], strict=True):
        runs.setdefault((str(label), str(code)), set()).add((str(run), str(label)))
    named = zip(frame["flow_label"], frame["water"], strict=True)
    return _grouped(frame, names, (runs.get((str(label), str(code)), ()) for label, code in named))


def rows_of(frame: pd.DataFrame, names: Sequence[str]) -> Rows:
    """Return columns of a layer as rows."""
    columns = {name: _plain(frame[name]) for name in names}
    rows = np.empty(len(frame), dtype=[(name, one.dtype) for name, one in columns.items()])
    for name, one in columns.items():
        rows[name] = one
    return rows


def told(words: NDArray[np.object_]) -> BoolArray:
    """Return which words are not missing."""
    return np.not_equal(words, None).astype(bool)


def known(numbers: FloatArray) -> FloatArray:
    """Return the numbers that are known."""
    return numbers[~np.isnan(numbers)]


def _grouped(frame: pd.DataFrame, names: Sequence[str], keys: Iterable[Iterable[Key]]) -> Grouped:
    """Return columns of a layer by key; `keys` are those under which each row stands."""
    places: dict[Key, list[int]] = {}
    for place, mine in enumerate(keys):
        for key in mine:
            places.setdefault(key, []).append(place)
    return Grouped(rows_of(frame, names), places)


def _plain(values: pd.Series) -> NDArray[np.generic]:
    """Return a column as an array, None where a word is missing."""
    if values.dtype.kind in "bif":
        return values.to_numpy()
    return values.astype(object).where(values.notna(), None).to_numpy(dtype=object)

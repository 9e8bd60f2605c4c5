"""Rows of the layers by run and flow."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from reachmap.base.grouped import Grouped, Key, grouped, grouped_by


def water_by_run(water: pd.DataFrame, names: Sequence[str]) -> Grouped:
    """Return columns of the layer `water` by run and flow label."""
    return grouped_by(water, ("run", "flow_label"), names)


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
    columns = (water[name].tolist() for name in ("run", "flow_label", "code"))
    for run, label, code in zip(*columns, strict=True):
        runs.setdefault((label, code), set()).add((run, label))
    named = zip(frame["flow_label"].tolist(), frame["water"].tolist(), strict=True)
    keys = (runs.get(key, ()) for key in named)
    return grouped(frame, keys, names)

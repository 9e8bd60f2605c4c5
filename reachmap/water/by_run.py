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
    for run, label, code in zip(water["run"], water["flow_label"], water["code"], strict=True):
        runs.setdefault((str(label), str(code)), set()).add((str(run), str(label)))
    named = zip(frame["flow_label"], frame["water"], strict=True)
    keys = (runs.get((str(label), str(code)), ()) for label, code in named)
    return grouped(frame, keys, names)

"""All that a build hands to the writers, in one frozen parcel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd
import xarray as xr

from reachmap.flow.notes import NoteKind, notes_of
from reachmap.markup.model import Markup


@dataclass(frozen=True, slots=True)
class Product:
    """A built reach.

    Parameters
    ----------
    markup
        The drawing, checked.
    ground
        The ground stage's Dataset (y, x).
    flows
        The flow stage's Dataset (flow, y, x), flows rising; coordinate `asked` holds the labels.
    layers
        Every layer of `base.schema.LAYERS` by name, all flows stacked, told apart by `flow_label`.
    runs
        The table of runs by flow, `base.schema.RUNS_BY_FLOW`.
    report
        What report.json will hold, as plain JSON values.
    preview
        Whether the flow field is the quick 1-D preview: every page must say so.
    doubt
        The doubt stage's Dataset (flow, y, x): how far an ensemble of grounds that the evidence
        allows differs; None where it was left out.
    log
        The layer `base.schema.LOG`: the angler's own trips. None where there is no log or the build
        was asked to leave it out. Apart from `layers`, so that no writer hands it on unasked.
    """

    markup: Markup
    ground: xr.Dataset
    flows: xr.Dataset
    layers: Mapping[str, gpd.GeoDataFrame]
    report: Mapping[str, Any]
    preview: bool
    runs: pd.DataFrame
    doubt: xr.Dataset | None = None
    log: gpd.GeoDataFrame | None = None

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the short names of the flows, rising."""
        return tuple(str(label) for label in self.flows["asked"].to_numpy())

    @property
    def between(self) -> tuple[float, float] | None:
        """Return the solved flows [m3/s] on either side of an interpolated one; None if solved."""
        found = [one for one in notes_of(self.flows) if one.kind is NoteKind.INTERPOLATED]
        return (found[0].value("low_m3_s"), found[0].value("high_m3_s")) if found else None

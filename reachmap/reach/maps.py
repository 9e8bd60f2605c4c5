"""Maps of a reach: rasters, layers and runs at the solved flows, and at any flow between."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap.base.progress import Progress
from reachmap.flow.place import SAME_FLOW
from reachmap.outputs.cf import cf_dataset
from reachmap.outputs.picture import map_picture
from reachmap.outputs.product import Product
from reachmap.pipeline.any_flow import Mapped, only_flow, read_between
from reachmap.pipeline.build_reach import Built, write_mapped

if TYPE_CHECKING:
    import folium
    from matplotlib.axes import Axes


@dataclass(frozen=True, eq=False, repr=False)
class ReachMap:
    """A mapped reach at one flow or several.

    Parameters
    ----------
    mapped
        The stages and what all flows were read from.
    product
        The layers and the report at the flows of this map.
    """

    mapped: Mapped
    product: Product

    @property
    def between(self) -> tuple[float, float] | None:
        """Return the solved flows [m3/s] on either side of an interpolated one; None if solved."""
        return self.product.between

    @property
    def interpolated(self) -> bool:
        """Return whether the flow of this map was interpolated between two solved ones."""
        return self.between is not None

    @property
    def flows(self) -> tuple[float, ...]:
        """Return the flows of this map [m3/s], rising."""
        return tuple(float(flow) for flow in self.product.flows["flow"].to_numpy())

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the short names of the flows, rising, as in `flow_label` of the layers."""
        return self.product.labels

    @cached_property
    def ground(self) -> xr.Dataset:
        """Return bed, cover, roughness and the like on the raster (y, x), by CF-1.11."""
        return self._cf(self.product.ground)

    @cached_property
    def flow(self) -> xr.Dataset:
        """Return level, depth, east and north speed and wet (flow, y, x), by CF-1.11."""
        return self._cf(self.product.flows)

    @cached_property
    def uncertainty(self) -> xr.Dataset | None:
        """Return spreads and odds (flow, y, x), by CF-1.11; None without an ensemble."""
        return None if self.product.doubt is None else self._cf(self.product.doubt)

    @property
    def layers(self) -> Mapping[str, gpd.GeoDataFrame]:
        """Return every vector layer by name, as documented in `base.tables.LAYERS`; SI."""
        return self.product.layers

    @cached_property
    def runs(self) -> pd.DataFrame:
        """Return the table of runs, a row a run and flow; columns as `water.table.COLUMNS`, SI."""
        return pd.DataFrame(self.product.report["runs_by_flow"])

    @property
    def report(self) -> Mapping[str, Any]:
        """Return versions, inputs, balances, counts and warnings, as report.json holds them."""
        return self.product.report

    def at(self, flow: float, *, progress: Progress | None = None) -> ReachMap:
        """Return the map at one flow: solved, or interpolated between the two next to it.

        Parameters
        ----------
        flow
            Discharge [m3/s], from the lowest to the highest mapped one.
        progress
            Progress callback (step, done, total).

        Raises
        ------
        MarkupError
            If the flow is outside the range of those mapped.

        Notes
        -----
        Between solved flows, level and velocity are interpolated over ln Q (`flow.between`); water,
        wading and the rest are then read from that field as from a solved one.
        """
        whole = self.mapped.product
        shown = whole.flows["flow"].to_numpy()
        same = np.flatnonzero(np.isclose(shown, flow, rtol=SAME_FLOW, atol=0.0))
        if same.size:
            return ReachMap(self.mapped, only_flow(whole, int(same[0])))
        callback = progress or (lambda *_: None)
        return ReachMap(self.mapped, read_between(self.mapped, float(flow), progress=callback))

    def plot(self, flow: float | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw depth, edges and water at one flow with matplotlib; wants the extra `plot`.

        Parameters
        ----------
        flow
            Discharge [m3/s]; may be left out where this map is of one flow.
        ax
            Where to draw; a new figure if not given.

        Returns
        -------
        matplotlib.axes.Axes
            What was drawn on; the cautions stand in the figure's foot.
        """
        from reachmap.outputs.plot import plot_map

        return plot_map(self._one(flow).product, ax=ax)

    def explore(self, flow: float | None = None) -> folium.Map:
        """Return a folium map of one flow that loads nothing from the network.

        Parameters
        ----------
        flow
            Discharge [m3/s]; may be left out where this map is of one flow.
        """
        from reachmap.outputs.webmap.explore import explore_map

        return explore_map(self._one(flow).product)

    def write(
        self,
        out: str | Path | None = None,
        *,
        replace: bool = False,
        progress: Progress | None = None,
    ) -> Built:
        """Write maps, sheets, GPS and GIS files of all solved flows, as `reachmap build` does.

        Parameters
        ----------
        out
            Folder to write into; if not given, `written` in the reach folder, or `written-quick`
            where a fuller build stands there. `Built.folder` is the one written to.
        replace
            Whether a fuller build that stands in the folder is lost to this one.
        progress
            Progress callback (step, done, total).

        Raises
        ------
        ValueError
            If this is the map of one flow that `at` gave.
        MarkupError
            If a folder asked for by name holds a fuller build.
        """
        if self.product is not self.mapped.product:
            msg = "write() takes the map of all flows; for this flow alone, map(flows=[...]) it"
            raise ValueError(msg)
        folder = None if out is None else Path(out)
        return write_mapped(
            self.mapped, folder, replace=replace, progress=progress or (lambda *_: None)
        )[0]

    def __repr__(self) -> str:
        """Return name, flows and cell size."""
        flows = ", ".join(f"{flow:.4g}" for flow in self.flows)
        cell = float(self.product.ground.attrs["cell"])
        way = ", interpolated" if self.interpolated else ""
        preview = ", preview" if self.product.preview else ""
        name = self.product.markup.plan.name
        return f"<ReachMap {name!r}: {flows} m3/s on cells of {cell:g} m{way}{preview}>"

    def _repr_html_(self) -> str:
        """Return a small map of the highest flow for a notebook."""
        return map_picture(self.product)

    def _one(self, flow: float | None) -> ReachMap:
        """Return the map of one flow."""
        if flow is not None:
            return self.at(flow)
        if len(self.flows) != 1:
            msg = f"name a flow [m3/s]: this map has {len(self.flows)}"
            raise ValueError(msg)
        return self

    def _cf(self, dataset: xr.Dataset) -> xr.Dataset:
        """Return a stage's Dataset by the CF conventions."""
        made = cf_dataset(dataset, self.product.ground, self.product.markup.plan.name)
        return made.assign_attrs(preview=int(self.product.preview))

"""All that a build hands to the writers, in one frozen parcel."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import pandas as pd
import xarray as xr

from reachmap.angler.card_facts import RunCard
from reachmap.flow.notes import NoteKind, notes_of
from reachmap.markup.model import Markup
from reachmap.outputs.whom import Whom

Fields = Callable[[], tuple[xr.Dataset, xr.Dataset | None]]
"""Returns a flow stage's Dataset and the doubt stage's at the same flows, or None for that."""

CardOf = Callable[[str, str], RunCard | None]
"""Returns the card of a run, by its name and the label of a flow; None where it has no water."""

WhomOf = Callable[[], tuple[Whom, ...]]
"""Returns the map for everyone who may fish it, the folder's own first."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Every flow that was read, those shown among them.

    Parameters
    ----------
    labels, flows
        Name and discharge [m3/s] of each, rising.
    layers
        As `Product.layers`, over all of them.
    fields
        Gives their rasters, made when they are asked for; None where those shown are all.
    """

    labels: tuple[str, ...]
    flows: tuple[float, ...]
    layers: Mapping[str, gpd.GeoDataFrame]
    fields: Fields | None = None

    def layers_at(self, flows: Sequence[float]) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers at some of its flows; a layer over all flows as it is."""
        labels = [self.labels[self.flows.index(flow)] for flow in flows]
        whole = len(labels) == len(self.labels)
        return dict(self.layers) if whole else of_flows(self.layers, labels)


def of_flows(
    layers: Mapping[str, gpd.GeoDataFrame], labels: Sequence[str]
) -> dict[str, gpd.GeoDataFrame]:
    """Return layers at the flows of some names; a layer over all flows as it is."""
    return {
        name: frame[frame["flow_label"].isin(labels)].reset_index(drop=True)
        if "flow_label" in frame
        else frame
        for name, frame in layers.items()
    }


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
        The table of runs by flow, `base.schema.RUNS_BY_FLOW`, at every flow that was read.
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
    ladder
        Every flow that was read; None where those shown are all.
    cards
        Gives the facts of a run's card at any flow that was read; None where nothing is known.
    whom
        Gives runs, table and cards for others than those of whom reach.toml speaks; None where that
        is not known: a page then holds the folder's own list alone.
    held
        What one writer worked out and others want too, by what it is and the flow. A product made
        from this one begins with none.
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
    ladder: Ladder | None = None
    cards: CardOf | None = None
    whom: WhomOf | None = None
    held: dict[tuple[str, str], Any] = field(init=False, default_factory=dict, compare=False)

    @property
    def climbed(self) -> Product:
        """Return the product with every flow that was read shown; itself where no rasters are."""
        if self.ladder is None or self.ladder.fields is None:
            return self
        flows, doubt = self.ladder.fields()
        return replace(self, flows=flows, layers=self.ladder.layers, doubt=doubt, ladder=None)

    @property
    def read(self) -> Ladder:
        """Return every flow that was read: those shown where no others were."""
        if self.ladder is not None:
            return self.ladder
        flows = tuple(float(flow) for flow in self.flows["flow"].to_numpy())
        return Ladder(self.labels, flows, self.layers)

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the short names of the flows, rising."""
        return tuple(str(label) for label in self.flows["asked"].to_numpy())

    @property
    def between(self) -> tuple[float, float] | None:
        """Return the solved flows [m3/s] on either side of the one flow shown; None if solved.

        None too where several are shown: each has its own.
        """
        return self.between_at(self.labels[0]) if len(self.labels) == 1 else None

    def between_at(self, label: str) -> tuple[float, float] | None:
        """Return the solved flows [m3/s] on either side of a flow shown; None if it was solved."""
        flow = float(self.flows["flow"].to_numpy()[self.labels.index(label)])
        found = [
            one
            for one in notes_of(self.flows)
            if one.kind is NoteKind.INTERPOLATED and one.flow == flow
        ]
        return (found[0].value("low_m3_s"), found[0].value("high_m3_s")) if found else None

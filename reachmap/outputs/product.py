"""Result of a build: the input of all writers, frozen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import geopandas as gpd
import pandas as pd
import xarray as xr

from reachmap.angler.card_facts import RunCard
from reachmap.base.held import held
from reachmap.flow.notes import NoteKind, notes_of
from reachmap.markup.model import Markup
from reachmap.outputs.whom import Whom

T = TypeVar("T")

Fields = Callable[[], tuple[xr.Dataset, xr.Dataset | None]]
"""Function that returns the flow stage's Dataset and, if any, the uncertainty stage's."""

CardOf = Callable[[str, str], RunCard | None]
"""Function of a run's name and a flow's label that returns the card; None without water."""

WhomOf = Callable[[], tuple[Whom, ...]]
"""Function that returns the map for every kind of outing, the folder's own first."""


PARTS = ("ground", "flows", "doubt", "waters", "layers", "asks", "drawing", "words", "names")
"""Parts of a product that have keys: the ground; the flow fields; the uncertainty; layers of the
water alone (`WATERS`); all layers but for names of runs, the log and `asks`; that layer; the
drawing but for names of runs; units and locale; the names of runs."""

WATERS = ("wetted", "seams", "tailouts", "lanes", "channels", "structure")
"""Layers that hang on the water alone, not on who fishes."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Every flow at which the map was evaluated, including those shown.

    Parameters
    ----------
    labels, flows
        Name and discharge [m3/s] of each, rising.
    layers
        As `Product.layers`, at all of these flows.
    fields
        Computes their rasters on demand; None where only the shown flows exist.
    """

    labels: tuple[str, ...]
    flows: tuple[float, ...]
    layers: Mapping[str, gpd.GeoDataFrame]
    fields: Fields | None = None

    def layers_at(self, flows: Sequence[float]) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers at some of its flows; layers common to all flows unchanged."""
        labels = [self.labels[self.flows.index(flow)] for flow in flows]
        whole = len(labels) == len(self.labels)
        return dict(self.layers) if whole else of_flows(self.layers, labels)


def of_flows(
    layers: Mapping[str, gpd.GeoDataFrame], labels: Sequence[str]
) -> dict[str, gpd.GeoDataFrame]:
    """Return layers at the flows of some labels; layers common to all flows unchanged."""
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
        Every layer of `base.schema.LAYERS` by name, all flows stacked, with column `flow_label`.
    runs
        The table of runs by flow, `base.schema.RUNS_BY_FLOW`, at every flow evaluated.
    report
        Content of report.json, as plain JSON values.
    preview
        Whether the flow field is the quick 1-D preview; every page must state it.
    doubt
        The uncertainty stage's Dataset (flow, y, x): spread of an ensemble of grounds consistent
        with the evidence; None where it was not computed.
    log
        The layer `base.schema.LOG`: the angler's own trips. None without a log or where it was
        excluded. Separate from `layers`, so that no writer publishes it by accident.
    ladder
        Every flow evaluated; None where those shown are all.
    cards
        Returns the facts of a run's card at any flow evaluated; None where unknown.
    whom
        Returns runs, table and cards for outings other than that of reach.toml; None where unknown:
        a page then contains only the folder's own list.
    keys
        Digests of what its parts were made of, by the words of `PARTS`; empty where unknown:
        nothing is then held from one build to the next.
    held
        Cache of intermediate results shared by writers, by name and flow label. A product derived
        from this one starts with an empty one.
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
    keys: Mapping[str, str] = field(default_factory=dict)
    held: dict[tuple[str, str], Any] = field(init=False, default_factory=dict, compare=False)

    def once(
        self, name: str, parts: Sequence[str], make: Callable[[], T], more: object = None
    ) -> T:
        """Return what is made of some parts of the product; a program may hold it between builds.

        Parameters
        ----------
        name
            What it is.
        parts
            Words of `PARTS`: all that `make` reads of the product, but for its labels.
        make
            Makes it; nobody may change it.
        more
            What else it is made of, as for `base.digests.fingerprint`.
        """
        if any(part not in self.keys for part in parts):
            return make()
        return held(name, [[self.keys[part] for part in parts], self.labels, more], make)

    @property
    def with_all_flows(self) -> Product:
        """Return the product with every evaluated flow shown; itself where there are no rasters."""
        if self.ladder is None or self.ladder.fields is None:
            return self
        flows, doubt = self.ladder.fields()
        return replace(self, flows=flows, layers=self.ladder.layers, doubt=doubt, ladder=None)

    @property
    def read(self) -> Ladder:
        """Return every flow evaluated: the ladder, or else the flows shown."""
        if self.ladder is not None:
            return self.ladder
        flows = tuple(float(flow) for flow in self.flows["flow"].to_numpy())
        return Ladder(self.labels, flows, self.layers)

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the labels of the flows, ascending."""
        return tuple(str(label) for label in self.flows["asked"].to_numpy())

    @property
    def between(self) -> tuple[float, float] | None:
        """Return the solved flows [m3/s] on either side of the one flow shown; None if solved.

        Also None where several are shown: each has its own.
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

"""The flows of a build: a few are solved, the others interpolated between them; all are read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import xarray as xr

from reachmap.base.fields import with_labels
from reachmap.base.fingerprint import stage_key
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem
from reachmap.flow.between import VERSION, SolvedFlows
from reachmap.flow.nodes import LeftOut, NodeSettings, first_nodes, left_out, next_node
from reachmap.flow.notes import one_flow_of, packed_flows
from reachmap.flow.place import NEIGHBOURS, place_of, used_for
from reachmap.uncertainty.between import uncertainty_between

Solve = Callable[[Sequence[float], "Nodes | None"], tuple[xr.Dataset, tuple[str, ...]]]
"""Returns field and key of each flow [m3/s], started from what is solved so far, if anything."""


@dataclass(frozen=True, slots=True)
class Nodes:
    """The solved flows and the key of each, rising.

    Parameters
    ----------
    solved
        The fields, prepared for interpolation.
    keys
        Key of each.
    """

    solved: SolvedFlows
    keys: tuple[str, ...]

    @property
    def flow(self) -> xr.Dataset:
        """Return the flow stage's Dataset of the solved flows."""
        return self.solved.fields

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Return the leave-one-out error of each: how well the others reproduce it."""
        return left_out(self.solved)

    def at(self, flow: float) -> tuple[xr.Dataset, str]:
        """Return the field at a flow within the range of the solved ones, and its key.

        A solved flow is returned as it is. The key of an interpolated one is made of the keys of
        the solved flows that it is interpolated from.
        """
        place = place_of(flow, self.solved.flows)
        if place.solved:
            return one_flow_of(self.flow, place.low), self.keys[place.low]
        used = {str(k): self.keys[k] for k in used_for(place, len(self.keys))}
        key = stage_key("between", VERSION, {"flow": flow.hex(), "of": NEIGHBOURS}, used)
        return self.solved.at(flow), key

    def uncertainty_at(self, uncertainty: xr.Dataset, made: xr.Dataset) -> xr.Dataset:
        """Return the uncertainty at a field's one flow, interpolated between the solved flows."""
        place = place_of(float(made["flow"].to_numpy()[0]), self.solved.flows)
        bare = uncertainty.drop_vars("asked", errors="ignore")
        if place.solved:
            return bare.isel(flow=[place.low])
        return uncertainty_between(bare, made, place)

    def uncertainty_key(self, keys: Sequence[str], flow: float) -> str:
        """Return the key of the uncertainty at a flow [m3/s], from those of the solved flows."""
        place = place_of(flow, self.solved.flows)
        if place.solved:
            return keys[place.low]
        return f"{flow.hex()}:{keys[place.low]}:{keys[place.high]}"


def solve_nodes(
    ground: xr.Dataset,
    solve: Solve,
    solvable: Sequence[float],
    liked: Sequence[float],
    settings: NodeSettings | None,
) -> Nodes:
    """Return the solved flows of a map.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    solve
        Solves flows.
    solvable
        Flows that may be solved [m3/s], rising; the first and the last are.
    liked
        Flows to solve in preference to others nearby [m3/s].
    settings
        Spacing of the solved flows; None: every one of `solvable` is solved.

    Notes
    -----
    First as many as interpolation between them needs (`next_node`); then, while fewer than
    `settings.most` are solved, the rest of `liked`: a solved flow need not be graded by its
    neighbours too.
    """
    wanted = tuple(solvable) if settings is None else first_nodes(solvable, liked, settings)
    fields, keys = solve(wanted, None)
    nodes = Nodes(SolvedFlows.of(ground, fields), keys)
    while settings is not None:
        more = next_node(nodes.solved, solvable, liked, settings)
        if more is None:
            break
        nodes = _with(ground, nodes, *solve((more,), nodes))
    if settings is not None:
        left = [flow for flow in liked if not place_of(flow, nodes.solved.flows).solved]
        for flow in left[: max(settings.most - len(nodes.keys), 0)]:
            nodes = _with(ground, nodes, *solve((flow,), nodes))
    return nodes


def _with(ground: xr.Dataset, nodes: Nodes, one: xr.Dataset, key: tuple[str, ...]) -> Nodes:
    """Return solved flows with one more, and its key."""
    flow = float(one["flow"].to_numpy()[0])
    at = int((nodes.solved.flows < flow).sum())
    parts = [one_flow_of(nodes.flow, k) for k in range(len(nodes.keys))]
    fields = packed_flows([*parts[:at], one, *parts[at:]])
    return Nodes(SolvedFlows.of(ground, fields), (*nodes.keys[:at], *key, *nodes.keys[at:]))


@dataclass(frozen=True, slots=True)
class Rungs:
    """All flows that are read, the solved ones among them.

    Parameters
    ----------
    flow
        The fields, packed, with labels.
    keys
        Key of each.
    """

    flow: xr.Dataset
    keys: tuple[str, ...]

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the name of each."""
        return tuple(str(label) for label in self.flow["asked"].to_numpy())

    @property
    def flows(self) -> tuple[float, ...]:
        """Return the discharge of each [m3/s], rising."""
        return tuple(self.flow["flow"].to_numpy().tolist())

    def with_one(self, nodes: Nodes, flow: float, units: UnitSystem) -> Rungs:
        """Return these and one flow more [m3/s], in place of that of its name if there is one."""
        made, key = nodes.at(flow)
        name = flow_label(flow, units)
        kept = [k for k, label in enumerate(self.labels) if label != name]
        at = sum(self.flows[k] < flow for k in kept)
        parts, keys = [one_flow_of(self.flow, k) for k in kept], [self.keys[k] for k in kept]
        parts.insert(at, made)
        keys.insert(at, key)
        return Rungs(with_labels(packed_flows(parts), units), tuple(keys))

    def shown(self, flows: Sequence[float]) -> xr.Dataset:
        """Return the fields of some of them."""
        at = [self.flows.index(flow) for flow in flows]
        return packed_flows(one_flow_of(self.flow, k) for k in at).assign_coords(
            asked=("flow", [self.labels[k] for k in at])
        )


def read_rungs(nodes: Nodes, flows: Sequence[float], units: UnitSystem) -> Rungs:
    """Return the field of every flow to read, solved or between.

    Parameters
    ----------
    nodes
        The solved flows.
    flows
        Flows to read [m3/s], rising, within their range.
    units
        The folder's, for the labels.
    """
    keys: list[str] = []

    def fields() -> Iterator[xr.Dataset]:
        for flow in flows:
            made, key = nodes.at(flow)
            keys.append(key)
            yield made

    return Rungs(with_labels(packed_flows(fields()), units), tuple(keys))

"""Notes on a solved flow as typed facts; `reachmap.text.flow_notes` makes their sentences.

In the flow stage's Dataset they are coordinates along `note`, so that they are stored with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import xarray as xr

from reachmap.base.fields import STACK
from reachmap.base.packed import packed_fields


class NoteKind(StrEnum):
    """What a note is about."""

    TRIBUTARY = "tributary"
    """A tributary joins at `station` and brings a share of the flow; `name` as drawn."""
    TRIBUTARY_NOT_MODELLED = "tributary_not_modelled"
    """The 1-D preview carries the whole flow above a tributary too."""
    CRITICAL_DEPTH = "critical_depth"
    """Sections at critical depth, the first at `station`: the level there is a lower bound."""
    NARROW = "narrow"
    """Water narrower than a cell: directions follow the river line."""
    HELD_TO_WAVES = "held_to_waves"
    """Area whose speed was held to that of waves: it may run thinner and faster."""
    UNKNOWN_GROUND = "unknown_ground"
    """Area of low ground that water could reach only over ground of unknown height."""
    SOLVED = "solved"
    """How the solve ended; `name` is the scheme."""
    NOT_AT_REST = "not_at_rest"
    """The tolerances that were not met."""
    OSCILLATES = "oscillates"
    """Area where the velocity oscillates and the solver was smoothed."""
    STRONG_BEND = "strong_bend"
    """Secondary flow in the bend at `station` is strong for a depth-averaged model."""
    CUT = "cut"
    """A long river was solved in stretches; how far two of them differ at `station`."""
    INTERPOLATED = "interpolated"
    """The field was interpolated between the solved flows on either side."""


VALUES: dict[NoteKind, tuple[str, ...]] = {
    NoteKind.TRIBUTARY: ("share",),
    NoteKind.TRIBUTARY_NOT_MODELLED: (),
    NoteKind.CRITICAL_DEPTH: ("critical_sections", "sections"),
    NoteKind.NARROW: (),
    NoteKind.HELD_TO_WAVES: ("area_m2",),
    NoteKind.UNKNOWN_GROUND: ("area_m2",),
    NoteKind.SOLVED: ("cycles", "section_error", "depth_change_m", "speed_change_m_s"),
    NoteKind.NOT_AT_REST: ("section_error", "depth_change_m", "speed_change_m_s"),
    NoteKind.OSCILLATES: ("area_m2",),
    NoteKind.STRONG_BEND: ("bend_number", "bend_number_limit", "closure_on"),
    NoteKind.CUT: ("level_m", "speed_m_s"),
    NoteKind.INTERPOLATED: ("low_m3_s", "high_m3_s"),
}
"""Names of a note's values, in order; in SI; shares and errors 0 to 1."""
MOST_VALUES = max(map(len, VALUES.values()))
COORDINATES = ("note_kind", "note_flow", "note_station", "note_name", "note_values")


@dataclass(frozen=True, slots=True)
class FlowNote:
    """One fact about the answer at a flow.

    Parameters
    ----------
    kind
        What it is about.
    flow
        At which flow [m3/s]; None: at every flow.
    station
        Where, metres down the river line; None: nowhere in particular.
    values
        As named by `VALUES` of its kind.
    name
        Of a tributary or a scheme; may be empty.
    """

    kind: NoteKind
    flow: float | None = None
    station: float | None = None
    values: tuple[float, ...] = ()
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse a note whose values are not those of its kind."""
        if len(self.values) != len(VALUES[self.kind]):
            msg = f"note {self.kind}: {len(self.values)} values, wants {VALUES[self.kind]}"
            raise ValueError(msg)

    def value(self, name: str) -> float:
        """Return one of the values by its name."""
        return self.values[VALUES[self.kind].index(name)]


def notes_of(flowing: xr.Dataset) -> tuple[FlowNote, ...]:
    """Return the notes of a flow stage's Dataset."""
    if "note_kind" not in flowing.coords:
        return ()
    columns = [flowing[name].to_numpy().tolist() for name in COORDINATES]
    notes = []
    for word, flow, station, name, values in zip(*columns, strict=True):
        kind = NoteKind(word)
        flow, station = (None if np.isnan(one) else one for one in (flow, station))
        notes.append(FlowNote(kind, flow, station, tuple(values[: len(VALUES[kind])]), name))
    return tuple(notes)


def with_notes(flowing: xr.Dataset, notes: Iterable[FlowNote]) -> xr.Dataset:
    """Return the Dataset with these notes, each once, in place of its own."""
    bare = flowing.drop_vars([name for name in COORDINATES if name in flowing.coords])
    listed = list(dict.fromkeys(notes))
    if not listed:
        return bare
    table = np.full((len(listed), MOST_VALUES), np.nan)
    for row, note in zip(table, listed, strict=True):
        row[: len(note.values)] = note.values
    numbers = [[np.nan if v is None else v for v in (n.flow, n.station)] for n in listed]
    flows, stations = np.array(numbers).T
    return bare.assign_coords(
        note_kind=("note", [str(note.kind) for note in listed]),
        note_flow=("note", flows, {"units": "m3/s"}),
        note_station=("note", stations, {"units": "m"}),
        note_name=("note", [note.name for note in listed]),
        note_values=(("note", "note_value"), table),
    )


def packed_flows(parts: Iterable[xr.Dataset]) -> xr.Dataset:
    """Return Datasets of single flows as one, with the notes of all, its rasters packed.

    Each part may be freed once the next is drawn: see `base.packed`. Labels are left to the caller.
    """
    notes: list[FlowNote] = []
    bare: list[xr.Dataset] = []

    def stripped() -> Iterator[xr.Dataset]:
        for part in parts:
            notes.extend(notes_of(part))
            lean = with_notes(part, ()).drop_vars("asked", errors="ignore")
            bare.append(lean.drop_vars([n for n, v in lean.data_vars.items() if v.dims == STACK]))
            yield lean

    packed = packed_fields(stripped())
    whole = xr.concat(bare, dim="flow", combine_attrs="override", join="override")
    return with_notes(whole.assign(packed), notes)


def repacked(flowing: xr.Dataset) -> xr.Dataset:
    """Return a Dataset of one flow that holds no other's rasters, fit to be sent elsewhere."""
    return packed_flows([flowing]).assign_coords(
        {name: flowing[name] for name in ("asked",) if name in flowing.coords}
    )


def one_flow_of(flowing: xr.Dataset, index: int) -> xr.Dataset:
    """Return one flow of a Dataset, the flow dimension kept, with the notes that concern it."""
    one = flowing.isel(flow=[index])
    flow = float(one["flow"].to_numpy()[0])
    return with_notes(one, [note for note in notes_of(flowing) if note.flow in (None, flow)])

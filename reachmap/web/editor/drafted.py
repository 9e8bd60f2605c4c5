"""The draft as JSON for the page: made on request, decided feature by feature."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from reachmap.base.errors import MarkupError
from reachmap.base.lock import locked
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.draft.store import State, StoredFeature, counts, decided, draft_in, keep
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS
from reachmap.markup.quantities import unit_of
from reachmap.web.editor.rows import paths_of
from reachmap.web.editor.schema import Mark, MessageError
from reachmap.web.editor.schema import Path as Corners
from reachmap.web.editor.store import LOCK_WAIT_S

LOCK = ".draft.lock"
PLACES = 8
"""Decimals of degrees compared to find a drafted mark in the drawing: a millimetre."""

SHOWN = {"level": 2, "flow": 1}
"""Decimals of numbers that are not lengths, in the folder's units; lengths have one."""

MOST_STATES = 20_000


def drafted_json(folder: Path, units: UnitSystem, marks: Iterable[Mark]) -> dict[str, Any]:
    """Return the open features, the number of dropped ones, and the fault of the file, if any.

    Parameters
    ----------
    folder
        The reach folder.
    units
        Of its numbers.
    marks
        The drawing. A feature that is in it just as drafted was accepted, even if the draft file
        does not say so: a program may have ended between the two writes.
    """
    try:
        kept = draft_in(folder)
    except MarkupError as error:
        return {"drafted": [], "dropped": 0, "draft_said": str(error)}
    if kept is None:
        return {"drafted": [], "dropped": 0, "draft_said": ""}
    drawn = {(mark.layer, _rounded(mark.paths)) for mark in marks}
    shown = [mark_of(one, kept.crs, units) for one in kept.open]
    waiting = [mark for mark in shown if (mark.layer, _rounded(mark.paths)) not in drawn]
    dropped = sum(one.state is State.DROPPED for one in kept.held)
    drafted = [mark.as_json() for mark in waiting if mark.paths]
    return {"drafted": drafted, "dropped": dropped, "draft_said": ""}


def mark_of(held: StoredFeature, crs: str, units: UnitSystem) -> Mark:
    """Return a drafted feature as a mark, its numbers in the folder's units."""
    shape, paths = paths_of(held.shape, crs)
    values = {}
    for field in LAYER_FIELDS[held.layer].fields:
        value = held.values.get(field.name, "")
        if field.quantity in NUMBERS and value != "":
            number = from_si(float(value), unit_of(field.quantity, units))
            value = f"{number:.{SHOWN.get(field.name, 1)}f}"
        values[field.name] = str(value)
    return Mark(held.key, held.layer, shape, paths, values)


def make_draft(folder: Path, units: UnitSystem, at: tuple[float, float] | None) -> tuple[str, ...]:
    """Draft the river anew and return the sentences on it.

    Raises
    ------
    MarkupError, BuildError
        If there is no terrain, or it shows no river.
    """
    from reachmap.pipeline.drafting import draft_folder, flow_is_known
    from reachmap.text.draft import draft_lines

    made = draft_folder(folder, at)
    waiting = counts(made.fresh)
    return tuple(draft_lines(made.draft, waiting, units, flow_known=flow_is_known(folder)))


def decide(folder: Path, states: Mapping[str, State]) -> None:
    """Store decisions on drafted features."""
    with locked(folder / LOCK, "a draft", wait_s=LOCK_WAIT_S):
        kept = draft_in(folder)
        if kept is not None and states:
            keep(folder, decided(kept, states))


def reopen_dropped(folder: Path) -> None:
    """Reopen all dropped features."""
    kept = draft_in(folder)
    if kept is not None:
        dropped = [one.key for one in kept.held if one.state is State.DROPPED]
        decide(folder, dict.fromkeys(dropped, State.OPEN))


def states_in(message: Mapping[str, Any]) -> dict[str, State]:
    """Return the states that a message gives, by key.

    Raises
    ------
    MessageError
        If there are none, or unknown ones.
    """
    given = message.get("states")
    if not isinstance(given, dict) or len(given) > MOST_STATES:
        msg = "What the page sent says nothing of drafted pieces."
        raise MessageError(msg)
    if not all(isinstance(one, str) and one in set(State) for one in given.values()):
        msg = "A drafted piece is open, accepted or dropped."
        raise MessageError(msg)
    return {str(key): State(one) for key, one in given.items()}


def place_in(message: Mapping[str, Any]) -> tuple[float, float] | None:
    """Return the place on the river that a message names, (longitude, latitude); None for none.

    Raises
    ------
    MessageError
        If it is no place.
    """
    at = message.get("at")
    if at is None:
        return None
    good = isinstance(at, list) and len(at) == 2
    if not good or not all(isinstance(one, int | float) and abs(one) <= 180 for one in at):
        msg = "The place on the river is not longitude and latitude."
        raise MessageError(msg)
    return float(at[0]), float(at[1])


def _rounded(paths: Sequence[Corners]) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return corners to a millimetre."""
    return tuple(tuple((round(x, PLACES), round(y, PLACES)) for x, y in path) for path in paths)

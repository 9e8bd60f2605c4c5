"""Preview of the drawing on the page, unsaved strokes included; nothing is written."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import Point, Polygon

from reachmap.base.errors import BuildError, Fault
from reachmap.base.units import FLOW, flow_words, from_si, to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.described import plain_name
from reachmap.markup.found import input_files
from reachmap.markup.layers import LINE, POLYGON
from reachmap.markup.model import Markup
from reachmap.markup.read import read_unsaved
from reachmap.markup.write import MARKUP_FILE
from reachmap.text import preview as words
from reachmap.web.editor.buffer import bank_buffer, read_buffer
from reachmap.web.editor.check import linked_fault
from reachmap.web.editor.reach_facts import facts_in, with_facts
from reachmap.web.editor.rows import StoredMark, paths_of, rows_of
from reachmap.web.editor.schema import FEWEST_CORNERS, Mark, MessageError, read_drawing, read_mark
from reachmap.web.editor.session import EditorSession

if TYPE_CHECKING:
    from reachmap.pipeline.drawn_preview import DrawnGround, DrawnWater

ROUNDS = 3
"""How often marks at fault are left out and the rest is looked at again (our choice)."""

BEYOND = 2.0
"""Factor below and above the traced flow where no flows are named yet (our choice)."""

COVER = "grass"
"""Cover of banks that have none yet, in the preview alone (our choice; it is said)."""


@dataclass(frozen=True, slots=True)
class Request:
    """What the page asked for: marks as on the page, and the slider's place between 0 and 1."""

    marks: tuple[Mark, ...]
    at: float | None


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing read for the preview: its markup, what was left out and what was taken for it."""

    markup: Markup | None
    faults: tuple[dict[str, Any], ...]
    left_out: int
    notes: tuple[str, ...]
    banks: tuple[str, ...]
    """Id of the mark of each bank in the markup."""


def read_request(body: Mapping[str, Any], units: UnitSystem) -> Request:
    """Return what the page asked for, the line in hand among the marks.

    Raises
    ------
    MessageError
        If it is no drawing.
    """
    sent = {**body, "draft": None}
    marks = list(read_drawing(json.dumps(sent).encode()).marks)
    draft = body.get("draft")
    if draft is not None:
        begun = _in_hand(read_mark(draft, whole=False), body, units)
        marks = [one for one in marks if begun is None or one.id != begun.id]
        marks += [begun] if begun is not None else []
    at = body.get("at")
    if at is not None and not (isinstance(at, int | float) and 0 <= at <= 1):
        msg = "The slider's place is not between 0 and 1."
        raise MessageError(msg)
    return Request(tuple(marks), None if at is None else float(at))


def _in_hand(mark: Mark, body: Mapping[str, Any], units: UnitSystem) -> Mark | None:
    """Return the line being drawn as a mark; None where it has too few corners yet."""
    path = mark.paths[0] if mark.paths else ()
    if body.get("strip") is not None:
        if len(path) < FEWEST_CORNERS[LINE]:
            return None
        given = {"path": path, "width": body["strip"], "beside": body.get("beside")}
        try:
            outline = bank_buffer(*read_buffer(given, units))
        except MessageError:
            return None  # the page says so when the strip is finished
        return replace(mark, shape=POLYGON, paths=outline)
    return mark if len(path) >= FEWEST_CORNERS.get(mark.shape, 1) else None


class Previewer:
    """Makes previews of one session's drawing; the last two drawings' grounds are kept."""

    def __init__(self, session: EditorSession) -> None:
        """Take the open folder."""
        self.session = session
        self._lock = threading.Lock()
        self._key: object = None
        self._read: Drawn | None = None
        self._ground: DrawnGround | None = None
        self._before: DrawnGround | None = None

    def preview(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Return the preview of what the page shows, or what is still wanted for one.

        Raises
        ------
        MessageError
            If the page sent no drawing.
        """
        asked = read_request(body, self.session.store.units)
        with self._lock:
            read = self._of(asked)
            if read.markup is None or self._ground is None:
                return {"wanting": list(read.faults), "before": words.BEFORE}
            return self._shown(read, self._ground, asked.at)

    def wanted(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Return the question for the number that would change the preview most; {} for none."""
        from reachmap.pipeline.most_wanted import most_wanted

        asked = read_request(body, self.session.store.units)
        with self._lock:
            read = self._of(asked)
            if read.markup is None or self._ground is None or read.markup.dems:
                return {}
            low, high = flow_range(read.markup)
            flow = _flow_at(read.markup, asked.at, low, high)
            best = most_wanted(self._ground, flow)
            return {} if best is None else _question(read, read.markup, best, flow)

    def _of(self, asked: Request) -> Drawn:
        """Return the drawing read and its ground made, unless it is the one of the last call."""
        text = self.session.text()
        key = (asked.marks, text, self._stamps())
        if key != self._key or self._read is None:
            read = _read(self.session, text, asked.marks)
            ground, read = _grounded(read)
            if ground is not None:
                self._before, self._ground = self._ground, ground
            else:
                self._ground = None
            self._key, self._read = key, read
        return self._read

    def _stamps(self) -> tuple[tuple[str, int, int], ...]:
        """Return name, time and size of each file that is read, but the drawing's own."""
        return tuple(
            (path.name, path.stat().st_mtime_ns, path.stat().st_size)
            for path in input_files(self.session.folder)
            if path.name != MARKUP_FILE
        )

    def _shown(self, read: Drawn, drawn: DrawnGround, at: float | None) -> dict[str, Any]:
        """Return the preview at one flow."""
        from reachmap.pipeline.drawn_preview import water_at

        markup, units = drawn.reach, drawn.reach.plan.units
        low, high = flow_range(markup)
        flow = _flow_at(markup, at, low, high)
        try:
            now = water_at(drawn, flow)
        except BuildError as error:
            return {"wanting": [_plain(one) for one in error.faults], "before": words.BEFORE}
        areas = (now.wet_m2, now.soft_m2, now.unknown_m2)
        told: dict[str, Any] = {
            "tag": words.TAG,
            "short": words.SHORT,
            "caution": words.CAUTION,
            "flow": flow_words(flow, units),
            "ends": [flow_words(one, units) for one in (low, high)],
            "at": float(np.log(flow / low) / np.log(high / low)),
            "lines": [
                *words.water_lines(flow, now.width_m, areas, units),
                *read.notes,
            ],
            "left_out": read.left_out,
            "wet": _rings(now.wet, markup.crs),
            "soft": _rings(now.soft, markup.crs),
            "unknown": _rings(now.unknown, markup.crs),
            "was": [],
            "change": "",
        }
        return told | self._change(now, flow, units)

    def _change(self, now: DrawnWater, flow: float, units: UnitSystem) -> dict[str, Any]:
        """Return the water of the drawing before the last change, and the sentence on it."""
        from reachmap.pipeline.drawn_preview import water_at

        if self._before is None:
            return {}
        try:
            was = water_at(self._before, flow)
        except BuildError:
            return {}
        line = words.change_line(_figures(was), _figures(now), units)
        return {"was": _rings(was.wet, self._before.reach.crs), "change": line}


def _figures(water: DrawnWater) -> tuple[float, float, float]:
    """Return the figures that a change is told by."""
    return water.width_m, water.soft_m2 / max(water.wet_m2, 1.0), water.unknown_m2


def _grounded(read: Drawn) -> tuple[DrawnGround | None, Drawn]:
    """Return the ground of a drawing, None with its faults where none can be made."""
    from reachmap.pipeline.drawn_preview import drawn_ground

    if read.markup is None:
        return None, read
    try:
        return drawn_ground(read.markup), read
    except BuildError as error:
        return None, replace(read, faults=tuple(_plain(one) for one in error.faults))


def _read(session: EditorSession, text: str, marks: Sequence[Mark]) -> Drawn:
    """Return the drawing as far as it is without fault.

    Marks at fault are left out, and counted; where too little is left then, all faults are
    returned.
    """
    text, taken = _with_flows(text), list(marks)
    bare = [one for one in taken if one.layer == "banks" and not one.values.get("cover")]
    notes = (words.COVER_TAKEN,) if bare else ()
    covered = {one.id: replace(one, values={**one.values, "cover": COVER}) for one in bare}
    taken = [covered.get(one.id, one) for one in taken]
    first: tuple[dict[str, Any], ...] = ()
    for _ in range(ROUNDS):
        frames, kept = _frames(session, taken)
        markup, faults = read_unsaved(session.folder, text, frames)
        if markup is not None:
            banks = tuple(one.mark.id for one in kept if one.mark.layer == "banks")
            return Drawn(markup, (), len(marks) - len(taken), notes, banks)
        told = tuple(linked_fault(one, kept) for one in faults)
        first = first or told
        wrong = {one["mark"] for one in told if "mark" in one}
        if not wrong:
            break
        taken = [one for one in taken if one.id not in wrong]
    return Drawn(None, first, 0, (), ())


def _frames(
    session: EditorSession, marks: Sequence[Mark]
) -> tuple[dict[str, gpd.GeoDataFrame], list[StoredMark]]:
    """Return marks as the tables that a save would write, and each with its number in them."""
    store = session.store
    known = {one.mark.id: one for one in store.kept}
    frames: dict[str, gpd.GeoDataFrame] = {}
    kept: list[StoredMark] = []
    for layer in dict.fromkeys(one.layer for one in marks):
        if layer not in store.sheets:
            continue
        mine = [one for one in marks if one.layer == layer]
        frame, rows = rows_of(store.sheets[layer], mine, known, store.units)
        shape = frame.geometry.name
        frame.columns = [one if one == shape else plain_name(str(one)) for one in frame.columns]
        frames[layer] = frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)
        kept += rows
    return frames, kept


def _with_flows(text: str) -> str:
    """Return reach.toml with the traced flow as the one to map, where none is named yet."""
    facts = facts_in(text)
    if facts is None or facts["flows"] or not facts["traced_flow"]:
        return text
    return with_facts(text, {"flows": facts["traced_flow"]})


def flow_range(markup: Markup) -> tuple[float, float]:
    """Return the flows of the slider's ends [m3/s]."""
    flows = [one for one in (*markup.plan.flows, markup.plan.traced_flow) if np.isfinite(one)]
    low, high = min(flows), max(flows)
    return (low, high) if high > 1.01 * low else (low / BEYOND, high * BEYOND)


def _flow_at(markup: Markup, at: float | None, low: float, high: float) -> float:
    """Return the flow at the slider's place [m3/s], the traced one where it was not moved yet."""
    if at is None:
        traced = markup.plan.traced_flow
        return float(traced) if np.isfinite(traced) else low
    unit = FLOW[markup.plan.units]
    shown = from_si(float(low * (high / low) ** at), unit)
    return float(np.clip(to_si(float(f"{shown:.3g}"), unit), low, high))


def _question(read: Drawn, markup: Markup, best: Any, flow: float) -> dict[str, Any]:
    """Return a wanted number as the page asks for it."""
    from reachmap.pipeline.most_wanted import RISES_M, Asked

    units = markup.plan.units
    told: dict[str, Any] = {"asked": str(best.asked)}
    if best.asked is Asked.RISE:
        bank = markup.banks[best.bank]
        told["mark"] = read.banks[best.bank] if best.bank < len(read.banks) else ""
        told["question"] = words.rise_question(bank.name, str(bank.side), RISES_M, units)
    elif best.asked is Asked.LEVEL:
        told["question"] = words.level_question()
    else:
        told["question"] = words.sounding_question(flow, units)
        _, paths = paths_of(Point(best.x, best.y), markup.crs)
        told["place"] = list(paths[0][0])
    return told


def _rings(outlines: Iterable[Polygon], crs: str) -> list[list[list[list[float]]]]:
    """Return outlines in WGS84, to a centimetre."""
    return [
        [[[round(x, 7), round(y, 7)] for x, y in ring] for ring in paths_of(one, crs)[1]]
        for one in outlines
    ]


def _plain(fault: Fault) -> dict[str, Any]:
    """Return a fault as JSON."""
    return {"where": fault.where, "found": fault.found, "fix": fault.fix}

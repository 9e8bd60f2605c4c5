"""Routes of the trip form, mounted into the editor's server or served alone."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import jinja2
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)
from starlette.routing import BaseRoute, Route

from reachmap.base.paths import OutsideError
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.logbook.folder_times import known_times
from reachmap.logbook.model import Entry
from reachmap.logbook.schema import LogError
from reachmap.logbook.store import FILE, TripLog
from reachmap.outputs.theme import page_style
from reachmap.web.trip_form import entries as form_values
from reachmap.web.trip_form.photos import keep_photo, photo_of
from reachmap.web.trip_form.typed import (
    Around,
    FormFields,
    TypedError,
    read_entry,
    typed_moment,
)

PARTS = files("reachmap.web.trip_form") / "page"

TYPES = {"form.css": "text/css", "form.js": "text/javascript", "rows.js": "text/javascript"}

LISTED = 20
"""Kept entries shown below the form (our choice)."""

FORM_BYTES = 2_000_000
"""Longest form that is read [bytes] (our choice): a long evening's notes and 200 soundings."""

FIELDS_MOST = 1500
"""Most fields of one form (our choice)."""


@dataclass(frozen=True, slots=True)
class TripFormContext:
    """Data sources of the form.

    Parameters
    ----------
    folder
        The reach folder.
    units
        Returns its units: reach.toml may change while the form is served.
    now
        Returns the time, with its zone.
    flow_at
        Returns the flow of the gauge's record at a time [m3/s], NaN where unknown.
    runs
        Returns the names of the river's runs.
    home
        Relative address of the drawing page; "" where it is not served.
    place_of
        Returns station [m] and bank of an entry, NaN and "" where they are not known.
    """

    folder: Path
    units: Callable[[], UnitSystem]
    now: Callable[[], datetime]
    flow_at: Callable[[datetime], float]
    runs: Callable[[], Sequence[str]]
    home: str = ""
    place_of: Callable[[Entry], tuple[float, str]] = lambda _: (math.nan, "")
    lock: threading.Lock = field(default_factory=threading.Lock)

    def around(self, shown: str) -> Around:
        """Return the context to read an entry in; `shown` names the units of its form."""
        units = UnitSystem(shown) if shown in list(UnitSystem) else self.units()
        return Around(units, self.now(), self.flow_at, known_times(self.folder))

    def keep(self, sent: FormFields) -> Entry:
        """Keep what was typed; when this returns, it is on the disk.

        Raises
        ------
        TypedError
            With every fault, by field.
        """
        around = self.around(*sent.get("units", ("",))[:1])
        old, _, _ = self.kept((*sent.get("uid", ()), "")[0])
        entry = read_entry(sent, replace(around, kept=None if old is None else old.when))
        with self.lock, TripLog(self.folder / FILE) as log:
            old = log.entry(entry.uid)
            entry = _with_place_of(old, _with_flow_of(old, self._placed(entry)))
            log.keep(entry)
        return entry

    def _placed(self, entry: Entry) -> Entry:
        """Return an entry with its station and bank, as far as they are known."""
        station, bank = self.place_of(entry)
        return replace(entry, station_m=station, bank=bank)

    def remove(self, uid: str) -> bool:
        """Take an entry out; return whether there was one."""
        with self.lock, TripLog(self.folder / FILE) as log:
            try:
                log.remove(uid)
            except KeyError:
                return False
        return True

    def kept(self, uid: str) -> tuple[Entry | None, list[Entry], list[str]]:
        """Return the entry with an id, the newest ones, and the names of runs in the log."""
        if not (self.folder / FILE).is_file():
            return None, [], []
        with TripLog(self.folder / FILE) as log:
            return log.entry(uid) if uid else None, log.latest(LISTED), log.runs()


def _with_flow_of(old: Entry | None, entry: Entry) -> Entry:
    """Return a changed entry with the gauge's flow it had, where it is no longer in the record."""
    lost = old is not None and old.flow_from == "gauge" and math.isnan(entry.flow)
    if old is None or not lost or old.when != entry.when:
        return entry
    return replace(entry, flow=old.flow, flow_from=old.flow_from)


def _with_place_of(old: Entry | None, entry: Entry) -> Entry:
    """Return a changed entry with the station and bank it had, where they are no longer known."""
    if old is None or not math.isnan(entry.station_m) or old.run != entry.run:
        return entry
    if repr((old.x, old.y)) != repr((entry.x, entry.y)):
        return entry
    return replace(entry, station_m=old.station_m, bank=old.bank)


def log_routes(session: TripFormContext) -> list[BaseRoute]:
    """Return the form's routes: /log and those below it.

    Parameters
    ----------
    session
        Data sources of the form.
    """
    pages = _Pages(session)
    return [
        Route("/log", _answered(pages.page), methods=["GET"]),
        Route("/log", _answered(pages.keep), methods=["POST"]),
        Route("/log/remove", _answered(pages.remove), methods=["POST"]),
        Route("/log/flow", _answered(pages.flow), methods=["GET"]),
        Route("/log/photo", _answered(pages.photo), methods=["POST"]),
        Route("/log/photo/{name}", _answered(pages.shown_photo), methods=["GET"]),
        Route("/log/{name}", _answered(pages.part), methods=["GET"]),
    ]


def _answered(answer: Callable[[Request], Any]) -> Callable[[Request], Any]:
    """Wrap a handler so that its errors of log and disk become a status code and a sentence."""

    async def answered(request: Request) -> Response:
        try:
            result: Response = await answer(request)
        except (LogError, OutsideError) as error:
            return PlainTextResponse(str(error), 422)
        except OSError as error:
            return PlainTextResponse(f"The computer refused: {error}", 507)
        return result

    return answered


class _Pages:
    """Request handlers: each calls the session and returns its answer."""

    def __init__(self, session: TripFormContext) -> None:
        """Take the session and read the page's template."""
        self.session = session
        environment = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
        text = (PARTS / "form.html").read_text(encoding="utf-8")
        self.template = environment.from_string(text)

    async def page(self, request: Request) -> Response:
        """Return the form: empty, with an entry to change, or with one just kept above it."""
        ask = request.query_params
        editing, kept = ask.get("edit", ""), ask.get("kept", "")
        found, newest, runs = await run_in_threadpool(self.session.kept, editing or kept)
        fields = form_values.empty_form(self.session.now())
        shown: dict[str, Any] = {"removed": "removed" in ask}
        if found is not None and editing:
            fields = form_values.entry_form(found, self.session.units())
            shown["editing"] = True
        elif found is not None:
            shown["kept"] = form_values.entry_card(found, self.session.units())
            shown["advice"] = form_values.kept_words(found)
        return await self._shown(fields, {}, newest, runs, shown)

    async def keep(self, request: Request) -> Response:
        """Keep what was typed, or show it again with its faults next to the fields."""
        sent = await _form(request)
        plain = request.headers.get("accept", "").startswith("application/json")
        if sent is None:
            return PlainTextResponse("That is no form of ours, or too long.", 413)
        try:
            entry = await run_in_threadpool(self.session.keep, sent)
        except TypedError as error:
            if plain:
                return JSONResponse({"faults": error.faults}, 422)
            _, newest, runs = await run_in_threadpool(self.session.kept, "")
            again = form_values.sent_again(sent)
            page = await self._shown(again, error.faults, newest, runs, {})
            page.status_code = 422
            return page
        if plain:
            return JSONResponse({"kept": entry.uid})
        return RedirectResponse(f"log?kept={entry.uid}", 303)

    async def _shown(
        self,
        fields: dict[str, Any],
        faults: dict[str, str],
        newest: Sequence[Entry],
        runs: Sequence[str],
        shown: dict[str, Any],
    ) -> HTMLResponse:
        """Return the page."""
        known = await run_in_threadpool(self.session.runs)
        units = UnitSystem(fields["units"]) if fields.get("units") else self.session.units()
        text = self.template.render(
            f=fields,
            faults=faults,
            entries=[form_values.entry_card(entry, units) for entry in newest],
            runs=list(dict.fromkeys([*known, *runs])),
            unit=form_values.unit_names(units),
            units=str(units),
            home=self.session.home,
            blank=form_values.NO_SEEN,
            **({"kept": None, "advice": [], "editing": False, "removed": False} | shown),
        )
        return HTMLResponse(text)

    async def remove(self, request: Request) -> Response:
        """Take an entry out."""
        sent = await _form(request)
        uid = (sent or {}).get("uid", [""])[0]
        if not await run_in_threadpool(self.session.remove, uid):
            return PlainTextResponse("There is no such entry.", 404)
        return RedirectResponse("../log?removed=1", 303)

    async def flow(self, request: Request) -> Response:
        """Return the flow of the gauge's record at a typed time, in words."""
        ask = request.query_params
        parts = (ask.get("date", ""), ask.get("time", ""), ask.get("zone", ""))
        try:
            when = typed_moment(*parts, self.session.now())
        except ValueError:
            return JSONResponse({"words": ""})
        flow = await run_in_threadpool(self.session.flow_at, when)
        if math.isnan(flow):
            return JSONResponse({"words": "The gauge's record does not know this hour."})
        return JSONResponse(
            {"words": f"Empty: {flow_words(flow, self.session.units())}, by the gauge."}
        )

    async def photo(self, request: Request) -> Response:
        """Keep a picture and return its path in the folder."""
        body = await request.body()
        path = await run_in_threadpool(keep_photo, self.session.folder, body)
        if path is None:
            return PlainTextResponse("That is no picture (JPEG, PNG, WebP or HEIC).", 415)
        return JSONResponse({"path": path})

    async def shown_photo(self, request: Request) -> Response:
        """Return a kept picture."""
        name = request.path_params["name"]
        found = await run_in_threadpool(photo_of, self.session.folder, name)
        if found is None:
            return PlainTextResponse("Nothing is here.", 404)
        return Response(found[0], media_type=found[1])

    async def part(self, request: Request) -> Response:
        """Return the page's style or script."""
        name = request.path_params["name"]
        if name == "shared.css":
            return Response(page_style(), media_type="text/css; charset=utf-8")
        if name not in TYPES:
            return PlainTextResponse("Nothing is here.", 404)
        return Response((PARTS / name).read_bytes(), media_type=f"{TYPES[name]}; charset=utf-8")


async def _form(request: Request) -> dict[str, list[str]] | None:
    """Return the fields of a form as sent; None where it is none."""
    body = await request.body()
    if len(body) > FORM_BYTES:
        return None
    read = partial(parse_qs, keep_blank_values=True, errors="replace", max_num_fields=FIELDS_MOST)
    try:
        return read(body.decode("ascii"))
    except ValueError:
        return None

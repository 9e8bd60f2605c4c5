"""The page's door to public services: a listing over the shown box, and fetching what is ticked.

Fetching goes on in a thread of its own, one at a time; the page asks how far it is.
"""

from __future__ import annotations

import threading
from collections.abc import Awaitable, Callable, Mapping
from datetime import UTC, datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from reachmap.base.disk import refusal_words
from reachmap.base.errors import Fault, ReachmapError
from reachmap.online.box import Box, BoxError, checked
from reachmap.online.find import NotFetchedError, Search, chosen, fetch, find
from reachmap.online.model import Got, Kind, Listing, Offer
from reachmap.text.online import SENT, facts_of, got_lines, headline, silence_line
from reachmap.web.editor.imports import FileImportError, found_in
from reachmap.web.editor.schema import parsed
from reachmap.web.editor.session import EditorSession

LONGEST_ADDRESS = 500
"""Signs of a catalogue's address at the most (our choice)."""

Answer = Callable[[Request], Awaitable[Response]]


class BusyError(ReachmapError):
    """Something is being fetched already."""


class Finding:
    """What is offered over the box that was asked about last, and what is being fetched."""

    def __init__(self, session: EditorSession) -> None:
        """Take the open folder; nobody is asked before the page says so."""
        self.session = session
        self._lock = threading.Lock()
        self._listing: Listing | None = None
        self._catalogue = ""
        self._state: dict[str, Any] = {"running": False, "lines": [], "wrong": "", "found": []}

    def listed(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """Ask the services about a box and return what they offer."""
        box = _box(message.get("box"))
        catalogue = str(message.get("catalogue") or "").strip()[:LONGEST_ADDRESS]
        listing = find(Search(box, catalogue))
        with self._lock:
            self._listing, self._catalogue = listing, catalogue
        return {
            "sent": SENT,
            "offers": [
                {"name": one.name, "what": headline(one), "facts": facts_of(one)}
                for one in listing.offers
            ],
            "silences": [silence_line(one) for one in listing.silences],
        }

    def start(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """Begin to fetch what is ticked.

        Raises
        ------
        BusyError
            If something is being fetched.
        ChoiceError
            If what is ticked was not offered.
        """
        names = message.get("names")
        asked = [one for one in names if isinstance(one, str)] if isinstance(names, list) else []
        with self._lock:
            if self._state["running"]:
                msg = "Something is being fetched already. Wait until it has come."
                raise BusyError(msg)
            listing = self._listing
            if listing is None or not asked:
                fault = Fault("what to fetch", "nothing is ticked", "List what there is, and tick")
                raise BoxError(fault)
            offers = chosen(listing, asked)
            self._state = {
                "running": True, "step": "beginning", "done": 0, "total": 0, "lines": [],
                "wrong": "", "found": [],
            }  # fmt: skip
            search = Search(listing.box, self._catalogue, self._heard)
        threading.Thread(target=self._fetch, args=(offers, search), daemon=True).start()
        return self.progress()

    def progress(self) -> dict[str, Any]:
        """Return how far it is, and at the end what came."""
        with self._lock:
            return dict(self._state)

    def _heard(self, step: str, done: int, total: int) -> None:
        """Keep how far it is."""
        with self._lock:
            self._state |= {"step": step, "done": done, "total": total}

    def _fetch(self, offers: tuple[Offer, ...], search: Search) -> None:
        """Fetch, and keep what came and what did not."""
        got: tuple[Got, ...] = ()
        wrong = ""
        folder = self.session.folder
        try:
            got = fetch(folder, offers, search, datetime.now(UTC), river_aside=True)
        except NotFetchedError as error:
            got, wrong = error.got, str(error)
        except ReachmapError as error:
            wrong = str(error)
        except OSError as error:
            wrong = refusal_words(error)
        except Exception as error:  # noqa: BLE001 - a thread's end is told, never silent
            wrong = f"This is a fault in reachmap: {type(error).__name__}: {error}"[:300]
        self.session.forget_ground()
        with self._lock:
            self._state |= {
                "running": False, "lines": got_lines(got, folder, on_page=True), "wrong": wrong,
                "found": _river(got),
            }  # fmt: skip


def find_routes(finding: Finding, told: Callable[[Answer], Answer]) -> list[BaseRoute]:
    """Return the addresses of the page's door, their errors told as the page's others are."""

    async def listed(request: Request) -> Response:
        message = parsed(await request.body())
        return JSONResponse(await run_in_threadpool(finding.listed, message))

    async def start(request: Request) -> Response:
        message = parsed(await request.body())
        return JSONResponse(await run_in_threadpool(finding.start, message))

    async def progress(_request: Request) -> Response:
        return JSONResponse(finding.progress())

    return [
        Route("/find", told(listed), methods=["POST"]),
        Route("/find/fetch", told(start), methods=["POST"]),
        Route("/find/progress", told(progress), methods=["GET"]),
    ]


def _box(given: object) -> Box:
    """Return the box that the page shows.

    Raises
    ------
    BoxError
        If it is none, or too large.
    """
    numbers = given if isinstance(given, list) else []
    edges = [float(one) for one in numbers if isinstance(one, (int, float))]
    if len(edges) != 4:
        raise BoxError(Fault("the map", "it shows no place", "Show the reach on the map"))
    west, south, east, north = edges
    return checked(west, south, east, north, where="what the map shows")


def _river(got: tuple[Got, ...]) -> list[dict[str, Any]]:
    """Return the river line that came, as the page takes in dropped files; [] for none."""
    files = [file for one in got if one.offer.kind is Kind.RIVER for file in one.files]
    try:
        return [
            one.as_json() for file in files for one in found_in("river.geojson", file.read_bytes())
        ]
    except (FileImportError, OSError):
        return []

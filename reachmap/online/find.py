"""The door: what public services offer over a box, and fetching what was chosen of it."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from reachmap.base.errors import Fault, FaultsError
from reachmap.base.progress import Progress
from reachmap.base.quoting import one_of
from reachmap.markup.files import refuse_no_folder
from reachmap.online import catalogue, forecasts, gauges, river, terrain
from reachmap.online.box import Box
from reachmap.online.drawn import river_drawn
from reachmap.online.model import (
    AskError,
    Fetching,
    Got,
    Listing,
    Offer,
    Service,
    Silence,
)
from reachmap.online.sources_file import note_sources

ASIDE = ".fetching"
"""Hidden folder of the reach folder that holds what is not whole yet."""

ASKS: dict[Service, Callable[[Box], list[Offer]]] = {
    Service.TERRAIN: terrain.offers,
    Service.RIVER: river.offers,
    Service.GAUGES: gauges.offers,
    Service.FORECASTS: forecasts.offers,
}
"""Who is asked, in the order of the listing; a named catalogue comes last."""

FETCHES: dict[Service, Callable[[Offer, Fetching], Got]] = {
    Service.TERRAIN: terrain.fetch,
    Service.RIVER: river.fetch,
    Service.GAUGES: gauges.fetch,
    Service.FORECASTS: forecasts.fetch,
    Service.CATALOGUE: catalogue.fetch,
}


class ChoiceError(FaultsError):
    """What was chosen is not on the list."""


class NotFetchedError(FaultsError):
    """Some of what was chosen did not come; the rest was kept."""

    heading = "did not come"

    def __init__(self, faults: Sequence[Fault], got: Sequence[Got]) -> None:
        """Keep what came beside the faults."""
        self.got = tuple(got)
        super().__init__(faults)


@dataclass(frozen=True, slots=True)
class Search:
    """What is asked about: a box, a catalogue's address ("" for none), and progress."""

    box: Box
    catalogue: str = ""
    progress: Progress = lambda _step, _done, _total: None


def find(search: Search) -> Listing:
    """Return what public services offer over a box; one that fails hides no other."""
    asks: list[tuple[Service, Callable[[Box], list[Offer]]]] = list(ASKS.items())
    if search.catalogue:
        asks.append((Service.CATALOGUE, partial(catalogue.offers, address=search.catalogue)))
    offers: list[Offer] = []
    silences: list[Silence] = []
    for number, (service, offered) in enumerate(asks):
        search.progress(f"asking for {service.value}", number, len(asks))
        try:
            offers += offered(search.box)
        except AskError as error:
            silences.append(Silence(service, error.why, error.detail))
    return Listing(search.box, tuple(offers), tuple(silences))


def chosen(listing: Listing, words: Sequence[str]) -> tuple[Offer, ...]:
    """Return the offers that numbers of a listing, or names, choose, each once.

    Raises
    ------
    ChoiceError
        Listing every word that is neither.
    """
    names = {one.name: one for one in listing.offers}
    found: dict[str, Offer] = {}
    faults = []
    for word in (part for given in words for part in given.replace(",", " ").split()):
        at = int(word) if word.isascii() and word.isdigit() and len(word) < 6 else 0
        if word in names:
            found[word] = names[word]
        elif 0 < at <= len(listing.offers):
            found[listing.offers[at - 1].name] = listing.offers[at - 1]
        else:
            fix = one_of(word, list(names)) if names else "Nothing is offered there"
            faults.append(Fault("--fetch", f"{word!r} is not on the list", fix))
    if faults:
        raise ChoiceError(faults)
    return tuple(found.values())


def fetch(
    folder: Path,
    offers: Sequence[Offer],
    search: Search,
    today: datetime,
    *,
    river_aside: bool = False,
) -> tuple[Got, ...]:
    """Fetch what was chosen into the reach folder, with a note of where it came from.

    What the angler made is never written over; a file fetched earlier under the same name is.

    Parameters
    ----------
    folder
        The reach folder.
    offers
        Of a listing over the same box.
    search
        What was asked about.
    today
        UTC.
    river_aside
        Whether a river line is kept beside the drawing, for whoever brings it in by hand.

    Raises
    ------
    MarkupError
        If there is no such folder.
    NotFetchedError
        If something did not come; what did come was kept, and noted.
    """
    refuse_no_folder(folder)
    got: list[Got] = []
    faults: list[Fault] = []
    for number, offer in enumerate(offers, start=1):
        aside = folder / ASIDE / _key(offer, search.box)
        aside.mkdir(parents=True, exist_ok=True)
        step = f"{offer.name} ({number} of {len(offers)})"

        def hear(done: int, total: int, step: str = step) -> None:
            search.progress(step, done, total)

        how = Fetching(folder, aside, search.box, hear, today, river_aside or river_drawn(folder))
        try:
            one = FETCHES[offer.service](offer, how)
        except AskError as error:
            fix = "Ask for the same again: what has come already stays and is gone on with"
            faults.append(Fault(offer.name, _why(error), fix))
            continue
        got.append(one)
        note_sources(folder, [one], search.box, today)
        shutil.rmtree(aside, ignore_errors=True)
    _tidy(folder / ASIDE)
    if faults:
        raise NotFetchedError(faults, got)
    return tuple(got)


def _why(error: AskError) -> str:
    """Return what went wrong, for a message."""
    return error.detail or f"nothing came ({error.why.value.replace('_', ' ')})"


def _key(offer: Offer, box: Box) -> str:
    """Return the name under which what is not whole waits: of the offer and the box."""
    told = f"{offer.service} {offer.name} {box.bounds} {offer.ask.get('href', '')}"
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _tidy(aside: Path) -> None:
    """Take the hidden folder away where nothing waits in it."""
    if aside.is_dir() and not any(aside.iterdir()):
        aside.rmdir()

"""The command `find`: what public services offer over a place, and fetching what one chooses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import ReachFolder

if TYPE_CHECKING:
    from pathlib import Path

    from reachmap.online.box import Box


def find(
    folder: ReachFolder,
    box: Annotated[
        str, typer.Option(help="West,south,east,north in degrees; the drawn river's if not given.")
    ] = "",
    point: Annotated[
        str, typer.Option(help="Latitude,longitude, like 46.2,-141.0, instead of a box.")
    ] = "",
    across: Annotated[
        float, typer.Option(min=0.2, max=30, help="With --point: the box's side [km].")
    ] = 3.0,
    catalogue: Annotated[
        str, typer.Option(help="Address of a STAC catalogue to be searched too, elsewhere.")
    ] = "",
    fetch: Annotated[
        list[str] | None, typer.Option(help="Number or name on the list; repeat for more.")
    ] = None,
) -> None:
    """List and fetch what public services offer for your reach. Needs a network.

    Terrain, river line, gauges and forecasts in the United States; elsewhere terrain and pictures
    of a catalogue that you name. Nothing but the box is sent. Nothing else asks the network.
    """
    from datetime import UTC, datetime

    from reachmap.online.find import NotFetchedError, Search, chosen
    from reachmap.online.find import fetch as fetch_offers
    from reachmap.online.find import find as find_offers
    from reachmap.text.online import got_lines, listing_lines

    where = _box(folder, box, point, across)
    with say.progress() as told:
        listing = find_offers(Search(where, catalogue, told))
    if not fetch:
        say.lines(listing_lines(listing))
        return
    offers = chosen(listing, fetch)
    with say.progress() as told:
        try:
            got = fetch_offers(folder, offers, Search(where, catalogue, told), datetime.now(UTC))
        except NotFetchedError as error:
            say.lines(got_lines(error.got, folder))
            raise
    say.lines(got_lines(got, folder))


def _box(folder: Path, box: str, point: str, across: float) -> Box:
    """Return the box that was typed, or that of the drawn river."""
    from reachmap.base.errors import Fault
    from reachmap.markup.files import refuse_no_folder
    from reachmap.online.box import BoxError, typed_box, typed_point
    from reachmap.online.drawn import drawn_box

    refuse_no_folder(folder)
    if box and point:
        fix = "Give one of the two"
        raise BoxError(Fault("--box and --point", "both are given", fix))
    if box:
        return typed_box(box)
    if point:
        return typed_point(point, across)
    found = drawn_box(folder)
    if found is None:
        fix = "Give --point latitude,longitude or --box west,south,east,north"
        raise BoxError(Fault(str(folder), "no river is drawn there yet", fix))
    return found

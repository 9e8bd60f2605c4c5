"""What public services offer, what they have not, and what came, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from reachmap.online.model import Got, Kind, Listing, Offer, Service, Silence, Why

KINDS: Mapping[Kind, str] = {
    Kind.TERRAIN: "heights of the ground",
    Kind.SURFACE: "a surface with the trees in it, or made from heights: no ground",
    Kind.RIVER: "the river line through the middle of the box",
    Kind.GAUGE: "gauge: a year of flow, and its rating",
    Kind.FORECAST: "forecast of flow or gauge height",
    Kind.PICTURE: "picture from the air",
    Kind.CLOUD: "point cloud: heights of the cover on the banks",
    Kind.OTHER: "a raster; the catalogue does not say of what",
}
"""What an offer is good for."""

SERVICES: Mapping[Service, str] = {
    Service.TERRAIN: "terrain (United States)",
    Service.RIVER: "river line (United States)",
    Service.GAUGES: "gauges (United States)",
    Service.FORECASTS: "forecasts (United States)",
    Service.CATALOGUE: "your catalogue",
}
"""Who was asked, and for where it has anything."""

BY_HAND: Mapping[Service, str] = {
    Service.TERRAIN: "look for a lidar terrain model (bare earth, 1 m) on the page of your mapping "
    "or survey agency, and put the GeoTIFF into the folder under any name",
    Service.RIVER: "draw the line on the page (reachmap mark), or export it from a hydrography "
    "layer in a GIS program as river.geojson",
    Service.GAUGES: "save the record and the rating table from the page of the agency that keeps "
    "your gauge into the folder gauge/",
    Service.FORECASTS: "save the forecast's table from the page of your river forecast centre as "
    "forecast.csv (time,flow_cfs) and give it with --forecast",
    Service.CATALOGUE: "open the catalogue in a browser, and put the GeoTIFF of the reach into the "
    "folder (a picture as imagery.tif)",
}
"""How to get the same without the service."""

COMMAND = "pip install 'reachmap[online]'"

NO_ANSWERS = "No service answered: this computer may be without a network."

SENT = (
    "Sent to them: the box and no more (gauges and forecasts: a box 10 km wider; the river: its "
    "middle)."
)

LICENCE_NOTE = "Before you pass a map on, read the licences; sources.csv keeps them."


def headline(offer: Offer) -> str:
    """Return what an offer is good for, with what tells it from others of its kind."""
    words = KINDS[offer.kind]
    parts = [words[0].upper() + words[1:]]
    if offer.kind in {Kind.TERRAIN, Kind.SURFACE, Kind.PICTURE} and offer.resolution_m > 0:
        parts.append(f"{offer.resolution_m:g} m")
    if math.isfinite(offer.size_bytes):
        parts.append(size_words(offer))
    return ", ".join(parts)


def listing_lines(listing: Listing) -> list[str]:
    """Return everything that is offered, numbered, and who has nothing and what to do."""
    wide, high = listing.box.sides_km
    lines = [f"The box is {wide:.3g} by {high:.3g} km ({_bounds(listing)}). {SENT}", ""]
    for number, offer in enumerate(listing.offers, start=1):
        lines += [f"{number:>3}  {offer.name}: {headline(offer)}", f"     {facts_of(offer)}"]
    if not listing.offers:
        lines.append("Nothing is offered there.")
    lines += _silent_lines(listing)
    if listing.offers:
        first = listing.offers[0].name
        lines += ["", f"Fetch by number or name: --fetch 1, or --fetch {first}; repeat for more."]
    return lines


def _silent_lines(listing: Listing) -> list[str]:
    """Return who has nothing, why, and how to get it by hand."""
    if not listing.silences:
        return []
    lines = [""]
    dumb = [one for one in listing.silences if one.why is Why.NO_ANSWER]
    if not listing.offers and dumb and len(dumb) == len(listing.silences):
        lines.append(NO_ANSWERS)
    return [*lines, *(silence_line(one) for one in listing.silences)]


def silence_line(silence: Silence) -> str:
    """Return why a service gives nothing, and how to get the same by hand."""
    who = SERVICES[silence.service]
    told = {
        Why.NO_LIBRARY: f"the library {silence.detail} is not installed: {COMMAND}",
        Why.NO_ANSWER: f"no good answer came ({silence.detail})",
        Why.NOTHING_HERE: "nothing there; the place may lie outside what it covers",
        Why.NO_SEARCH: "it cannot be searched by place: it is a list of files alone",
    }[silence.why]
    return f"No {who}: {told}. By hand: {BY_HAND[silence.service]}."


def facts_of(offer: Offer) -> str:
    """Return what a service says of an offer: who, how large, from when, how fine, which licence.

    What it does not say is said to be unsaid.
    """
    parts = [offer.title, f"from {offer.host}"]
    if math.isnan(offer.size_bytes):
        parts.append(size_words(offer))
    if offer.kind is Kind.GAUGE:
        parts.append(f"readings {offer.date}" if offer.date else "dates not said")
    elif offer.kind is Kind.FORECAST:
        parts.append(f"first to come at {offer.date} UTC" if offer.date else "time not said")
    else:
        parts.append(f"of {offer.date}" if offer.date else "date not said")
        parts.append(_resolution(offer))
    if offer.kind in {Kind.TERRAIN, Kind.SURFACE, Kind.CLOUD, Kind.GAUGE}:
        parts.append(offer.vertical_datum or "vertical datum not said")
    parts.append(offer.licence or "licence not said")
    if math.isfinite(offer.distance_km):
        parts.append(f"{offer.distance_km:.0f} km off")
    return "; ".join(part for part in parts if part)


def _resolution(offer: Offer) -> str:
    """Return how fine it is."""
    if math.isnan(offer.resolution_m):
        return "resolution not said"
    if offer.kind is Kind.RIVER:
        return f"good to some {offer.resolution_m:.0f} m"
    cell = f"{offer.resolution_m:g} m"
    if offer.service is Service.TERRAIN:
        return f"cells of {cell}, of the best survey there is (it may be coarser)"
    return f"cells of {cell}"


def size_words(offer: Offer) -> str:
    """Return how large an offer is."""
    if math.isnan(offer.size_bytes):
        return "small" if offer.kind in {Kind.GAUGE, Kind.FORECAST} else "size not said"
    most = "at most " if offer.kind is Kind.TERRAIN and offer.service is Service.TERRAIN else ""
    if offer.size_bytes < 100_000:
        return f"{most}{max(offer.size_bytes / 1e3, 1):.0f} kB"
    if offer.size_bytes < 1e9:
        return f"{most}{max(offer.size_bytes / 1e6, 0.1):.2g} MB"
    return f"{most}{offer.size_bytes / 1e9:.2g} GB"


def _bounds(listing: Listing) -> str:
    """Return the box's edges."""
    return ", ".join(f"{edge:g}" for edge in listing.box.bounds)


def got_lines(got: Sequence[Got], folder: Path, *, on_page: bool = False) -> list[str]:
    """Return what was fetched, and what to do with it; the page itself brings a river line in."""
    lines = []
    for one in got:
        names = [file.relative_to(folder).as_posix() for file in one.files]
        lines.append(
            f"Wrote {', '.join(names)}: {KINDS[one.offer.kind]}.{_next(one, names, on_page)}"
        )
    return [*lines, f"Where it came from stands in sources.csv. {LICENCE_NOTE}"] if lines else []


def _next(one: Got, names: Sequence[str], on_page: bool) -> str:
    """Return what to do with a fetched thing, with a blank before it; "" for nothing."""
    datum = one.offer.vertical_datum
    if one.offer.kind is Kind.TERRAIN and datum:
        return f' Its heights are {datum}: say datum = "{datum}" under [dem] in reach.toml.'
    if one.offer.kind is Kind.RIVER and on_page:
        return " It may lie beside today's river: move its corners onto the water."
    if one.offer.kind is Kind.RIVER and "river.geojson" not in names:
        return " A river is drawn already: bring this one in on the page (reachmap mark)."
    if one.offer.kind is Kind.RIVER:
        return " Look at it on the page (reachmap mark): it may lie beside today's river."
    if one.offer.kind is Kind.FORECAST:
        return f" Use it: reachmap days DIR --forecast DIR/{names[0]}."
    if one.offer.kind in {Kind.SURFACE, Kind.OTHER}:
        return " What becomes of it: reachmap check."
    return ""

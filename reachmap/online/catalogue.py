"""Terrain, pictures and point clouds of a catalogue that the user names, by `pystac-client` (STAC).

A catalogue lists items over the box, each with files (assets). What they are is told by their media
type, roles and bands; vertical datum and licence only where the catalogue says them.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from reachmap.online.box import Box
from reachmap.online.free_names import free_name
from reachmap.online.http import download, refuse_address
from reachmap.online.libraries import failures, library
from reachmap.online.model import (
    AskError,
    Fetching,
    Got,
    Kind,
    Offer,
    Service,
    Why,
    first_line,
)

MOST_ITEMS = 40
"""Items asked for at the most (our choice): a page of a listing."""

ERRORS = (
    *("pystac_client.exceptions.APIError", "pystac.errors.STACError"),
    *("requests.exceptions.RequestException", "pystac_client.errors.ClientTypeError"),
)

ENDINGS = {".tif": ".tif", ".tiff": ".tif", ".laz": ".laz", ".las": ".las"}
"""Endings of files that are listed, and under which they are kept."""

_PLAIN = re.compile(r"[^A-Za-z0-9]+")
_SURFACE = re.compile(r"(^|[^a-z])(n?dsm|surface|chm|canopy|hillshade|slope|aspect)([^a-z]|$)")
_GROUND = re.compile(r"(^|[^a-z])(dem|dtm|elevation|terrain|bare.?earth|height)([^a-z]|$)")
_PICTURE = re.compile(r"(^|[^a-z])(visual|ortho\w*|imagery|rgb\w*|image|naip)([^a-z]|$)")
_PREVIEW = frozenset({"thumbnail", "overview", "metadata"})


def offers(box: Box, address: str) -> list[Offer]:
    """Return the rasters and point clouds of a catalogue over the box, newest first.

    Parameters
    ----------
    box
        Where.
    address
        The catalogue's.

    Raises
    ------
    AskError
        If the library is missing, the catalogue does not answer, cannot be searched, or has nothing
        there.
    """
    client = library("pystac_client")
    refuse_address(address, address)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            catalogue = client.Client.open(address, timeout=60)
            if not catalogue.conforms_to("ITEM_SEARCH"):
                raise AskError(Why.NO_SEARCH)
            search = catalogue.search(bbox=list(box.bounds), max_items=MOST_ITEMS)
            items = list(search.items_as_dicts())
            licences = _licences(catalogue, items)
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    made: dict[str, Offer] = {}
    for item in items:
        for key, asset in _mapping(item.get("assets")).items():
            offer = _offer(item, str(key), _mapping(asset), licences, address)
            if offer is not None:
                made.setdefault(offer.name, offer)
    if not made:
        raise AskError(Why.NOTHING_HERE)
    return sorted(made.values(), key=lambda one: one.date, reverse=True)


def fetch(offer: Offer, how: Fetching) -> Got:
    """Fetch a file whole; where it was cut short the next time goes on.

    Raises
    ------
    AskError
        If it does not come whole.
    """
    address = str(offer.ask["href"])
    part = how.aside / "file.part"
    download(address, part, str(offer.ask["catalogue"]), how.hear)
    begin = {Kind.PICTURE: "imagery-", Kind.TERRAIN: "ground-"}.get(offer.kind, "")
    target = free_name(how.folder, f"{begin}{offer.name}{offer.ask['ending']}")
    part.replace(target)
    return Got(offer, (target,), _without_query(address))


def _offer(
    item: Mapping[str, Any],
    key: str,
    asset: Mapping[str, Any],
    licences: Mapping[str, str],
    catalogue: str,
) -> Offer | None:
    """Return the offer that an asset makes; None where it is nothing that is read."""
    href = str(asset.get("href") or "")
    path = urlsplit(href).path.lower()
    ending = next((kept for end, kept in ENDINGS.items() if path.endswith(end)), "")
    media = str(asset.get("type") or "").lower()
    if not ending and media.startswith("image/tiff"):
        ending = ".tif"
    roles = asset.get("roles")
    preview = _PREVIEW & set(roles if isinstance(roles, list) else ())
    if not ending or preview or urlsplit(href).scheme not in {"http", "https"}:
        return None
    told = _mapping(item.get("properties"))
    name = f"{item.get('id', 'item')} {key}"
    return Offer(
        _PLAIN.sub("-", name).strip("-").lower()[:80],
        _kind(ending, key, name, asset, told),
        Service.CATALOGUE,
        f"{item.get('collection') or ''} {item.get('id', '')} {key}".strip()[:160],
        urlsplit(href).hostname or "",
        size_bytes=_number(asset.get("file:size")),
        date=_date(told),
        resolution_m=_resolution(asset, told),
        vertical_datum=_datum(asset, told),
        licence=str(told.get("license") or licences.get(str(item.get("collection")), ""))[:60],
        ask={"href": href, "ending": ending, "catalogue": catalogue},
    )


def _kind(
    ending: str, key: str, name: str, asset: Mapping[str, Any], told: Mapping[str, Any]
) -> Kind:
    """Return what a file is good for: by its kind, its bands, then its names."""
    if ending in {".laz", ".las"}:
        return Kind.CLOUD
    words = f"{key} {asset.get('title') or ''} {name} {told.get('title') or ''}".lower()
    if _SURFACE.search(words):
        return Kind.SURFACE
    bands = asset.get("bands") or asset.get("raster:bands") or asset.get("eo:bands") or []
    types = {str(_mapping(one).get("data_type") or asset.get("data_type")) for one in bands}
    if len(bands) >= 3 or _PICTURE.search(words):
        return Kind.PICTURE
    if types & {"float32", "float64", "int16", "int32"} or _GROUND.search(words):
        return Kind.TERRAIN
    return Kind.OTHER


def _licences(catalogue: Any, items: list[dict[str, Any]]) -> dict[str, str]:
    """Return the licence that each collection names; those that cannot be had are left out."""
    found: dict[str, str] = {}
    for name in {str(one["collection"]) for one in items if one.get("collection")}:
        try:
            found[name] = str(catalogue.get_collection(name).license or "")
        except failures(*ERRORS):
            continue
    return found


def _resolution(asset: Mapping[str, Any], told: Mapping[str, Any]) -> float:
    """Return the side of a pixel [m], NaN where nobody says."""
    bands = asset.get("raster:bands") or asset.get("bands") or []
    of_bands = [_number(_mapping(one).get("spatial_resolution")) for one in bands]
    own = [
        _number(asset.get("raster:spatial_resolution")), *of_bands, _number(asset.get("gsd")),
        _number(told.get("gsd")),
    ]  # fmt: skip
    return next((one for one in own if math.isfinite(one) and one > 0), math.nan)


def _datum(asset: Mapping[str, Any], told: Mapping[str, Any]) -> str:
    """Return the vertical datum that a compound CRS names; "" where nobody says."""
    for source in (asset, told):
        parts = _mapping(source.get("proj:projjson")).get("components")
        for part in parts if isinstance(parts, list) else ():
            if _mapping(part).get("type") == "VerticalCRS":
                return str(_mapping(part).get("name") or "")[:60]
        match = re.search(r'VERT(?:ICAL)?_?CRS\["([^"]{1,60})"', str(source.get("proj:wkt2") or ""))
        if match:
            return match[1]
    return ""


def _date(told: Mapping[str, Any]) -> str:
    """Return an item's day, or its first to its last; "" for none."""
    if told.get("datetime"):
        return str(told["datetime"])[:10]
    ends = [str(told.get(f"{end}_datetime") or "")[:10] for end in ("start", "end")]
    return " to ".join(dict.fromkeys(one for one in ends if one))


def _mapping(value: object) -> Mapping[str, Any]:
    """Return a JSON object; an empty one for anything else."""
    return value if isinstance(value, dict) else {}


def _number(value: object) -> float:
    """Return a JSON number; NaN for anything else."""
    good = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if good else math.nan  # type: ignore[arg-type]


def _without_query(address: str) -> str:
    """Return an address without what a service may have signed it with."""
    return urlsplit(address)._replace(query="", fragment="").geturl()

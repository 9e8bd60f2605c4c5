"""Validators of single values of reach.toml: each raises WrongError with fault and remedy."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reachmap.base.crs import is_known_crs
from reachmap.base.language import parsed
from reachmap.base.quoting import quoted
from reachmap.markup.config.kinds import WrongError
from reachmap.markup.files import stays_inside


def rising(pair: tuple[Any, ...]) -> None:
    """Raise WrongError unless the first value of a pair is below the second."""
    if pair[0] >= pair[1]:
        raise WrongError(("the least is not below the most", "Give the smaller number first"))


def not_longer(pair: tuple[Any, ...]) -> None:
    """Raise WrongError where the shortest fly is longer than the longest."""
    if pair[0] > pair[1]:
        raise WrongError(("the shortest is longer than the longest", "Swap them"))


def two_flows(pairs: tuple[Any, ...]) -> None:
    """Raise WrongError for two sightings at the same flow."""
    if pairs[0][0] == pairs[1][0]:
        raise WrongError(("both are at one flow", "Give sightings at two different flows"))


def known_crs(text: str) -> None:
    """Raise WrongError for a text that is not a CRS."""
    if not is_known_crs(text):
        fix = 'Name it like crs = "EPSG:32610", or take the line out'
        raise WrongError((f"{quoted(text)} is not a known CRS", fix))


def known_zone(text: str) -> None:
    """Raise WrongError for a text that is not a time zone."""
    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        fix = 'Name it like "America/Vancouver" or "UTC"'
        raise WrongError((f"{quoted(text)} is not a known time zone", fix)) from None


def known_locale(text: str) -> None:
    """Refuse what is no locale."""
    try:
        parsed(text)
    except ValueError:
        fix = 'Name language and country like "en_CA" or "de_CH"'
        raise WrongError((f"{quoted(text)} is not a known locale", fix)) from None


def is_page_address(text: str) -> bool:
    """Return whether a text is an address of a page over https, without a name or password."""
    try:
        parts = urlsplit(text)
        plain = re.fullmatch(r"[A-Za-z0-9.-]+(:[0-9]{1,5})?", parts.netloc)
    except ValueError:
        return False
    printable = re.fullmatch(r"[!-~]{9,300}", text)
    return parts.scheme == "https" and plain is not None and printable is not None


def page_address(text: str) -> None:
    """Raise WrongError for a text that is not an https address of a page."""
    if not is_page_address(text):
        fix = 'Write it like "https://river.example.org/home/"; it must begin with https://'
        raise WrongError((f"{quoted(text)} is no address of a page over https", fix))


def inside(text: str) -> None:
    """Raise WrongError for a file outside the reach folder."""
    if not stays_inside(text):
        fix = "Put the file into the reach folder (a link will do) and name it from there"
        raise WrongError((f"{quoted(text)} lies outside the reach folder", fix))

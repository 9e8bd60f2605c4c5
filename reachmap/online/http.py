"""Plain requests: an answer as JSON, and a file that goes on where it was cut short."""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from reachmap.base.disk import DiskFullError, room_on_disk
from reachmap.online.libraries import failures, library
from reachmap.online.model import AskError, Why, first_line

TIMEOUT_S = (10, 60)
"""Patience for a connection and between two pieces of an answer [s] (our choices)."""

MOST_JSON = 32_000_000
"""Largest answer that is taken as JSON [bytes] (our choice)."""

MOST_BYTES = 16_000_000_000
"""Largest file that is fetched [bytes]: what a build would read (base/safe_files.py)."""

CHUNK = 1 << 18

ERRORS = ("requests.exceptions.RequestException",)

WHOLE, PART = 200, 206
REFUSED_RANGE = 416


def get_json(address: str, asked: Mapping[str, Any]) -> Any:
    """Return what an address answers.

    Raises
    ------
    AskError
        If the library is missing, or no JSON comes.
    """
    client = library("requests")
    try:
        with client.get(address, params=dict(asked), timeout=TIMEOUT_S, stream=True) as answer:
            answer.raise_for_status()
            body = answer.raw.read(MOST_JSON + 1, decode_content=True)
            if len(body) > MOST_JSON:
                raise AskError(Why.NO_ANSWER, "the answer is too large")
            return json.loads(body)
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None


def refuse_address(address: str, asked_of: str) -> None:
    """Refuse an address that an answer names and that is none of a public file.

    Parameters
    ----------
    address
        Whose file would be fetched.
    asked_of
        The service that named it; the same host is always good.

    Raises
    ------
    AskError
        If it is not http, carries a password, or points into this computer or its network.
    """
    parts = urlsplit(address)
    host = (parts.hostname or "").lower()
    if parts.scheme not in {"http", "https"} or not host:
        raise AskError(Why.NO_ANSWER, f"{parts.scheme or 'no'} addresses are not fetched")
    if parts.username or parts.password:
        raise AskError(Why.NO_ANSWER, "its address carries a name or a password")
    if host == (urlsplit(asked_of).hostname or "").lower():
        return
    try:
        inward = not ipaddress.ip_address(host).is_global
    except ValueError:
        inward = host == "localhost" or host.endswith((".localhost", ".local", ".internal"))
    if inward:
        raise AskError(Why.NO_ANSWER, "its address points into this network")


@dataclass(frozen=True, slots=True)
class _Begun:
    """What is known of a file that came in part."""

    address: str
    mark: str
    size: int


def download(address: str, part: Path, asked_of: str, hear: Callable[[int, int], None]) -> None:
    """Fetch a file into `part`, from where an earlier time stopped if it is still the same file.

    Parameters
    ----------
    address
        Where it is.
    part
        Takes it; kept when it is cut short, with a note of what it is beside it.
    asked_of
        The service that named the address.
    hear
        Called with bytes done and bytes of all, 0 unknown.

    Raises
    ------
    AskError
        If it does not come whole.
    """
    refuse_address(address, asked_of)
    client = library("requests")
    note = part.with_suffix(part.suffix + ".json")
    begun = _begun(note, address) if part.is_file() else None
    have = begun.size if begun is not None else 0
    headers = {"Accept-Encoding": "identity"}
    if have and begun is not None:
        headers |= {"Range": f"bytes={have}-", "If-Range": begun.mark}
    try:
        with client.get(address, headers=headers, stream=True, timeout=TIMEOUT_S) as answer:
            refuse_address(answer.url, asked_of)
            if answer.status_code == REFUSED_RANGE:
                part.unlink(missing_ok=True)
                raise AskError(Why.NO_ANSWER, "it changed meanwhile; ask again")
            answer.raise_for_status()
            have = have if answer.status_code == PART else 0
            length = answer.headers.get("Content-Length", "")
            total = have + int(length) if length.isdigit() else 0
            if total > MOST_BYTES:
                raise AskError(Why.NO_ANSWER, f"it has {total / 1e9:.0f} GB")
            mark = answer.headers.get("ETag") or answer.headers.get("Last-Modified") or ""
            told = json.dumps({"address": address, "mark": mark})
            note.write_text(told, encoding="utf-8")
            done = _take(answer, part, have, total, hear)
    except DiskFullError:
        raise
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    if total and done != total:
        raise AskError(Why.NO_ANSWER, f"{done:,} of {total:,} bytes came; ask again to go on")
    note.unlink(missing_ok=True)


def _take(answer: Any, part: Path, have: int, total: int, hear: Callable[[int, int], None]) -> int:
    """Write what comes behind what is there already; return how much there is."""
    done = have
    with room_on_disk(part.parent), part.open("ab" if have else "wb") as stream:
        for chunk in answer.iter_content(CHUNK):
            stream.write(chunk)
            done += len(chunk)
            if done > MOST_BYTES:
                raise AskError(Why.NO_ANSWER, "it grows beyond what is read")
            hear(done, total)
    return done


def _begun(note: Path, address: str) -> _Begun | None:
    """Return what an earlier time left, if it is of this address and can be told again."""
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
        part = note.with_suffix("")
        mark = str(told["mark"])
        if told["address"] != address or not mark or mark.startswith("W/"):
            return None  # a weak mark does not stand for the same bytes (RFC 9110, 13.1.5)
        return _Begun(address, mark, part.stat().st_size)
    except (OSError, ValueError, KeyError, TypeError):
        return None

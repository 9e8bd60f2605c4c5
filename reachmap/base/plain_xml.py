"""Sanitising of GPX and KML before a library reads them: geometry and texts only.

What can lead elsewhere (entities, links to the network, styles, pictures) is left out, and so is
what belongs to no namespace of the format. The first bytes of the result are reachmap's own, so
that a library that detects formats by them cannot take it for another.
"""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree import ElementTree as ET
from xml.sax.saxutils import escape, quoteattr

from reachmap.base.safe_files import RefusedError

PADDING = " " * 20_000
"""White space after the root: more than any driver reads to detect a format (our choice)."""

DEEPEST = 100
"""Deepest nesting of elements (our choice: folders in folders need a dozen)."""

SPACES: Mapping[str, Mapping[str, str]] = {
    "gpx": {
        "": "",
        "http://www.topografix.com/GPX/1/1": "",
        "http://www.topografix.com/GPX/1/0": "",
    },
    "kml": {
        "": "",
        "http://www.opengis.net/kml/2.2": "",
        "http://earth.google.com/kml/2.0": "",
        "http://earth.google.com/kml/2.1": "",
        "http://earth.google.com/kml/2.2": "",
        "http://www.google.com/kml/ext/2.2": "gx:",
    },
}
"""Namespaces of each format and the prefix its elements get; elements of others are left out."""

ROOTS: Mapping[str, str] = {
    "gpx": '<gpx version="1.1" creator="reachmap" xmlns="http://www.topografix.com/GPX/1/1">',
    "kml": '<kml xmlns="http://www.opengis.net/kml/2.2" '
    'xmlns:gx="http://www.google.com/kml/ext/2.2">',
}

LEFT_OUT: Mapping[str, frozenset[str]] = {
    "gpx": frozenset({"extensions", "link", "url", "urlname", "metadata"}),
    "kml": frozenset(
        {
            *("NetworkLink", "NetworkLinkControl", "Style", "StyleMap", "styleUrl", "Link", "Url"),
            *("Icon", "GroundOverlay", "PhotoOverlay", "ScreenOverlay", "Model", "Region"),
        }
    ),
}
"""Elements that can name files or addresses, or that no drawing needs."""

AGAIN = "Export it again from the program that made it, or take it out"


def plain_xml(body: bytes, kind: str) -> bytes:
    """Return a GPX or KML file made plain, in UTF-8.

    Parameters
    ----------
    body
        The file's bytes.
    kind
        "gpx" or "kml".

    Raises
    ------
    RefusedError
        If it declares entities or a document type, is no whole XML, is of another kind or nested
        too deep.
    """
    if b"\0" in body:
        msg = "it is not a text file in UTF-8"
        raise RefusedError(msg, "Save it again as UTF-8")
    if b"<!DOCTYPE" in body or b"<!ENTITY" in body:
        msg = "it declares entities, which a drawing needs none of"
        raise RefusedError(msg, AGAIN)
    try:
        root = ET.fromstring(body)
    except (ET.ParseError, LookupError, ValueError, RecursionError) as error:
        msg = f"it is not whole XML ({str(error)[:120]})"
        raise RefusedError(msg, AGAIN) from None
    if _name(root, kind) != kind:
        msg = f"it is not {kind.upper()}"
        raise RefusedError(msg, AGAIN)
    parts = ['<?xml version="1.0" encoding="UTF-8"?>\n', ROOTS[kind], PADDING]
    for child in root:
        _add(parts, child, kind, 1)
    parts.append(f"</{kind}>\n")
    return "".join(parts).encode("utf-8", errors="replace")


def _name(element: ET.Element, kind: str) -> str:
    """Return an element's name as it is written; "" for one of a namespace that is left out."""
    tag = str(element.tag)
    space, _, local = tag[1:].rpartition("}") if tag.startswith("{") else ("", "", tag)
    prefix = SPACES[kind].get(space)
    return "" if prefix is None or ":" in local else prefix + local


def _add(parts: list[str], element: ET.Element, kind: str, depth: int) -> None:
    """Add an element and all in it to the text."""
    if depth > DEEPEST:
        msg = f"its elements are nested more than {DEEPEST} deep"
        raise RefusedError(msg, AGAIN)
    name = _name(element, kind)
    if not name or name in LEFT_OUT[kind]:
        return
    attributes = "".join(
        f" {key}={quoteattr(value)}"
        for key, value in element.attrib.items()
        if "}" not in key and (key != "schemaUrl" or value.startswith("#"))
    )
    parts.append(f"<{name}{attributes}>{escape(element.text or '')}")
    for child in element:
        _add(parts, child, kind, depth + 1)
        parts.append(escape(child.tail or ""))
    parts.append(f"</{name}>")

"""Static files of a page: the vendored map library, our scripts and styles."""

from __future__ import annotations

import base64
import re
from functools import cache
from importlib.resources import files

from reachmap.outputs.theme import page_style

HERE = files("reachmap.outputs.webmap")
LIBRARY = HERE / "vendor" / "leaflet"

SCRIPTS = (
    "core.js",
    "unpack.js",
    "pens.js",
    "marks.js",
    "mix.js",
    "smooth.js",
    "ahead.js",
    "water.js",
    "contour.js",
    "chart.js",
    "signs.js",
    "labels.js",
    "canvas.js",
    "cards.js",
    "gauge.js",
    "whom.js",
    "change.js",
    "pins.js",
    "today.js",
    "window.js",
    "pictures.js",
    "runs.js",
    "whereabouts.js",
    "stands.js",
    "notestore.js",
    "notesfile.js",
    "notes.js",
    "notelist.js",
    "position.js",
    "turn.js",
    "table.js",
    "reading.js",
    "switches.js",
    "flow.js",
    "place.js",
    "imagery.js",
    "light.js",
    "start.js",
)
"""Our scripts in order of concatenation; they share one scope."""

STYLES = (
    "layout.css",
    "onmap.css",
    "panel.css",
    "today.css",
    "whom.css",
    "window.css",
    "pictures.css",
    "gauge.css",
    "notes.css",
    "phone.css",
    "small.css",
    "print.css",
    "still.css",
)
"""Our style sheets in order, after the common one."""


@cache
def library_script() -> str:
    """Return the vendored map library, without the line that points at its source map."""
    text = (LIBRARY / "leaflet.js").read_text(encoding="utf-8")
    return re.sub(r"//# sourceMappingURL=.*", "", text).strip()


@cache
def library_style() -> str:
    """Return the library's style sheet with its images embedded."""
    text = (LIBRARY / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"url\(images/([\w.-]+\.png)\)", lambda found: f"url({_picture(found[1])})", text)


def _picture(name: str) -> str:
    """Return one of the library's images as a data URL."""
    data = (LIBRARY / "images" / name).read_bytes()
    return "data:image/png;base64," + base64.b64encode(data).decode("ascii")


@cache
def our_script() -> str:
    """Return our scripts concatenated, in a scope of their own."""
    parts = [(HERE / "templates" / name).read_text(encoding="utf-8") for name in SCRIPTS]
    return '(function () {\n"use strict";\n' + "\n".join(parts) + "\n})();"


@cache
def site_script() -> str:
    """Return the script that registers the service worker of a site and loads newer versions."""
    return (HERE / "templates" / "site.js").read_text(encoding="utf-8")


@cache
def prelude() -> str:
    """Return the script that runs between the library and the map."""
    return (HERE / "templates" / "prelude.js").read_text(encoding="utf-8")


@cache
def our_style() -> str:
    """Return our style sheets concatenated."""
    own = ((HERE / "templates" / name).read_text(encoding="utf-8") for name in STYLES)
    return "\n".join([page_style(ledger=True), *own])


@cache
def shell() -> str:
    """Return the template of the page around the map."""
    return (HERE / "templates" / "shell.html").read_text(encoding="utf-8")


def recorded_digests() -> dict[str, str]:
    """Return the SHA-256 recorded for each file of the library when it was vendored."""
    lines = (LIBRARY / "SHA256SUMS").read_text(encoding="utf-8").splitlines()
    return {name: digest for digest, name in (line.split() for line in lines if line)}

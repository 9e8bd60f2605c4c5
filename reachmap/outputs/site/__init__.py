"""The maps as an installable page for any static host: page, icons, manifest, service worker."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

from reachmap.outputs.product import Product
from reachmap.outputs.site.icons import icon
from reachmap.outputs.webmap import MapSettings, site_page

__all__ = ["write_site"]

ICONS = (192, 512)
"""Sides of the icons [px] that browsers require of an installable page (common practice)."""

SHORT_NAME = 12
"""Length of the name below the icon [characters] (common practice)."""

PLATE = "#0d3b46"


def write_site(product: Product, folder: Path, settings: MapSettings, day: str) -> list[Path]:
    """Write a site of static files: a page without the log, cached by the browser, not indexed.

    Every file is listed in `sw.js` with its SHA-256: a browser caches all of one version or none.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where to write; made if it is not there.
    settings
        Options of the map.
    day
        Date of creation, ISO.

    Returns
    -------
    list[Path]
        The files written, the page first.
    """
    page = site_page(product, replace(settings, site=day))
    contents = {"index.html": page.encode("utf-8")}
    contents |= {f"icon-{side}.png": icon(side) for side in ICONS}
    contents["manifest.webmanifest"] = _manifest(product.markup.plan.name).encode("utf-8")
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in contents.items()}
    contents["sw.js"] = _keeper(digests).encode("utf-8")
    contents["robots.txt"] = b"User-agent: *\nDisallow: /\n"
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in contents.items():
        (folder / name).write_bytes(data)
    return [folder / name for name in contents]


def _manifest(name: str) -> str:
    """Return the web app manifest: name, icons, display without the browser's controls."""
    icons = [
        {"src": f"icon-{side}.png", "sizes": f"{side}x{side}", "type": "image/png"}
        | {"purpose": purpose}
        for side in ICONS
        for purpose in ("any", "maskable")
    ]
    values = {
        "name": name,
        "short_name": name[:SHORT_NAME].strip() or "River",
        "id": "./",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#f5f0e5",
        "theme_color": PLATE,
        "icons": icons,
    }
    return json.dumps(values, ensure_ascii=False, indent=1)


def _keeper(digests: dict[str, str]) -> str:
    """Return the service worker that caches this version of the files."""
    text = (files("reachmap.outputs.site") / "templates" / "sw.js").read_text(encoding="utf-8")
    version = hashlib.sha256(json.dumps(digests, sort_keys=True).encode()).hexdigest()[:16]
    return text.replace('"@@files@@"', json.dumps(digests)).replace("@@version@@", version)

"""The content security policy of a map page: its own scripts by digest, and no network."""

from __future__ import annotations

import base64
import hashlib
import re
from urllib.parse import urlsplit

SITE_POLICY = "; manifest-src 'self'; worker-src 'self'"
"""What a page of a site may fetch besides: its manifest and the script that keeps it."""

_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)


def policy(text: str, tile_url: str, *, site: bool = False) -> str:
    """Return the page's content security policy: its own scripts by digest, and no network.

    Only imagery that the angler asked for by address may be fetched, as pictures, from its host.
    """
    digests = [
        "'sha256-" + base64.b64encode(hashlib.sha256(body.encode("utf-8")).digest()).decode() + "'"
        for body in _SCRIPT.findall(text)
    ]
    pictures = "'self' data: blob:" if site else "data: blob:"
    if tile_url:
        pictures += f" {tile_host(tile_url)}"
    return (
        f"default-src 'none'; script-src {' '.join(digests)}; style-src 'unsafe-inline'; "
        f"img-src {pictures}; base-uri 'none'; form-action 'none'{SITE_POLICY if site else ''}"
    )


def tile_host(tile_url: str) -> str:
    """Return scheme and host of an imagery address, as a policy names them.

    Raises
    ------
    ValueError
        If it is no http or https address with a plain host.
    """
    parts = urlsplit(tile_url)
    host = parts.netloc.replace("{s}", "*")
    if parts.scheme not in ("http", "https") or not re.fullmatch(r"[\w.*:-]+", host):
        msg = f"tile address {tile_url!r}: wants http or https and a host"
        raise ValueError(msg)
    return f"{parts.scheme}://{host}"

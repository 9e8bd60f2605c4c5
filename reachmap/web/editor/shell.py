"""The page around the map."""

from __future__ import annotations

import html
from collections.abc import Sequence
from importlib.resources import files

SHELL = files("reachmap.web.editor") / "page" / "shell.html"

LINKS_HERE = "<!-- links -->"


def shell(links: Sequence[tuple[str, str]]) -> str:
    """Return the page's HTML, with links to other pages in its header.

    Parameters
    ----------
    links
        Each a relative address and its words.
    """
    text = SHELL.read_text(encoding="utf-8")
    anchors = "".join(
        f'<a class="plate-button" href="{html.escape(address)}">{html.escape(words)}</a>'
        for address, words in links
    )
    return text.replace(LINKS_HERE, anchors)

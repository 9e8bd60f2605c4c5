"""The command `reachmap mark`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def mark(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Reach folder; made where there is none.")
    ],
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port on this computer; any free one if 0.")
    ] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in your browser.")
    ] = True,
) -> None:
    """Draw your river in the browser: the way to begin, and to change a drawing."""
    from reachmap.cli.mark import mark_folder

    mark_folder(folder, port=port, browser=browser)

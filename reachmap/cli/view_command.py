"""The command `reachmap view`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.base.errors import Fault, MarkupError
from reachmap.cli import say
from reachmap.cli.options import Browser, Port, ReachFolder, browse

LASTS_H = 2.0
"""Hours after which `--lan` stops by itself; our choice, 0.5-12: an evening's preparation."""

ShownFolder = Annotated[
    Path | None, typer.Option(help="The written folder; what was built last if not given.")
]


def view(
    folder: ReachFolder,
    out: ShownFolder = None,
    port: Port = 0,
    browser: Browser = True,
    watch: Annotated[
        bool,
        typer.Option(
            "--watch",
            help="Build again when a file of the folder changes; show the new map.",
        ),
    ] = False,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Show it to a phone in the same network instead: read only, for a while."
        ),
    ] = False,
    hours: Annotated[
        float, typer.Option(min=0.01, max=24.0, help="With --lan: when it stops by itself, hours.")
    ] = LASTS_H,
    address: Annotated[
        str, typer.Option(help="With --lan: this computer's address, where it has several.")
    ] = "",
    with_log: Annotated[
        bool, typer.Option("--with-log", help="With --lan: show the page that holds your log too.")
    ] = False,
) -> None:
    """Look at what was built, in the browser. On this computer only, or with --lan on a phone."""
    if watch and lan:
        found = "they do not go together"
        raise MarkupError([Fault("--watch and --lan", found, "Leave one of them out")])
    if watch:
        from reachmap.web.watch.serve import serve_watched

        serve_watched(folder, out, port=port, tell=say.line, browse=browse(browser))
        return
    if lan:
        from reachmap.web.lan import serve_lan

        serve_lan(
            folder, out, port=port, hours=hours, address=address, with_log=with_log,
            tell=say.line, show=say.code,
        )  # fmt: skip
        return
    from reachmap.web.viewer import serve_viewer

    serve_viewer(folder, out, port=port, tell=say.line, browse=browse(browser))

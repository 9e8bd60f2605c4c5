"""Arguments and options that several commands take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ReachFolder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Reach folder: reach.toml and your drawing.")
]
WrittenFolder = Annotated[
    Path | None, typer.Option(help="The written folder; DIR/written if not given.")
]

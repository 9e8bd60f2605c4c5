"""Commands on a folder at an address: run on a copy, the written files put back."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.request import url2pathname

from reachmap.base.errors import Fault, FaultsError, MarkupError
from reachmap.cli import say

if TYPE_CHECKING:
    from reachmap.pipeline.staged import Stage

_ADDRESS = re.compile(r"[a-zA-Z0-9+.:-]*[a-zA-Z0-9+.-]{2,}://")


def folder_here(text: str) -> Path:
    """Return a path that was typed; `file://` addresses too.

    Raises
    ------
    MarkupError
        For an address of another kind.
    """
    if text.startswith("file://"):
        return Path(url2pathname(text.removeprefix("file://").removeprefix("localhost")))
    if _ADDRESS.match(text):
        found = "this command works on a folder of this computer"
        fix = "Copy the folder here; only build and days take such an address"
        raise MarkupError([Fault(text, found, fix)])
    return Path(text)


def folder_or_address(text: str) -> Path | str:
    """Return a path that was typed, or an address of another kind than `file://` as it is."""
    if _ADDRESS.match(text) and not text.startswith("file://"):
        return text
    return folder_here(text)


def on_store(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command whose folder may be an address as well.

    With `out`, a folder of this computer, what is written stays there and nothing is put back.
    """

    @wraps(command)
    def run(folder: Path | str, **options: Any) -> None:
        if isinstance(folder, Path):
            command(folder, **options)
            return
        from reachmap.pipeline.staged import address_of, staged  # most folders need none of it

        with say.progress() as report:
            report(f"copying {folder}", 0, 1)
        with staged(address_of(folder)) as stage, _named(stage):
            if options.get("out") is not None:
                command(stage.folder, **options)
                return
            stage.check_takes_files()
            try:
                command(stage.folder, **options)
            except SystemExit:  # some waters failed; the others stand
                _put_back(stage)
                raise
            _put_back(stage)

    return run


def _put_back(stage: Stage) -> None:
    """Put the written files back and print how many changed."""
    count = stage.put_back()
    say.line(f"Put back: {count:,} files changed" if count else "Put back: nothing had changed")


@contextmanager
def _named(stage: Stage) -> Iterator[None]:
    """Replace the copy's path by the address in everything printed."""

    def named(text: str) -> str:
        for path in (stage.folder.as_uri(), str(stage.folder)):
            text = text.replace(path, stage.address)
        return text

    with say.worded(named):
        try:
            yield
        except FaultsError as error:
            words = [(named(one.where), named(one.found), named(one.fix)) for one in error.faults]
            raise type(error)([Fault(*one) for one in words]) from None

"""Terminal output of the commands: progress, results, faults, and exit codes."""

from __future__ import annotations

import logging
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

import typer
from rich.console import Console, RenderableType
from rich.text import Text

from reachmap.base.disk import refusal_words
from reachmap.base.errors import ReachmapError
from reachmap.base.progress import Progress
from reachmap.base.terminal_text import printable

YOURS_TO_MEND = 2
OUR_FAULT = 1


_wordings: list[Callable[[str], str]] = []
"""Changes made to each line before it is printed, in this order."""


@contextmanager
def worded(change: Callable[[str], str]) -> Iterator[None]:
    """Apply `change` to every line and message printed within the context."""
    _wordings.append(change)
    try:
        yield
    finally:
        _wordings.pop()


def _worded(text: str) -> str:
    for change in _wordings:
        text = change(text)
    return text


def line(text: object) -> None:
    """Print one line; signs in it that steer a terminal are shown as escapes."""
    typer.echo(printable(_worded(str(text))))


def lines(texts: Iterable[object]) -> None:
    """Print lines."""
    for text in texts:
        line(text)


def shown(table: RenderableType) -> None:
    """Print a table, whose texts are printable already, as wide as the terminal is."""
    Console(highlight=False).print(table)


def code(text: str) -> None:
    """Print a QR code, light on dark whatever the terminal's own colours are."""
    Console(highlight=False).print(Text(text, style="white on black", no_wrap=True))


def trouble(text: str) -> None:
    """Print a message of one or more lines on the error stream, escaped likewise."""
    typer.echo(printable(_worded(text), lines=True), err=True)


def confirmed(question: str) -> bool:
    """Ask a yes-or-no question at the terminal; return whether the answer was yes."""
    return typer.confirm(printable(question), default=False)


@contextmanager
def progress() -> Iterator[Progress]:
    """Show a progress bar; yields the progress callback (step, done, total).

    Without a terminal (a log file, a pipe) each step and each quarter of it is a line.
    """
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    if not Console(stderr=True).is_terminal:
        yield _plain_lines()
        return
    columns = (TextColumn("{task.description:<28}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=None)

        def report(step: str, done: int, total: int) -> None:
            bar.update(task, description=escape(printable(step)), completed=done, total=total)

        yield report


def _plain_lines() -> Progress:
    """Return a progress callback that prints a line where a step, or a quarter of it, begins."""
    last = ("", -1)

    def report(step: str, done: int, total: int) -> None:
        nonlocal last
        quarter = 4 * done // total if total > 0 else 0
        if (step, quarter) == last:
            return
        last = (step, quarter)
        share = f" {25 * quarter} %" if quarter else ""
        typer.echo(printable(f"{step}{share}"), err=True)

    return report


def quiet_libraries() -> None:
    """Keep warnings and logs of libraries off the terminal, unless `python -W` asks for them.

    What matters in them is caught where the library is called, and put in an angler's words.
    """
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    logging.getLogger().addHandler(logging.NullHandler())


@contextmanager
def faults_as_exit_codes() -> Iterator[None]:
    """Turn an error into one message and an exit code: 2 yours to mend, 1 our bug."""
    try:
        yield
    except ReachmapError as error:
        trouble(str(error))
        sys.exit(YOURS_TO_MEND)
    except OSError as error:
        trouble(refusal_words(error))
        sys.exit(YOURS_TO_MEND)
    except Exception:  # noqa: BLE001 - whatever is left is a bug of ours
        trouble(_our_fault(traceback.format_exc()))
        sys.exit(OUR_FAULT)


def kept_fault(error: Exception) -> str:
    """Write the traceback of a bug to a file; return the message for the user."""
    return _our_fault("".join(traceback.format_exception(error)))


def _our_fault(trace: str) -> str:
    """Write a traceback to a file; return the message for the user."""
    with tempfile.NamedTemporaryFile(
        "w", prefix="reachmap-fault-", suffix=".txt", delete=False, encoding="utf-8"
    ) as kept:
        kept.write(trace)
    return (
        "This is a fault in reachmap, not in your folder; nothing of yours was changed.\n"
        f"What happened is written in {kept.name}\n"
        "Please send that file as README.md says under 'Reporting a fault'."
    )

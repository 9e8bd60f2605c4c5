"""Write docs/commands.md from the commands' own help: python -m scripts.commands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer

from reachmap.cli.app import app

TARGET = Path(__file__).resolve().parent.parent / "docs" / "commands.md"

BEGINNING = """# Every command and option

As `reachmap COMMAND --help` says it; this page is made from it (`python -m scripts.commands`).

Exit code 0: done. 2: something of yours to mend, every fault listed with its place and how to mend
it; nothing half-written stays. 1: a fault of ours, kept in a file whose name is printed.
"""


def page() -> str:
    """Return the page."""
    commands: dict[str, Any] = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    return "\n".join([BEGINNING, *(_command(name, one) for name, one in commands.items())])


def _command(name: str, command: Any) -> str:
    """Return the section of one command."""
    arguments = [one for one in command.params if one.param_type_name == "argument"]
    options = [
        one
        for one in command.params
        if one.param_type_name == "option" and "--help" not in one.opts
    ]
    shown = [_argument(one) for one in arguments]
    usage = " ".join(["reachmap", name, *shown, *(["[OPTIONS]"] if options else [])])
    parts = [f"## `{name}`\n", " ".join(command.help.split()), f"\n```\n{usage}\n```\n"]
    rows = [
        *(f"| `{_argument(one)}` | {one.help or ''} |" for one in arguments),
        *(f"| {_option(one)} | {one.help or ''} |" for one in options),
    ]
    if rows:
        parts += ["| | |", "|---|---|", *rows, ""]
    return "\n".join(parts)


def _argument(argument: Any) -> str:
    """Return the name of an argument as a person types it."""
    return str(argument.metavar or argument.name.upper())


def _option(option: Any) -> str:
    """Return the names of an option."""
    return ", ".join(f"`{name}`" for name in (*option.opts, *option.secondary_opts))


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
    print(f"Wrote {TARGET}")

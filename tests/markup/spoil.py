"""Ways to spoil a valid reach folder, one thing at a time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tests.markup.folders import TOML, make, rows, with_line, write_dem

Spoil = Callable[[Path], object]


class Case(NamedTuple):
    """A spoilt folder and what its message must hold: where, what was found, how to mend it."""

    spoil: Spoil
    where: str
    found: str
    fix: str


def drawn(**changes) -> Spoil:
    """Return a spoiler that changes features: layer=function of its rows, which returns rows."""

    def spoil(folder: Path) -> None:
        made = rows()
        for layer, change in changes.items():
            made[layer] = change(made[layer])
        make(folder, made=made)

    return spoil


def told(old: str, new: str, **options) -> Spoil:
    """Return a spoiler that changes a line of reach.toml."""
    return lambda folder: make(folder, toml=with_line(TOML, old, new), **options)


def field(number: int, **values):
    """Return a change that sets fields of one row."""

    def change(given):
        given[number].update(values)
        return given

    return change


def shape(number: int, move: Callable):
    """Return a change of one row's geometry."""

    def change(given):
        given[number]["geometry"] = move(given[number]["geometry"])
        return given

    return change


def plus(**row):
    """Return a change that adds a row."""
    return lambda given: [*given, row]


def without(*numbers: int):
    """Return a change that takes rows out."""
    return lambda given: [row for index, row in enumerate(given) if index not in numbers]


def dem(**options) -> Spoil:
    """Return a spoiler that writes another DEM."""

    def spoil(folder: Path) -> None:
        make(folder, dem=False)
        write_dem(folder / "dem.tif", **options)

    return spoil


def fed(text: str, name: str = "rating.csv") -> Spoil:
    """Return a spoiler that writes another gauge file."""

    def spoil(folder: Path) -> None:
        make(folder)
        (folder / "gauge" / name).write_text(text, encoding="utf-8")

    return spoil

"""One case of the fuzzer: a reach folder with something done to it, from a seed alone."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz import drawings, terrain, texts
from tests.markup.folders import TOML, make

ONE_FLOW = "30 m3/s"


@dataclass(frozen=True, slots=True)
class Case:
    """A folder to be read: its seed, what was done to it, and what reads it.

    Parameters
    ----------
    seed
        Makes the same case again.
    done
        In words.
    words
        What is typed behind `reachmap`; () for the reading of notes and a forecast.
    """

    seed: int
    done: str
    words: tuple[str, ...]


def make_case(seed: int, folder: Path) -> Case:
    """Write the folder of a seed and return its case."""
    dice = random.Random(seed)
    kind = dice.choices(list(KINDS), [weight for weight, _ in KINDS.values()])[0]
    folder.mkdir(parents=True)
    done, words = KINDS[kind][1](folder, dice)
    if dice.random() < 0.05:
        done += f"; {_bytes(folder, dice)}"
    return Case(seed, f"{kind}: {done}", words)


def _check(folder: Path, dice: random.Random) -> tuple[str, ...]:
    """Return the words of a check; few of them look for places too, which takes longer."""
    return ("check", str(folder), *(("--suggest",) if dice.random() < 0.05 else ()))


def _drawing(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    made = make(folder, dem=dice.random() < 0.5, gauge=dice.random() < 0.3)
    if dice.random() < 0.03:
        drawings.curve(made)
        return "a curve", _check(folder, dice)
    (made / "markup.gpkg").unlink()
    frames = drawings.fresh()
    done = [
        dice.choice(drawings.SPOILERS)(frames, dice)
        for _ in range(dice.choice([1, 1, 2, 3]))
        if frames
    ]
    done.append(drawings.write(folder, frames, dice))
    return "; ".join(each for each in done if each), _check(folder, dice)


def _toml(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    text, done = TOML, []
    for _ in range(dice.choice([1, 1, 1, 3])):
        text, one = texts.toml(text, dice)
        done.append(one)
    make(folder)
    (folder / "reach.toml").write_bytes(texts.encoded(text, dice))
    return "; ".join(done), _check(folder, dice)


def _dem(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    make(folder, dem=dice.random() < 0.3, gauge=False)
    return terrain.spoil(folder, dice), _check(folder, dice)


def _gauge(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    make(folder, gauge=dice.random() < 0.4)
    (folder / "gauge").mkdir(exist_ok=True)
    name = dice.choice(texts.GAUGES)
    text, done = texts.spoilt(texts.source_of(name), dice)
    (folder / "gauge" / name).write_bytes(texts.encoded(text, dice))
    return f"{name}, {done}", dice.choice([_check(folder, dice), ("gauge", str(folder))])


def _log(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    make(folder)
    text, done = texts.spoilt(texts.LOG, dice)
    (folder / "trips.csv").write_bytes(texts.encoded(text, dice))
    return done, ("log", str(folder), "--import", str(folder / "trips.csv"))


def _notes(folder: Path, dice: random.Random) -> tuple[str, tuple[str, ...]]:
    make(folder)
    text, done = texts.spoilt(texts.CLARITY, dice)
    (folder / "clarity.csv").write_bytes(texts.encoded(text, dice))
    text, more = texts.spoilt(texts.source_of("record.csv"), dice)
    (folder / "forecast.csv").write_bytes(texts.encoded(text, dice))
    return f"{done}, forecast {more}", ()


def _bytes(folder: Path, dice: random.Random) -> str:
    """Change bytes of one file, or cut it short."""
    path = dice.choice(sorted(path for path in folder.rglob("*") if path.is_file()))
    data = bytearray(path.read_bytes()[:2_000_000])
    for _ in range(dice.choice([1, 10, 100])):
        if data:
            data[dice.randrange(len(data))] = dice.randrange(256)
    path.write_bytes(data[: dice.choice([len(data), dice.randrange(len(data) + 1)])])
    return f"bytes of {path.name}"


KINDS: dict[str, tuple[int, Callable[[Path, random.Random], tuple[str, tuple[str, ...]]]]] = {
    "drawing": (40, _drawing),
    "reach.toml": (22, _toml),
    "DEM": (16, _dem),
    "gauge": (12, _gauge),
    "log": (5, _log),
    "notes": (5, _notes),
}
"""What is spoilt, how often of a hundred, and by what."""

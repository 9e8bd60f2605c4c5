"""Text files spoilt by structure: reach.toml, the gauge's files, notes of clarity, a log."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

from reachmap.markup.config.render import template
from tests.fuzz.words import CELLS, VALUES
from tests.markup.folders import RATING, RECORD, TOML

DATA = Path(__file__).resolve().parents[1] / "gauge" / "data"

SMALL = sorted(
    path.name for path in DATA.glob("*.*") if path.suffix != ".md" and path.stat().st_size < 50_000
)
GAUGES = ("rating.csv", "record.csv", "measured.csv", *SMALL)
"""Gauge files that are spoilt."""

MEASURED = "time,stage_m,flow_m3s,quality\n2001-05-01T10:00Z,0.8,20,good\n2001-06-01,1.1,38,fair\n"
CLARITY = "time,clarity_m,flow_m3s,limb\n2001-05-01,1.5,20,falling\n2001-06-01,0.8,38,rising\n"
LOG = (
    "uid,when,zone,run,note,flow_m3_s,touches,landed,longitude,latitude,seen\n"
    'a,2001-02-03T04:05:06+00:00,America/Vancouver,Bar run,"one, two",30,1,0,-141.0,46.2,\n'
    "b,2001-02-04T04:05:06+00:00,UTC,,,45,0,0,,,\n"
)

_KEY = re.compile(r"^(# ?)?([a-z_]+) = (.*)$")
_HEAD = re.compile(r"^(# ?)?(\[{1,2}[a-z_.]+\]{1,2})")


def keys() -> list[tuple[str, str]]:
    """Return every section and key of reach.toml that the starter or the test's own has."""
    found: list[tuple[str, str]] = []
    for text in (template(), TOML):
        head = ""
        for line in text.splitlines():
            if match := _HEAD.match(line):
                head = match[2]
            elif (match := _KEY.match(line)) and (head, match[2]) not in found:
                found.append((head, match[2]))
    return found


KEYS = keys()


def toml(text: str, dice: random.Random) -> tuple[str, str]:
    """Return reach.toml with one key given an odd value, or spoilt as a text."""
    if dice.random() < 0.15:
        return spoilt(text, dice)
    head, key = dice.choice(KEYS)
    value = dice.choice(VALUES)
    lines = text.splitlines()
    at = next((i for i, line in enumerate(lines) if head and line.startswith(head)), None)
    if head and at is None:
        lines += [head, f"{key} = {value}"]
    else:
        begin = 0 if at is None else at + 1
        end = next((i for i in range(begin, len(lines)) if lines[i].startswith("[")), len(lines))
        same = [i for i in range(begin, end) if re.match(rf"{key}\s*=", lines[i])]
        for i in same:
            lines[i] = f"{key} = {value}"
        if not same:
            lines.insert(begin, f"{key} = {value}")
    return "\n".join(lines) + "\n", f"{head} {key} = {value[:40]}"


def spoilt(text: str, dice: random.Random) -> tuple[str, str]:
    """Return a text of rows with something odd done to it."""
    lines = text.splitlines() or [""]
    if dice.random() < 0.1:
        return "\r".join(lines), "bare CR"
    name = dice.choice(list(LINES))
    at = dice.randrange(len(lines))
    lines = LINES[name](lines, at, dice)
    return "\n".join(lines) + "\n", f"{name} at line {at}"


def _mark(lines: list[str]) -> str:
    return max(",;\t", key=lines[0].count)


def _without_column(lines: list[str], at: int, dice: random.Random) -> list[str]:
    mark = _mark(lines)
    column = dice.randrange(lines[at].count(mark) + 1)
    rows = [line.split(mark) for line in lines]
    return [mark.join(row[:column] + row[column + 1 :]) for row in rows]


def _cell(lines: list[str], at: int, dice: random.Random) -> list[str]:
    mark = _mark(lines)
    cells = lines[at].split(mark)
    cells[dice.randrange(len(cells))] = str(dice.choice(CELLS))
    return [*lines[:at], mark.join(cells), *lines[at + 1 :]]


def _number(lines: list[str], at: int, dice: random.Random) -> list[str]:
    odd = ("E+00", "9" * 400, "", "-", "1.2.3")
    line = re.sub(r"\d+", lambda _: dice.choice(odd), lines[at])
    return [*lines[:at], line, *lines[at + 1 :]]


def _parted(lines: list[str], _: int, dice: random.Random) -> list[str]:
    other = dice.choice([";", "\t", "|", " "])
    return [line.replace(_mark(lines), other) for line in lines]


LINES: dict[str, Callable[[list[str], int, random.Random], list[str]]] = {
    "column gone": _without_column,
    "line gone": lambda lines, at, _: [*lines[:at], *lines[at + 1 :]],
    "line twice": lambda lines, at, _: [*lines[:at], lines[at], *lines[at:]],
    "odd cell": _cell,
    "odd numbers": _number,
    "other delimiter": _parted,
    "open quote": lambda lines, at, _: [*lines[:at], lines[at] + '"', *lines[at + 1 :]],
    "cut": lambda lines, at, _: lines[:at],
    "shuffled": lambda lines, _, dice: dice.sample(lines, len(lines)),
    "other dates": lambda lines, *_: [re.sub(r"\d{4}-\d\d-\d\d", "31.12.2001", o) for o in lines],
    "decimal commas": lambda lines, *_: [line.replace(".", ",") for line in lines],
}
"""What can be done to the lines of a text."""


def encoded(text: str, dice: random.Random) -> bytes:
    """Return a text's bytes, now and then in another encoding or broken."""
    body = text.encode("utf-8", errors="surrogatepass")
    match dice.randrange(12):
        case 0:
            return b"\xef\xbb\xbf" + body
        case 1:
            return text.encode("utf-16", errors="replace")
        case 2:
            return text.encode("latin-1", errors="replace") + b"\xe9\n"
        case 3:
            at = dice.randrange(len(body) + 1)
            return body[:at] + b"\0" * dice.choice([1, 500]) + body[at:]
        case 4:
            return body[: dice.randrange(len(body) + 1)]
        case 5:
            return body * dice.choice([2, 50])
    return body


def source_of(name: str) -> str:
    """Return the good text of a gauge file."""
    made = {"rating.csv": RATING, "record.csv": RECORD, "measured.csv": MEASURED}
    return made.get(name) or (DATA / name).read_text(encoding="utf-8", errors="replace")

"""Numbers of the stages' settings, each with its default, its range and how it is known.

A range is the one stated beside the number: in the text of its field, or of the key of reach.toml
it is at once. Where none is stated it is taken as a quarter to either side and marked as assumed.
"""

from __future__ import annotations

import ast
import inspect
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from textwrap import dedent
from typing import Any, TypeVar

from reachmap.base.units import FACTORS

T = TypeVar("T")

ASSUMED_SHARE = 0.25
"""Range to either side of a number that states none, as a share of it."""

SEASON = "common practice, no published source; range stated in markup/defaults.py: "
LIES = "our choice; range stated in markup/defaults.py: "
READINGS = "our choice; span of the readings in InterceptionSettings: "
STATED_ELSEWHERE: Mapping[str, str] = {
    "water.limits.depth_low_m": SEASON + "0.3-0.8 m",
    "water.limits.depth_high_m": SEASON + "1.5-2.5 m",
    "water.limits.speed_low_m_s": SEASON + "0.15-0.4 m/s",
    "water.limits.speed_high_m_s": SEASON + "0.7-1.1 m/s",
    "water.lies.limits.depth_low_m": LIES + "0.5-1 m",
    "water.lies.limits.depth_high_m": LIES + "2.5-5 m",
    "water.lies.limits.speed_high_m_s": LIES + "0.35-0.6 m/s",
    "meeting.fish.hold_share": READINGS + "0.15-0.5",
    "meeting.fish.view": READINGS + "0.7-1.4",
    "meeting.fish.shy": READINGS + "0-1",
}
"""Texts of fields whose class holds none: the winter's limits, of swing water and of lies, and the
readings of the fish."""

LEFT_OUT: Mapping[str, str] = {
    "ground.cell": "the raster's frame",
    "ground.fitting": "used by `reachmap fit` alone",
    "ground.spread": "used by the ensemble alone",
    "meeting.rules.covered_s": "draws the layer `covered` alone",
    "meeting.rules.even_factor": "used where ranks are told",
    "meeting.rules.prime_low_m": "picks the prime stretch alone",
    "meeting.rules.prime_high_m": "picks the prime stretch alone",
    "water.clarity_law": "fitted to notes, not chosen",
    "water.clarity_law.law": "fitted to notes, not chosen",
    "water.clarity_law.basis": "fitted to notes, not chosen",
    "water.structure": "decides what is shown as structure; where fish lie is in `water.lies`",
    "water.runs": "used where runs are followed over all flows",
    "wading.guessed_error": "used without a gauge",
    "wading.preview_uncertainty": "widens `doubt` in a preview",
    "wading.seen_confidence": "repeats a number of the ground",
}
"""Numbers and groups that are not varied, and why."""

_RANGE = re.compile(r"(?<![\w.(])(-?\d*\.?\d+)\s?(?:-|to)\s?(\d*\.?\d+)(?:\s(ft/s|ft|m/s|m)\b)?")
_KNOWN = (
    ("measured here", r"\b[Mm]easured (?:on|here)|trials?\b|fitted to our"),
    ("from memory", r"from memory"),
    ("abstract seen", r"abstract"),
    ("common practice", r"common practice"),
    ("our choice", r"[Oo]ur choice"),
)


@dataclass(frozen=True, slots=True)
class Field:
    """One number: name as a path, default and range [SI], text beside it.

    `assumed` says that no range was stated.
    """

    name: str
    default: float
    low: float
    high: float
    assumed: bool
    text: str

    @property
    def stage(self) -> str:
        """Return the name of its stage."""
        return self.name.split(".", maxsplit=1)[0]

    @property
    def known(self) -> str:
        """Return how the number is known, in a few words."""
        found = [words for words, pattern in _KNOWN if re.search(pattern, self.text)]
        return ", ".join(found) or "not stated"


def find_fields(settings: Mapping[str, Any]) -> tuple[list[Field], list[str]]:
    """Return the numbers of the settings, and the names of those that have no range to vary.

    Parameters
    ----------
    settings
        A dataclass of settings for each stage; groups within them are looked into.

    Notes
    -----
    Left out are tables, infinite or missing defaults, and zeros without a stated range.
    """
    found, left = [], []
    for stage, group in settings.items():
        for name, value, beside, place, count in _numbers(group, stage):
            text = STATED_ELSEWHERE.get(name, beside)
            bounds = stated_range(text, value, place=place, count=count)
            if name in LEFT_OUT or name.rpartition(".")[0] in LEFT_OUT:
                left.append(name)
            elif bounds is not None:
                found.append(Field(name, value, *bounds, assumed=False, text=text))
            elif _is_number(value) and value != 0:
                low, high = sorted(value * (1 + side * ASSUMED_SHARE) for side in (-1, 1))
                found.append(Field(name, value, low, high, assumed=True, text=text))
            else:
                left.append(name)
    return found, left


def stated_range(
    text: str, value: Any, *, place: int = 0, count: int = 1
) -> tuple[float, float] | None:
    """Return the range that a text states for a number [SI]; None if it states none.

    Parameters
    ----------
    text
        As it stands beside the number; a range that opens a bracket, like (0 to 1), is its scale.
    value
        The number [SI], anything else has no range: a range that does not hold it is another's.
    place, count
        The number's place among those the text is for, and how many they are: with as many ranges
        each has its own.

    Examples
    --------
    >>> stated_range("common practice, 3-5 ft", 1.2)
    (0.9144000000000001, 1.524)
    >>> stated_range("Chow (1959) table 5-6: 0.033 to 0.045", 0.035)
    (0.033, 0.045)
    """
    if not _is_number(value):
        return None
    ranges = [_si(*one) for one in _RANGE.findall(text)]
    if len(ranges) == count > 1:
        ranges = [ranges[place]]
    return next((one for one in ranges if one[0] <= value <= one[1] and one[0] < one[1]), None)


def with_values(settings: T, values: Mapping[str, float]) -> T:
    """Return settings with the numbers at these paths, below their stage, changed."""
    direct = {path: value for path, value in values.items() if "." not in path}
    changed: dict[str, Any] = {
        name: round(value) if isinstance(getattr(settings, name), int) else float(value)
        for name, value in direct.items()
    }
    for group in {path.split(".", maxsplit=1)[0] for path in values if "." in path}:
        inner = {
            p.split(".", maxsplit=1)[1]: v for p, v in values.items() if p.startswith(f"{group}.")
        }
        changed[group] = with_values(getattr(settings, group), inner)
    return replace(settings, **changed)  # type: ignore[type-var]


def _si(low: str, high: str, unit: str) -> tuple[float, float]:
    """Return a range as printed, in SI."""
    factor = FACTORS[unit] if unit else 1.0
    return float(low) * factor, float(high) * factor


def _is_number(value: Any) -> bool:
    """Return whether a value is a finite number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _numbers(group: Any, path: str) -> Iterator[tuple[str, Any, str, int, int]]:
    """Yield path, value, text, place and count of each field that is a number or a table of them.

    Place and count are the field's among those that share its text.
    """
    texts = field_texts(type(group))
    for each in fields(group):
        value, name = getattr(group, each.name), f"{path}.{each.name}"
        if is_dataclass(value):
            yield from _numbers(value, name)
        elif isinstance(value, (int, float, tuple)) and not isinstance(value, bool):
            tunable = each.metadata.get("tunable")
            if tunable is not None:
                yield name, value, f"{tunable.source}; {tunable.meaning}", 0, 1
            else:
                yield name, value, *texts.get(each.name, ("", 0, 1))


@cache
def field_texts(group: type) -> dict[str, tuple[str, int, int]]:
    """Return the text beside each field of a class, its place among those it is for, their count.

    Texts stand under "Parameters" in the class's docstring or below the last field they are for.
    """
    body = ast.parse(dedent(inspect.getsource(group))).body[0]
    assert isinstance(body, ast.ClassDef)
    found: dict[str, tuple[str, int, int]] = {}
    for part in re.split(r"\n(?=\w)", (ast.get_docstring(body) or "")):
        head, _, text = part.partition("\n")
        _share(found, re.split(r",\s*", head), text)
    open_names: list[str] = []
    for node in body.body[1:]:
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            if node.target.id not in found:  # else it stands in the class's docstring
                open_names.append(node.target.id)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            _share(found, open_names, str(node.value.value))
            open_names = []
    return found


def _share(found: dict[str, tuple[str, int, int]], names: list[str], text: str) -> None:
    """Put down a text for the fields it is for."""
    for place, name in enumerate(names):
        found[name] = " ".join(text.split()), place, len(names)

"""Result of a fit, stored in a file of its own in the reach folder; the drawing is not changed."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.ground.cover_classes import CLASS_CODES
from reachmap.ground.fit import CoverFit, Fitted
from reachmap.ground.fit_settings import FitSettings
from reachmap.ground.settings import SpreadSettings
from reachmap.markup.files import FITTED_FILE
from reachmap.text.fit import cover_words

FORMAT = 2

ONE_FACTOR = 1
"""The older format: one factor for the roughness of every class of cover."""

HEAD = """\
# Written by `reachmap fit`. It changes how the map is worked out, not your drawing.
# Delete this file to go back to the ground as drawn.
"""

TABLES = ("before", "after", "number")


@dataclass(frozen=True, slots=True)
class StoredFit:
    """A stored fit: its result, and the digest of the drawing it was made for."""

    found: Fitted
    drawn: str


def fitted_path(folder: Path) -> Path:
    """Return the path of a reach folder's fit."""
    return folder / FITTED_FILE


def write_fitted(folder: Path, kept: StoredFit) -> Path:
    """Store a fit in the reach folder, whole or not at all."""
    found = kept.found
    lines = [
        f"format = {FORMAT}",
        f"roughness = {found.roughness:.4f}        # Manning's n of the channel times this",
        f"depth = {found.depth:.4f}            # depth of the bed nobody saw, times this",
        f"roughness_doubt = {found.roughness_doubt:.4f}  # of its logarithm, what the notes left",
        f'drawn = "{kept.drawn}"',
    ]
    for name in TABLES:
        lines += ["", f"[{name}]"]
        lines += [f"{kind} = {value:.6g}" for kind, value in sorted(getattr(found, name).items())]
    lines += ["", "[covers]  # Manning's n of each times this; what is not here stays as it was"]
    lines += [
        f"{name} = {{ roughness = {one.roughness:.4f}, doubt = {one.doubt:.4f} }}"
        for name, one in found.covers.items()
    ]
    text = HEAD + "\n".join(lines) + "\n"
    return write_aside(
        fitted_path(folder), lambda aside: aside.write_text(text, encoding="utf-8", newline="\n")
    )


def read_fitted(folder: Path | None) -> StoredFit | None:
    """Return a reach folder's fit; None where there is none.

    Raises
    ------
    MarkupError
        If the file is not one that `reachmap fit` writes.
    """
    path = None if folder is None else fitted_path(folder)
    if path is None or not path.exists():
        return None
    try:
        return _kept(tomllib.loads(read_text(path, FileKind.SETTINGS, folder)))
    except (RefusedError, OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        fix = "Delete it and run `reachmap fit` again"
        fault = Fault(FITTED_FILE, f"cannot be read as a fit ({error})", fix)
        raise MarkupError([fault]) from None


def _kept(values: Mapping[str, Any]) -> StoredFit:
    """Return the file's values, checked."""
    if values["format"] not in (ONE_FACTOR, FORMAT):
        msg = f"format is {values['format']!r}, wants {FORMAT}"
        raise ValueError(msg)
    limits = FitSettings()
    roughness = _within("roughness", values["roughness"], limits.roughness_bounds)
    depth = _within("depth", values["depth"], limits.depth_bounds)
    roughness_sd = _within("roughness_doubt", values["roughness_doubt"], (0.0, 1.0))
    if values["format"] == ONE_FACTOR:
        usual = SpreadSettings().cover_doubt
        covers = {name: CoverFit(roughness, usual) for name in CLASS_CODES}
    else:
        covers = {str(name): _cover(str(name), one) for name, one in values["covers"].items()}
    before, after = (
        {str(kind): float(value) for kind, value in values[name].items()} for name in TABLES[:2]
    )
    number = {str(kind): int(value) for kind, value in values["number"].items()}
    found = Fitted(roughness, depth, before, after, number, roughness_sd, covers)
    return StoredFit(found, str(values["drawn"]))


def _cover(name: str, values: Mapping[str, Any]) -> CoverFit:
    """Return one class of cover, checked."""
    if name not in CLASS_CODES:
        msg = f"covers has {name!r}, wants some of: {', '.join(CLASS_CODES)}"
        raise ValueError(msg)
    factor = _within(f"roughness of {name}", values["roughness"], FitSettings().cover_bounds)
    return CoverFit(factor, _within(f"doubt of {name}", values["doubt"], (0.0, 1.0)))


def _within(name: str, value: Any, bounds: tuple[float, float]) -> float:
    """Return a number of the file; raise where it is out of bounds or NaN."""
    low, high = bounds
    number = float(value)
    if not low <= number <= high:
        msg = f"{name} is {number:g}, wants {low:g} to {high:g}"
        raise ValueError(msg)
    return number


def fitted_words(kept: StoredFit, drawn: str) -> list[str]:
    """Return the sentences that a map made with a fit must show.

    Parameters
    ----------
    kept
        The fit.
    drawn
        Digest of the drawing as it is now.
    """
    found = kept.found
    count = sum(found.number.values())
    growth = "".join(
        f", that of {cover_words(names)} {_times(factor)}" for factor, names in alike(found)
    )
    words = [
        f"The roughness of the channel was taken {_times(found.roughness)}{growth}, and the depth "
        f"of the bed nobody saw {_times(found.depth)}, as `reachmap fit` found from {count} notes "
        f"({FITTED_FILE})."
    ]
    if kept.drawn != drawn:
        words.append("The drawing has changed since that fit: run `reachmap fit` again.")
    return words


def alike(found: Fitted) -> list[tuple[float, list[str]]]:
    """Return the multipliers of the classes of cover, each with the classes that have it."""
    groups: dict[float, list[str]] = {}
    for name, one in found.covers.items():
        groups.setdefault(one.roughness, []).append(name)
    return list(groups.items())


def _times(factor: float) -> str:
    """Return a multiplier in words."""
    percent = 100 * (factor - 1)
    if abs(percent) < 0.5:
        return "as it was"
    return f"{abs(percent):.0f} % {'larger' if percent > 0 else 'smaller'}"


def rounded(found: Fitted) -> Fitted:
    """Return a fit rounded as in the file, so that `fit --look` and a build agree."""
    sd = found.roughness_doubt
    return replace(
        found,
        roughness=round(found.roughness, 4),
        depth=round(found.depth, 4),
        roughness_doubt=round(sd, 4) if math.isfinite(sd) else 1.0,
        covers={
            name: CoverFit(round(one.roughness, 4), round(one.doubt, 4))
            for name, one in found.covers.items()
        },
    )

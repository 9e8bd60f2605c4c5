"""Conversion of a checked drawing into the frozen Markup used by later stages."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from reachmap.markup.check_river import dem_gives_slope, level_slope
from reachmap.markup.cloud import FROM_CLOUD
from reachmap.markup.drawing import Drawing
from reachmap.markup.features import Feature
from reachmap.markup.file_facts import FileFact
from reachmap.markup.model import (
    Access,
    Bank,
    Edge,
    Hazard,
    Level,
    Markup,
    NamedRun,
    Plan,
    River,
    Sounding,
    Speed,
    Standing,
    StructureMark,
)

T = TypeVar("T")


def assemble(
    folder: Path,
    drawing: Drawing,
    assumed: Sequence[str],
    digests: Mapping[str, str],
    files: tuple[FileFact, ...] = (),
) -> Markup:
    """Return a drawing that has no fault as a Markup.

    Parameters
    ----------
    folder
        The reach folder.
    drawing
        Read and checked.
    assumed
        Assumptions made, as sentences for the angler.
    digests
        SHA-256 of each file read.
    files
        What became of each file of the folder.
    """
    plan, notes = _sloped(drawing)
    every = drawing.features
    return Markup(
        crs=drawing.crs,
        plan=plan,
        rivers=_all(every["river"], lambda s, v: River(v["name"], v["part"], s, v["share"])),
        banks=_all(every["banks"], _bank),
        edges=(
            *_all(every["edges"], lambda s, v: Edge(s, v["flow"], v["date"])),
            *drawing.walked,
        ),
        soundings=_all(
            every["soundings"],
            lambda s, v: Sounding(v["name"], s, v["depth"], v["flow"], v["bed"]),
        ),
        speeds=(
            *_all(every["speeds"], lambda s, v: Speed(s, v["speed"], v["flow"], v["how"])),
            *drawing.floated,
        ),
        levels=(
            *_all(every["levels"], lambda s, v: Level(s, v["level"], v["flow"])),
            *drawing.leveled,
        ),
        tracks=drawing.tracks,
        trees=_all(every["trees"], _standing),
        rocks=_all(every["rocks"], _standing),
        structure=_all(
            every["structure"], lambda s, v: StructureMark(s, v["kind"], v["flow"], v["note"])
        ),
        hazards=_all(every["hazards"], lambda s, v: Hazard(s, v["kind"], v["note"])),
        access=_all(every["access"], lambda s, v: Access(s, v["kind"], v["note"])),
        runs=_all(every["runs"], lambda s, v: NamedRun(v["name"], s)),
        gauge=drawing.gauge,
        assumed=tuple(dict.fromkeys([*assumed, *notes])),
        digests=dict(digests),
        folder=folder,
        dems=tuple(tile.path for tile in drawing.tiles),
        files=files,
        imagery=drawing.imagery,
        canopy=drawing.canopy,
    )


def _all(features: Sequence[Feature], make: Callable[[Any, Mapping[str, Any]], T]) -> tuple[T, ...]:
    """Return each feature converted by `make`."""
    return tuple(make(one.shape, one.values) for one in features)


def _bank(shape: Any, values: Mapping[str, Any]) -> Bank:
    """Return a bank."""
    return Bank(
        name=values["name"],
        outline=shape,
        side=values["side"],
        cover=values["cover"],
        rise_m=values["rise"],
        cover_height_m=values["cover_height"],
        note=values["note"],
        from_cloud=values.get(FROM_CLOUD, False),
    )


def _standing(shape: Any, values: Mapping[str, Any]) -> Standing:
    """Return a tree or rock: the drawn width is twice the radius."""
    return Standing(shape, values["height"], values["size"] / 2)


def _sloped(drawing: Drawing) -> tuple[Plan, list[str]]:
    """Return the plan, a missing slope taken from the fall or level notes, and sentences on it."""
    plan, main = drawing.reach_toml.plan, drawing.main
    if not math.isnan(plan.slope) or main is None:
        return plan, []
    if not math.isnan(drawing.reach_toml.fall_m):
        return replace(plan, slope=drawing.reach_toml.fall_m / main.length), []
    slope = level_slope(drawing)
    if slope is None or dem_gives_slope(drawing):
        return plan, []
    return replace(plan, slope=slope), [f"The slope, {slope:.5f}, is that of the levels you noted."]

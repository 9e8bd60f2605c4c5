"""The part of the ground that each stage reads: its only input from there, and what its key is of.

So a tree that grew does not change the flow, and a stage that reads more than is listed here fails
at once instead of being taken from the cache when that input changes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr

from reachmap.base.digests import fingerprint
from reachmap.base.packed import packed_raster
from reachmap.base.words import UnitSystem
from reachmap.ground.notes import ATTRIBUTE
from reachmap.markup.dem_note import DemNote
from reachmap.markup.model import Markup, Plan

LINE = ("line_x", "line_y", "line_station", "line_width")
PLACE = ("station", "offset")

FIELDS = {
    "flow": ("bed", "cover", "roughness", *PLACE),
    "doubt": ("bed", "cover", "roughness", "confidence", *PLACE),
    "water": ("bed", "cover", "roughness", "confidence", *PLACE),
    "angler": ("bed", "cover", "confidence", "surface", *PLACE),
}
"""Rasters of the ground that each stage reads; the river line is for all of them."""

WORDS = ("notes", ATTRIBUTE, "evidence")
"""Attributes of the ground that are sentences for the report; no stage reads them."""

OF_THE_FORM = ("bed_doubt", "bed_doubt_sounded", "low_line_station", "low_line_level")
"""Attributes on how the bed was made up, and the stages that read them."""
READ_THE_FORM = ("doubt", "angler")


@dataclass(frozen=True)
class StageGround:
    """The part of the ground that one stage reads.

    Parameters
    ----------
    stage
        One of `FIELDS`.
    ground
        A Dataset with its rasters, the river line and the attributes, and nothing else.
    """

    stage: str
    ground: xr.Dataset

    @classmethod
    def of(cls, stage: str, terrain: xr.Dataset) -> StageGround:
        """Return a stage's part of the ground stage's Dataset."""
        left_out = {*WORDS, *(() if stage in READ_THE_FORM else OF_THE_FORM)}
        part = terrain[[*FIELDS[stage], *LINE]]
        kept = {name: one for name, one in terrain.attrs.items() if name not in left_out}
        return cls(stage, part.drop_attrs(deep=False).assign_attrs(kept))

    @cached_property
    def key(self) -> str:
        """Return a digest of rasters, line and attributes."""
        rasters = {name: packed_raster(self.ground[name]) for name in FIELDS[self.stage]}
        lines = {name: self.ground[name].to_numpy() for name in (*LINE, "x", "y")}
        attrs = {name: _plain(one) for name, one in self.ground.attrs.items()}
        return fingerprint(rasters, lines, attrs)


def of_the_person(reach: Markup) -> Markup:
    """Return a drawing reduced to what the stage "angler" reads of it."""
    plan = Plan(
        name="",
        units=UnitSystem.US,
        slope=math.nan,
        traced_flow=math.nan,
        flows=(),
        season=reach.plan.season,
        kit=reach.plan.kit,
        dem=DemNote(math.nan, "m", ""),
    )
    return Markup(reach.crs, plan, (), (), hazards=reach.hazards, access=reach.access)


def person_key(reach: Markup) -> str:
    """Return a digest of what `of_the_person` keeps."""
    plan = reach.plan
    return fingerprint(reach.crs, plan.kit, plan.season, reach.hazards, reach.access)


def _plain(value: object) -> object:
    """Return an attribute as a plain value: attributes read from a file are numpy scalars."""
    return value.item() if isinstance(value, np.generic) else value

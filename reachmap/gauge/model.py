"""The gauge as later stages see it: rating, shifts, record and discharge measurements, in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class GaugeNote:
    """What reach.toml says of the gauge: name, files, height of its zero [m], datum, time zone.

    `above_foot_m` is how far it stands upstream of the lower end of the river line [m]; NaN unsaid.
    `feature_id` is the reach's number in a national model's files; None unsaid.
    """

    name: str = ""
    files: tuple[str, ...] = ("gauge/*",)
    files_named: bool = False
    zero_m: float = math.nan
    above_foot_m: float = math.nan
    datum: str = ""
    time_zone: str = ""
    feature_id: int | None = None


@dataclass(frozen=True, slots=True)
class RatingSegment:
    """One segment of a rating: stage [m] and discharge [m3/s], offset of its logarithm [m]."""

    stage_m: FloatArray
    flow: FloatArray
    offset_m: float


@dataclass(frozen=True, slots=True)
class RatingShift:
    """What is added to a stage before the rating is asked [m], at stages [m] that rise.

    Straight between the pairs, constant outside them (from memory).
    """

    stage_m: FloatArray
    shift_m: FloatArray


@dataclass(frozen=True, slots=True)
class Measured:
    """Discharge measurements at the gauge, by time: stage [m], flow [m3/s], the measurer's word.

    `times` are UTC datetime64[s]; `quality` is good, fair, poor or unspecified.
    """

    times: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    stage_m: FloatArray
    flow: FloatArray
    quality: tuple[str, ...]
    number: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Gauge:
    """What the gauge files said: rating segments (rising, none if not given) and the record.

    `times` are UTC datetime64[s]; `flow` [m3/s] has NaN where the record has a gap, ice or a fault.
    `zero_m` is the height of the gauge's zero in the DEM's datum, NaN if nobody said. `shift` is
    the one in force where the rating's stages have none in them yet. `above_foot_m` is how far
    it stands upstream of the lower end of the river line [m], NaN if nobody said.
    """

    name: str
    segments: tuple[RatingSegment, ...]
    times: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    flow: FloatArray
    zero_m: float
    shift: RatingShift | None = None
    measured: Measured | None = None
    above_foot_m: float = math.nan

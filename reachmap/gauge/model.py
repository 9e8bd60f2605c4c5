"""The gauge as later stages see it: rating, shifts, record and discharge measurements, in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class GaugeNote:
    """Settings of the gauge in reach.toml: name, files, height of its zero [m], datum, time zone.

    `above_foot_m` is its distance above the lower end of the river line [m]; NaN if not given.
    `feature_id` is the reach's number in a national model's files; None if not given.
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
    """Shift added to a stage before the rating is applied [m], at ascending stages [m].

    Linear between the pairs, constant outside them (from memory).
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
    """Contents of the gauge files: rating segments (ascending, none if not given) and the record.

    `times` are UTC datetime64[s]; `flow` [m3/s] has NaN where the record has a gap, ice or a fault.
    `zero_m` is the height of the gauge's zero in the DEM's datum, NaN if not given. `shift` is the
    one in force where the rating's stages do not include it yet. `above_foot_m` is the gauge's
    distance upstream of the lower end of the river line [m], NaN if not given.
    """

    name: str
    segments: tuple[RatingSegment, ...]
    times: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    flow: FloatArray
    zero_m: float
    shift: RatingShift | None = None
    measured: Measured | None = None
    above_foot_m: float = math.nan

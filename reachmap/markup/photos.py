"""Place and time of photos, from their EXIF by Pillow; the picture itself is not looked at.

Tags and their forms: Exif 2.3 (CIPA DC-008), sections 4.6.5 and 4.6.6, from memory.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import ExifTags, Image

from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, check_file
from reachmap.gauge.parts import utc_from_texts

HEIF_FIX = "Save it as JPEG, with its place and time"
PLACE_FIX = "Switch on the camera's location, or draw what it shows: reachmap mark"

CANNOT_READ = (OSError, ValueError, TypeError, SyntaxError, ZeroDivisionError, KeyError)
CANNOT_OPEN = (*CANNOT_READ, Image.DecompressionBombError)
"""What Pillow raises for files it cannot make sense of."""

_STAMP = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d:\d\d:\d\d)")


@dataclass(frozen=True, slots=True)
class Shot:
    """Where and when a photo was taken.

    Parameters
    ----------
    longitude, latitude
        Of the camera, WGS 84 [degrees].
    seconds
        UTC, since 1970 [s]; NaN unknown.
    error_m
        What the camera says of its place's error [m]; NaN where it does not.
    """

    longitude: float
    latitude: float
    seconds: float
    error_m: float


def read_photo(path: Path, folder: Path, zone: str) -> Shot:
    """Return the place and time in a photo's EXIF.

    Parameters
    ----------
    path
        JPEG, PNG or another picture that Pillow opens.
    folder
        That it must stay in.
    zone
        Of a camera's clock that names no offset, "" for UTC; its receiver's clock is UTC.

    Raises
    ------
    RefusedError
        If it cannot be read, or says no place.
    """
    check_file(path, FileKind.PICTURE, folder)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what is spoilt has no place, and is said so
            with Image.open(path) as picture:
                exif = picture.getexif()
                own = dict(exif.get_ifd(ExifTags.IFD.Exif))
                gps = dict(exif.get_ifd(ExifTags.IFD.GPSInfo))
    except CANNOT_OPEN as error:
        msg = f"its place and time cannot be read ({quoted(str(error), 80)})"
        raise RefusedError(msg, HEIF_FIX) from None
    latitude = _degrees(gps, ExifTags.GPS.GPSLatitude, ExifTags.GPS.GPSLatitudeRef, "S", 90.0)
    longitude = _degrees(gps, ExifTags.GPS.GPSLongitude, ExifTags.GPS.GPSLongitudeRef, "W", 180.0)
    if math.isnan(latitude + longitude) or (latitude == 0 and longitude == 0):
        msg = "it does not say where it was taken"
        raise RefusedError(msg, PLACE_FIX)
    return Shot(longitude, latitude, _when(own, gps, zone), _error(gps))


def _degrees(gps: Mapping[int, Any], tag: int, side: int, minus: str, most: float) -> float:
    """Return an angle of degrees, minutes and seconds [degrees]; NaN where it is none."""
    try:
        degrees, minutes, seconds = (float(one) for one in gps[tag])
        sign = -1.0 if str(gps[side]).strip("\0 ").upper() == minus else 1.0
    except CANNOT_READ:
        return math.nan
    angle = degrees + minutes / 60 + seconds / 3600
    return sign * angle if 0 <= angle <= most else math.nan


def _when(own: Mapping[int, Any], gps: Mapping[int, Any], zone: str) -> float:
    """Return when a photo was taken [s, UTC]: by its receiver, else by the camera's clock."""
    try:
        hours, minutes, seconds = (float(one) for one in gps[ExifTags.GPS.GPSTimeStamp])
        day = str(gps[ExifTags.GPS.GPSDateStamp]).strip("\0 ").replace(":", "-")
        midnight = float(np.datetime64(day, "s").astype(np.int64))
        return midnight + hours * 3600 + minutes * 60 + seconds
    except CANNOT_READ:
        pass
    stamp = _STAMP.match(str(own.get(ExifTags.Base.DateTimeOriginal, "")))
    if stamp is None:
        return math.nan
    offset = str(own.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\0 ")
    offset = offset if re.fullmatch(r"[+-]\d\d:\d\d", offset) else ""
    (when,) = utc_from_texts([f"{stamp[1]}-{stamp[2]}-{stamp[3]}T{stamp[4]}{offset}"], zone)
    return math.nan if np.isnat(when) else float(when.astype("datetime64[s]").astype(np.int64))


def _error(gps: Mapping[int, Any]) -> float:
    """Return the error that the receiver gives its place [m]; NaN for none."""
    try:
        return float(gps[ExifTags.GPS.GPSHPositioningError])
    except CANNOT_READ:
        return math.nan

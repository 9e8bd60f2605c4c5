"""Place and time of photos from their EXIF, read by Pillow; the image itself is not decoded.

Tags and their formats: Exif 2.3 (CIPA DC-008), sections 4.6.5 and 4.6.6, from memory.
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
"""Exceptions raised by Pillow for unreadable files."""

_STAMP = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d:\d\d:\d\d)")


@dataclass(frozen=True, slots=True)
class Shot:
    """Place and time of a photo.

    Parameters
    ----------
    longitude, latitude
        Of the camera, WGS 84 [degrees].
    seconds
        UTC, since 1970 [s]; NaN unknown.
    error_m
        Position error given by the camera [m]; NaN if not given.
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
        Reach folder that the file must lie in.
    zone
        Time zone of a camera clock without an offset, "" for UTC; the receiver's clock is UTC.

    Raises
    ------
    RefusedError
        If it cannot be read, or has no position.
    """
    check_file(path, FileKind.PICTURE, folder)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # corrupt tags are reported as a missing position
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
    """Return an angle from degrees, minutes and seconds [degrees]; NaN where invalid."""
    try:
        degrees, minutes, seconds = (float(one) for one in gps[tag])
        sign = -1.0 if str(gps[side]).strip("\0 ").upper() == minus else 1.0
    except CANNOT_READ:
        return math.nan
    angle = degrees + minutes / 60 + seconds / 3600
    return sign * angle if 0 <= angle <= most else math.nan


def _when(own: Mapping[int, Any], gps: Mapping[int, Any], zone: str) -> float:
    """Return the time of a photo [s, UTC]: from the receiver, else from the camera's clock."""
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
    """Return the position error given by the receiver [m]; NaN for none."""
    try:
        return float(gps[ExifTags.GPS.GPSHPositioningError])
    except CANNOT_READ:
        return math.nan

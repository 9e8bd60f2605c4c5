"""Digests of values in memory: dataclasses, geometry, arrays and plain values.

A stage's result has its key from the values it depends on, not from whole files: so a change of the
flow list leaves the ground's key as it was, and a new rod that of the flows.
"""

from __future__ import annotations

import hashlib
from dataclasses import fields, is_dataclass
from pathlib import PurePath
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.fingerprint import KEY_LENGTH


def fingerprint(*values: Any) -> str:
    """Return a digest of dataclasses, geometry, arrays, numbers, text and their collections.

    Raises
    ------
    TypeError
        If a value is of a kind that has no plain bytes.
    """
    digest = hashlib.sha256()
    for value in values:
        _feed(digest, value)
    return digest.hexdigest()[:KEY_LENGTH]


def _feed(digest: Any, value: Any) -> None:
    """Feed one value with a mark of its kind, so that neighbours never run together."""
    if isinstance(value, BaseGeometry):
        _put(digest, "geometry", shapely.to_wkb(value))
    elif isinstance(value, np.ndarray):
        _put(digest, f"array{value.dtype}{value.shape}", np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value) and not isinstance(value, type):
        _put(digest, type(value).__name__, b"")
        for field in fields(value):
            _put(digest, field.name, b"")
            _feed(digest, getattr(value, field.name))
    elif isinstance(value, dict):
        _put(digest, "dict", str(len(value)).encode())
        for name in sorted(value, key=str):
            _put(digest, str(name), b"")
            _feed(digest, value[name])
    elif isinstance(value, (tuple, list)):
        _put(digest, "list", str(len(value)).encode())
        for item in value:
            _feed(digest, item)
    elif value is None or isinstance(value, (str, int, float, np.number, PurePath)):
        _put(digest, "plain", repr(value).encode())
    else:
        msg = f"no fingerprint for {type(value).__name__}"
        raise TypeError(msg)


def _put(digest: Any, kind: str, data: bytes) -> None:
    """Feed a kind and its bytes, each with its length."""
    head = f"{kind}:{len(data)}:".encode()
    digest.update(len(head).to_bytes(4, "big") + head + data)

"""Tasks and answers made small for a wire, without losing a digit.

Numbers of one field lie close to each other: their leading bytes, put side by side, repeat. Cells
listed in order, and fields of few values, shrink to almost nothing.
"""

from __future__ import annotations

import pickle
import zlib
from collections.abc import Callable
from typing import Any

import numpy as np

WIDTH = 8
"""Bytes of a number: byte k of every one is put beside byte k of the next."""

LEVEL = 1
"""How hard zlib tries, 1 to 9 (our choice): more costs ten times the time for a few hundredths."""


def sealed(thing: Any) -> bytes:
    """Return what pickle makes of anything, its arrays squeezed; `opened` gives it back."""
    buffers: list[pickle.PickleBuffer] = []
    head = pickle.dumps(thing, protocol=5, buffer_callback=buffers.append)
    return pickle.dumps((head, [_squeezed(one.raw()) for one in buffers]), protocol=5)


def opened(parcel: bytes) -> Any:
    """Return what was sealed; its arrays may be written to."""
    head, buffers = pickle.loads(parcel)
    return pickle.loads(head, buffers=[_whole(one) for one in buffers])


def by_parcel(work: Callable[[Any], Any], parcel: bytes) -> bytes:
    """Return the answer to a sealed task, sealed."""
    return sealed(work(opened(parcel)))


def _squeezed(raw: memoryview) -> bytes:
    """Return bytes squeezed, those of like weight side by side."""
    whole = np.frombuffer(raw, dtype=np.uint8)
    cut = whole.size - whole.size % WIDTH
    planes = whole[:cut].reshape(-1, WIDTH).T
    return zlib.compress(planes.tobytes() + whole[cut:].tobytes(), LEVEL)


def _whole(squeezed: bytes) -> bytearray:
    """Return the bytes that were squeezed."""
    flat = np.frombuffer(zlib.decompress(squeezed), dtype=np.uint8)
    cut = flat.size - flat.size % WIDTH
    return bytearray(flat[:cut].reshape(WIDTH, -1).T.tobytes() + flat[cut:].tobytes())

"""Compact, lossless serialisation of tasks and answers for sending them over a network.

Pickle with its arrays byte-shuffled and compressed. Numbers of one field lie close to each other:
their leading bytes, put side by side, repeat.
"""

from __future__ import annotations

import pickle
import zlib
from collections.abc import Callable
from typing import Any

import numpy as np

WIDTH = 8
"""Bytes of a number: byte k of every one is put next to byte k of the following one."""

LEVEL = 1
"""Compression level of zlib, 1 to 9; our choice: higher ones take ten times as long and gain a few
hundredths."""


def to_bytes(thing: Any) -> bytes:
    """Return an object pickled, its arrays compressed; `from_bytes` restores it."""
    buffers: list[pickle.PickleBuffer] = []
    head = pickle.dumps(thing, protocol=5, buffer_callback=buffers.append)
    return pickle.dumps((head, [_compressed(one.raw()) for one in buffers]), protocol=5)


def from_bytes(body: bytes) -> Any:
    """Return the object that `to_bytes` serialised; its arrays are writable."""
    head, buffers = pickle.loads(body)
    return pickle.loads(head, buffers=[_expanded(one) for one in buffers])


def run_serialised(work: Callable[[Any], Any], task: bytes) -> bytes:
    """Return the answer to a serialised task, serialised."""
    return to_bytes(work(from_bytes(task)))


def _compressed(raw: memoryview) -> bytes:
    """Return bytes compressed, those of like weight side by side."""
    whole = np.frombuffer(raw, dtype=np.uint8)
    cut = whole.size - whole.size % WIDTH
    planes = whole[:cut].reshape(-1, WIDTH).T
    return zlib.compress(planes.tobytes() + whole[cut:].tobytes(), LEVEL)


def _expanded(compressed: bytes) -> bytearray:
    """Return the bytes that `_compressed` was given."""
    flat = np.frombuffer(zlib.decompress(compressed), dtype=np.uint8)
    cut = flat.size - flat.size % WIDTH
    return bytearray(flat[:cut].reshape(WIDTH, -1).T.tobytes() + flat[cut:].tobytes())

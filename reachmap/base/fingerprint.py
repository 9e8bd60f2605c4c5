"""Fingerprints of files and settings; standard library only, so they cost no start-up."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

KEY_LENGTH = 16


def digest_bytes(data: bytes) -> str:
    """Return the SHA-256 of `data` in hex."""
    return hashlib.sha256(data).hexdigest()


def digest_file(path: Path) -> str:
    """Return the SHA-256 of a file in hex."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def digest_files(paths: Iterable[Path], root: Path) -> dict[str, str]:
    """Return the digest of each file under its path relative to `root`, sorted."""
    return {_beneath(path, root): digest_file(path) for path in sorted(paths)}


def _beneath(path: Path, root: Path) -> str:
    """Return a path relative to `root`; of what lies above it its name, after two dots."""
    if path.is_relative_to(root):
        return path.relative_to(root).as_posix()
    return f"../{path.name}"


def stage_key(
    stage: str, version: int, settings: Mapping[str, Any], inputs: Mapping[str, str]
) -> str:
    """Return the key of a stage's result: first hex digits of a hash over all it depends on.

    Parameters
    ----------
    stage
        Name of the stage.
    version
        Raised when the stage's numbers change.
    settings
        The stage's settings as plain JSON values.
    inputs
        Keys or digests of what the stage takes.
    """
    content = {"stage": stage, "version": version, "settings": settings, "inputs": dict(inputs)}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), default=str)
    return digest_bytes(text.encode())[:KEY_LENGTH]

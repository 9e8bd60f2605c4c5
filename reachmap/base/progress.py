"""The type of progress callbacks."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Progress callback (step, done, total)."""

"""GDAL configuration options set for the duration of a block."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import pyogrio


@contextmanager
def gdal_options(options: Mapping[str, str | bool | None]) -> Iterator[None]:
    """Set options of GDAL, and put back what they were before; None leaves one as it is."""
    chosen = {name: value for name, value in options.items() if value is not None}
    before = {name: pyogrio.get_gdal_config_option(name) for name in chosen}
    pyogrio.set_gdal_config_options(chosen)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)

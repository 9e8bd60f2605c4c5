"""The cache folder: one file a stage and flow, found by key, old ones dropped."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import geopandas as gpd
import xarray as xr

from reachmap.base.cache import remembered, remembered_layers

T = TypeVar("T")

KEEP_DAYS = 30.0
"""How long a result that no build used is kept; our choice, range 1 to 365."""


@dataclass(slots=True)
class Store:
    """Stored results of one written folder; notes what was made afresh and how long it took."""

    folder: Path
    fresh: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    used: set[Path] = field(default_factory=set)

    def dataset(self, stage: str, key: str, make: Callable[[], xr.Dataset]) -> xr.Dataset:
        """Return a stage's Dataset, made if need be."""
        path = self._path(stage, key, "nc")
        return remembered(path, lambda: self.timed(stage, make))

    def layers(
        self, stage: str, key: str, make: Callable[[], Mapping[str, gpd.GeoDataFrame]]
    ) -> dict[str, gpd.GeoDataFrame]:
        """Return a stage's layers, made if need be."""
        path = self._path(stage, key, "gpkg")
        return remembered_layers(path, lambda: self.timed(stage, make))

    def stored_layers(self, stage: str, key: str) -> dict[str, gpd.GeoDataFrame] | None:
        """Return a stage's layers if they are stored, else None."""
        path = self._path(stage, key, "gpkg")
        if not path.exists():
            return None
        return remembered_layers(path, dict)

    def has(self, stage: str, key: str) -> bool:
        """Return whether a Dataset is stored under a key."""
        return self._path(stage, key, "nc").exists()

    def drop_old(self) -> None:
        """Drop results that no build has used for `KEEP_DAYS`."""
        limit = time.time() - KEEP_DAYS * 86_400
        for path in self.folder.glob("*-*.*"):
            if path not in self.used and path.stat().st_mtime < limit:
                path.unlink(missing_ok=True)

    def _path(self, stage: str, key: str, ending: str) -> Path:
        """Return where a result lies, and mark it as used."""
        path = self.folder / f"{stage.split(' ', maxsplit=1)[0]}-{key}.{ending}"
        self.used.add(path)
        if path.exists():
            os.utime(path)
        return path

    def timed(self, stage: str, make: Callable[[], T]) -> T:
        """Make a result and note that it was made and how long it took."""
        begun = time.perf_counter()
        made = make()
        self.fresh.append(stage)
        self.seconds[stage] = self.seconds.get(stage, 0.0) + time.perf_counter() - begun
        return made

"""The cache folder: one file a stage and flow, found by key, old ones dropped."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import geopandas as gpd
import xarray as xr

from reachmap.base.cache import (
    DIGEST_ENDING,
    digest_path,
    keep_dataset,
    keep_layers,
    stored_dataset,
    stored_layers,
)
from reachmap.base.held import held_results
from reachmap.base.schema import as_promised
from reachmap.pipeline.warm import warm_state

T = TypeVar("T")

KEEP_DAYS = 30.0
"""How long a result that no build used is kept; our choice, range 1 to 365."""


@dataclass(slots=True)
class Store:
    """Stored results of one written folder; notes what was made afresh and how long it took.

    Parameters
    ----------
    folder
        The cache folder: results are stored here.
    others
        Cache folders of other written folders of the reach: only read from.
    """

    folder: Path
    others: tuple[Path, ...] = ()
    fresh: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    used: set[Path] = field(default_factory=set)
    read: dict[str, xr.Dataset] = field(default_factory=dict)

    def dataset(self, stage: str, key: str, make: Callable[[], xr.Dataset]) -> xr.Dataset:
        """Return a stage's Dataset, made if need be."""
        if self.has(stage, key):
            return self.read.pop(_name(stage, key, "nc"))
        return self.keep_dataset(stage, key, self.timed(stage, make))

    def stored_dataset(self, stage: str, key: str) -> xr.Dataset | None:
        """Return a Dataset if it is stored undamaged, else None; it is not held."""
        return self._held_or(_name(stage, key, "nc"), stored_dataset)

    def keep_dataset(self, stage: str, key: str, dataset: xr.Dataset) -> xr.Dataset:
        """Store a Dataset where `stored_dataset` found none; return it as read back."""
        name = _name(stage, key, "nc")
        return self._hold(name, keep_dataset(self._use(self.folder / name), dataset))

    def layers(
        self, stage: str, key: str, make: Callable[[], Mapping[str, gpd.GeoDataFrame]]
    ) -> dict[str, gpd.GeoDataFrame]:
        """Return a stage's layers, made if need be."""
        stored = self.stored_layers(stage, key)
        return self.keep_layers(stage, key, self.timed(stage, make)) if stored is None else stored

    def keep_layers(
        self, stage: str, key: str, layers: Mapping[str, gpd.GeoDataFrame]
    ) -> dict[str, gpd.GeoDataFrame]:
        """Store a stage's layers where `stored_layers` found none; return them as read back."""
        file = _name(stage, key, "gpkg")
        path = self._use(self.folder / file)
        return self._hold(file, _promised(keep_layers(path, layers)))

    def stored_layers(self, stage: str, key: str) -> dict[str, gpd.GeoDataFrame] | None:
        """Return a stage's layers if they are stored undamaged, else None."""
        return self._held_or(_name(stage, key, "gpkg"), _read_promised)

    def has(self, stage: str, key: str) -> bool:
        """Return whether a Dataset is stored undamaged under a key.

        It is read to find out, and held until `dataset` returns it: what was there is still there
        then, whatever another program does to the file meanwhile.
        """
        name = _name(stage, key, "nc")
        if name not in self.read:
            stored = self._held_or(name, stored_dataset)
            if stored is not None:
                self.read[name] = stored
        return name in self.read

    def drop_old(self) -> None:
        """Drop results that no build has used for `KEEP_DAYS`, and digests without their result."""
        if (kept := warm_state()) is not None:
            kept.keep_only({path.name for path in self.used})
        if (others := held_results()) is not None:
            others.drop_unused()
        limit = time.time() - KEEP_DAYS * 86_400
        for path in self.folder.glob("*-*.*"):
            result = path.with_name(path.name.removesuffix(DIGEST_ENDING))
            alone = result != path and not result.exists()
            if alone or (result not in self.used and path.lstat().st_mtime < limit):
                with suppress(OSError):  # a folder of that name, or a file held open, stays
                    path.unlink(missing_ok=True)

    def timed(self, stage: str, make: Callable[[], T]) -> T:
        """Make a result and note that it was made and how long it took."""
        begun = time.perf_counter()
        made = make()
        self.fresh.append(stage)
        self.spent(stage, time.perf_counter() - begun)
        return made

    def timed_part(self, stage: str, make: Callable[[], T]) -> T:
        """Make what is never stored and note how long it took."""
        begun = time.perf_counter()
        made = make()
        self.spent(stage, time.perf_counter() - begun)
        return made

    def held(self, stage: str, key: str, make: Callable[[], T]) -> T:
        """Return what is made of stored results: never stored, but held as they are in memory.

        Nobody may change it.
        """
        kept = warm_state()
        if kept is None:
            return make()
        name = f"{stage}-{key}"
        self.used.add(self.folder / name)
        if name not in kept.results:
            kept.results[name] = make()
        found: T = kept.results[name]
        return found

    def spent(self, stage: str, seconds: float) -> None:
        """Note how long a stage took; more of one stage adds up."""
        self.seconds[stage] = self.seconds.get(stage, 0.0) + seconds

    def _held_or(self, name: str, read: Callable[[Path], T | None]) -> T | None:
        """Return a result that is held in memory, else what is stored, held from now on."""
        kept = warm_state()
        if kept is not None and name in kept.results:
            self._use(self.folder / name)
            mine: T = _its_own(kept.results[name])
            return mine
        found = self._first(name, read)
        return None if found is None else self._hold(name, found)

    def _hold(self, name: str, result: T) -> T:
        """Hold a result, where this program holds any, and return it."""
        kept = warm_state()
        if kept is None:
            return result
        kept.results[name] = result
        mine: T = _its_own(result)
        return mine

    def _first(self, name: str, read: Callable[[Path], T | None]) -> T | None:
        """Return what the first cache folder holds undamaged under a name, None if none does."""
        for folder in (self.folder, *self.others):
            found = read(self._use(folder / name))
            if found is not None:
                return found
        return None

    def _use(self, path: Path) -> Path:
        """Mark a stored file as used, and return its path."""
        self.used.add(path)
        for one in (path, digest_path(path)):
            if one.is_file() and not one.is_symlink():
                with suppress(OSError):
                    os.utime(one)
        return path


def _its_own(result: Any) -> Any:
    """Return a result to change at will: its data are shared, and copied when they are changed."""
    if isinstance(result, dict):
        return {name: one.copy(deep=False) for name, one in result.items()}
    return result.copy(deep=False)


def _read_promised(path: Path) -> dict[str, gpd.GeoDataFrame] | None:
    """Return stored layers with the columns that the schema promises; None where there are none."""
    stored = stored_layers(path)
    return None if stored is None else _promised(stored)


def _promised(layers: Mapping[str, gpd.GeoDataFrame]) -> dict[str, gpd.GeoDataFrame]:
    """Return layers with the columns that the schema promises."""
    return {name: as_promised(name, frame) for name, frame in layers.items()}


def _name(stage: str, key: str, ending: str) -> str:
    """Return the name of a stored file: stages like "flow 2400cfs" share the first word."""
    return f"{stage.split(' ', maxsplit=1)[0]}-{key}.{ending}"

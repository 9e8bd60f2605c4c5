"""Editing session of one reach folder: drawing, facts of reach.toml and basemap."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from reachmap.base.cache import write_aside
from reachmap.base.crs import WGS84
from reachmap.base.digests import fingerprint
from reachmap.base.picture import MapPicture
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.markup.config import read_plan
from reachmap.markup.config.render import template
from reachmap.markup.dem_look import look_at_tiles, unit_in_use
from reachmap.markup.files import REACH_FILE
from reachmap.markup.found import terrain_files
from reachmap.markup.imagery import look_at_imagery
from reachmap.markup.read import read_measured
from reachmap.markup.starter import write_new
from reachmap.markup.write import MARKUP_FILE
from reachmap.web.editor.air_picture import air_picture
from reachmap.web.editor.basemap import FILE, FOLDER, basemap_in, keep, keep_picture
from reachmap.web.editor.check import check_report
from reachmap.web.editor.drawing_file import digest_of
from reachmap.web.editor.layer_specs import layers_json, units_json
from reachmap.web.editor.reach_facts import (
    FactsError,
    begun,
    crs_in,
    facts_in,
    invented_in,
    units_in,
    with_facts,
)
from reachmap.web.editor.relief import relief
from reachmap.web.editor.rows import with_units
from reachmap.web.editor.schema import DrawingMessage
from reachmap.web.editor.store import DrawingStore, StaleError


def prepare(folder: Path) -> bool:
    """Make a reach folder to draw in, unless it is one already; return whether it was made.

    A folder that is not there, or holds neither reach.toml nor a drawing, becomes a new reach
    folder without invented facts. One that lacks only reach.toml is given one. Nothing that is
    there is changed.
    """
    toml = folder / REACH_FILE
    if toml.exists():
        return False
    name = folder.resolve().name.replace("_", " ").replace("-", " ").strip() or "My home reach"
    if not (folder / MARKUP_FILE).exists():
        write_new(folder)
    text = begun(name)
    write_aside(toml, lambda aside: aside.write_text(text, encoding="utf-8"))
    return True


class EditorSession:
    """Editing session: the reads and writes that the page may ask for."""

    def __init__(self, folder: Path, notice: str = "") -> None:
        """Open a folder after `prepare`; the page shows the sentence `notice` once."""
        self.folder = folder
        text = self.text()
        self._digest = digest_of(folder / REACH_FILE)
        self._basemap_digest = self._basemap_now()
        self.store = DrawingStore(folder, units=units_in(text), spare_crs=crs_in(text))
        self.store.show_once(notice)

    def as_json(self) -> dict[str, Any]:
        """Return all that the page shows."""
        text = self.text()
        units = self.store.units
        return {
            **self.store.as_json(),
            "folder": str(self.folder),
            "layers": layers_json(units),
            "units": units_json(units),
            "facts": facts_in(text),
            "invented": invented_in(text),
            "basemap": basemap_in(self.folder),
            "relief": _edges(self.relief),
            "imagery": _edges(self.imagery),
        }

    def save(self, sent: DrawingMessage) -> int:
        """Save a drawing and return its version."""
        return self.store.save(sent)

    def check(self) -> dict[str, Any]:
        """Return the result of the check, and the version it is of."""
        version = self.store.version
        return {"version": version, **check_report(self.folder, self.store.kept)}

    def save_facts(self, version: int, new: Mapping[str, Any]) -> dict[str, Any]:
        """Keep facts in reach.toml and return all of them with the new version.

        Raises
        ------
        StaleError
            If another tab or program was quicker.
        FactsError
            If they cannot be kept.
        """
        with self.store.alone():
            return self._save_facts(version, new)

    def _save_facts(self, version: int, new: Mapping[str, Any]) -> dict[str, Any]:
        """Keep facts, under the lock of the drawing."""
        self.store.must_be(version)
        path = self.folder / REACH_FILE
        if digest_of(path) != self._digest:
            msg = f"{REACH_FILE} was changed by another program. Load the page again."
            raise StaleError(msg)
        text = self.text()
        made = with_facts(text, new)
        units = units_in(made)
        body, other = made.encode("utf-8"), units is not self.store.units
        if other:
            self._refuse_bare_files(text, made)
            self.store.change_units(units, lambda: self._write_toml(body))
        elif made != text:
            self._write_toml(body)
        marks = {"marks": self.store.marks_json()} if other else {}
        return {
            **marks,
            "version": self.store.changed(),
            "facts": facts_in(made),
            "invented": invented_in(made),
            "layers": layers_json(units),
            "units": units_json(units),
        }

    def _write_toml(self, body: bytes) -> None:
        """Write reach.toml."""
        path = self.folder / REACH_FILE
        write_aside(path, lambda aside: aside.write_bytes(body))
        self._digest = digest_of(path)

    def _refuse_bare_files(self, text: str, made: str) -> None:
        """Raise where files that this page does not change hold numbers without a unit.

        Parameters
        ----------
        text, made
            reach.toml with the units so far and with the new ones.
        """
        units = self.store.units
        other = units_in(made)
        bare = [
            name for name, kept in self.store.elsewhere.items()
            if any(with_units(one.mark, units, other) != one.mark for one in kept)
        ]  # fmt: skip
        before, after = (read_measured(self.folder, one) for one in (text, made))
        bare += ["files in gauge/"] if fingerprint(before[0]) != fingerprint(after[0]) else []
        bare += ["tracks or photos"] if fingerprint(before[1]) != fingerprint(after[1]) else []
        if bare:
            msg = (
                f"Numbers without a unit stand in {', '.join(bare)}: other units would change what "
                "they mean. Write the unit into their column headers or behind each number first."
            )
            raise FactsError(msg)

    def save_basemap(self, version: int, message: Mapping[str, Any]) -> dict[str, Any]:
        """Store the basemap and return it with the new version.

        Raises
        ------
        StaleError
            If another tab or program was quicker.
        BasemapError
            If it cannot be kept.
        """
        with self.store.alone():
            self.store.must_be(version)
            if self._basemap_now() != self._basemap_digest:
                msg = "What lies beneath was changed by another program. Load the page again."
                raise StaleError(msg)
            kept = keep(self.folder, message)
            self._basemap_digest = self._basemap_now()
            return {"version": self.store.changed(), "basemap": kept}

    def save_picture(self, body: bytes) -> dict[str, Any]:
        """Store a picture; the page sends its position next."""
        return keep_picture(self.folder, body)

    def reload(self, copy: object = None) -> None:
        """Open everything again from the disk.

        Parameters
        ----------
        copy
            Unsaved drawing of the page, as GeoJSON: stored in a file of its own before anything is
            read. None for none.
        """
        text = self.text()
        self._digest = digest_of(self.folder / REACH_FILE)
        self._basemap_digest = self._basemap_now()
        self.store.units, self.store.spare_crs = units_in(text), crs_in(text)
        words = self.store.keep_copy(copy) if isinstance(copy, Mapping) else ""
        self.store.reload(words)

    def forget_ground(self) -> None:
        """Look at the terrain and the picture from the air anew: files came into the folder."""
        self.__dict__.pop("relief", None)
        self.__dict__.pop("imagery", None)

    def changed_outside(self) -> bool:
        """Return whether another program changed the drawing, reach.toml or the basemap."""
        toml = digest_of(self.folder / REACH_FILE) != self._digest
        basemap = self._basemap_now() != self._basemap_digest
        return toml or basemap or self.store.changed_outside()

    def _basemap_now(self) -> str:
        """Return the digest of the basemap's file on the disk."""
        return digest_of(self.folder / FOLDER / FILE)

    @cached_property
    def relief(self) -> MapPicture | None:
        """Return the shaded DEM, made on first use; None where there is none."""
        settings = read_plan(self.text())
        tiles, _ = look_at_tiles(terrain_files(self.folder), WGS84)
        unit = settings.plan.dem.height_unit
        return relief([tile.path for tile in tiles], unit_in_use(tiles, unit)) if tiles else None

    @cached_property
    def imagery(self) -> MapPicture | None:
        """Return the folder's picture from the air, made on first use; None for none."""
        path, _ = look_at_imagery(self.folder, read_plan(self.text()).imagery_files)
        return air_picture(path, self.relief) if path is not None else None

    def text(self) -> str:
        """Return reach.toml, the template where there is none, no TOML where it cannot be read."""
        try:
            return read_text(self.folder / REACH_FILE, FileKind.SETTINGS, self.folder)
        except FileNotFoundError:
            return template()
        except (RefusedError, OSError):
            return "="  # no TOML: the page then does not edit facts


def _edges(made: MapPicture | None) -> list[float] | None:
    """Return a picture's edges: south, west, north, east."""
    return None if made is None else [made.south, made.west, made.north, made.east]

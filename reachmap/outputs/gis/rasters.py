"""GeoTIFFs, one for each field and flow, with colours, statistics, units and datum."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import rasterio
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.cache import write_aside
from reachmap.base.digests import fingerprint
from reachmap.base.fields import FIELDS
from reachmap.base.grid import Grid
from reachmap.base.version import VERSION
from reachmap.base.words import Wet
from reachmap.outputs.gis.raster_styles import Step, colour_table, raster_qml, steps_of
from reachmap.outputs.product import Product
from reachmap.outputs.reuse import Reuse
from reachmap.text import cautions
from reachmap.text.gis import NO_VALUE, WET_WORDS, datum_words, raster_meaning

RASTERS = ("depth", "speed", "level", "wet")
"""Fields written as GeoTIFF; `speed` is the length of the two components."""

UNCERTAINTY_RASTERS = ("depth_spread", "speed_spread", "agreement")
"""Fields of the ensemble, written where there is one."""

NODATA = -9999.0
"""Nodata value: dry or unknown; `wet_<label>.tif` distinguishes the two."""

FORMAT = 1
"""Raised when a raster of the same field is written in another way."""

WET_CODES = ", ".join(f"{code.value} {code.name.lower()}" for code in Wet)


@dataclass(frozen=True, slots=True)
class Raster:
    """One field at one flow: name, label of the flow, values [SI; NaN for none], colours."""

    name: str
    label: str
    values: FloatArray
    steps: tuple[Step, ...]

    @property
    def file(self) -> str:
        """Return the name of its file."""
        return f"{self.name}_{self.label}.tif"


def rasters_of(product: Product) -> Iterator[Raster]:
    """Yield each raster of a product, flow by flow."""
    units = product.markup.plan.units
    for index, label in enumerate(product.labels):
        flow = product.flows.isel(flow=index)
        fields = [(flow, name) for name in RASTERS]
        if product.doubt is not None:
            one = product.doubt.isel(flow=index)
            fields += [(one, name) for name in UNCERTAINTY_RASTERS]
        for dataset, name in fields:  # no more than one is dense
            values = _values(dataset, name)
            steps = () if name == "wet" else steps_of(name, values, units)
            yield Raster(name, label, values, steps)


def write_rasters(product: Product, folder: Path, reuse: Reuse | None = None) -> list[Path]:
    """Write the GeoTIFFs of each flow with a style file each; return the paths.

    Those that are as in the last build are carried over from it by `reuse`.
    """
    grid, paths = Grid.of(product.flows), []
    tags = _tags(product)
    for raster in rasters_of(product):
        write = partial(_write_raster, grid=grid, raster=raster, tags=tags)
        path = folder / raster.file
        if reuse is None or not reuse.carry(path, raster_inputs(raster, grid, tags)):
            write_aside(path, write)
        paths += [
            path,
            _write_text(path.with_suffix(".qml"), raster_qml(raster.name, raster.steps)),
        ]
        if raster.name == "wet":
            paths.append(_write_text(path.with_name(f"{path.name}.aux.xml"), _category_names()))
    return paths


def raster_inputs(raster: Raster, grid: Grid, tags: Mapping[str, str]) -> str:
    """Return a digest of everything a raster's file is made of."""
    known = np.isfinite(raster.values)
    place = str(grid.crs), tuple(grid.transform), grid.shape, dict(tags)
    what = FORMAT, VERSION, rasterio.__version__, rasterio.__gdal_version__
    words = raster.name, raster.label, *_unit_of(raster.name)
    cells = np.packbits(known), raster.values[known]
    return fingerprint(what, words, place, cells, str(colour_table()))


def _write_text(path: Path, text: str) -> Path:
    """Write a text file atomically."""
    return write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8"))


def _values(flow: xr.Dataset, name: str) -> FloatArray:
    """Return a field as an array; NaN where there is none."""
    if name == "speed":
        speed = np.hypot(flow["east_speed"].to_numpy(), flow["north_speed"].to_numpy())
        return np.asarray(speed, dtype=np.float64)
    return np.asarray(flow[name].to_numpy(), dtype=np.float64)


def _tags(product: Product) -> dict[str, str]:
    """Return the metadata tags of each file."""
    datum = datum_words(
        str(product.ground.attrs.get("vertical", "")), product.markup.plan.dem.datum
    )
    tags = {"VERTICAL_DATUM": datum, "NO_VALUE": NO_VALUE, "CAUTION": " ".join(cautions.CAUTIONS)}
    return tags | ({"PREVIEW": cautions.PREVIEW} if product.preview else {})


def _write_raster(path: Path, *, grid: Grid, raster: Raster, tags: dict[str, str]) -> None:
    """Write one field at one flow as a cloud-optimised GeoTIFF in the metric CRS.

    Overviews use nearest-neighbour resampling, so that no new values are created.
    """
    unit, meaning = _unit_of(raster.name)
    codes = raster.name == "wet"
    dtype = "uint8" if codes else "float32"
    profile = {
        "driver": "COG",
        "dtype": dtype,
        "count": 1,
        "height": grid.shape[0],
        "width": grid.shape[1],
        "crs": grid.crs,
        "transform": grid.transform,
        "nodata": None if codes else NODATA,
        "compress": "deflate",
        "predictor": 2 if codes else 3,
        "overview_resampling": "nearest",
    }
    known = np.isfinite(raster.values)
    with rasterio.open(path, "w", **profile) as target:
        target.write(np.where(known, raster.values, NODATA).astype(dtype), 1)
        target.set_band_unit(1, unit)
        target.set_band_description(1, f"{meaning} At {raster.label}.")
        if raster.name == "level":
            target.update_tags(**tags)
        else:
            target.update_tags(**{k: v for k, v in tags.items() if k != "VERTICAL_DATUM"})
        if codes:
            target.write_colormap(1, colour_table())
        elif known.any():
            target.update_tags(1, **_statistics(raster.values, known))


def _statistics(values: FloatArray, known: np.ndarray) -> dict[str, str]:
    """Return the statistics of a band under the names that GDAL looks for."""
    found = values[known].astype(np.float32).astype(np.float64)
    numbers = {
        "MINIMUM": found.min(),
        "MAXIMUM": found.max(),
        "MEAN": found.mean(),
        "STDDEV": found.std(),
        "VALID_PERCENT": 100.0 * known.mean(),
    }
    return {f"STATISTICS_{name}": f"{number:.9g}" for name, number in numbers.items()}


def _category_names() -> str:
    """Return the words of the codes of `wet` in GDAL's auxiliary XML format."""
    root = ET.Element("PAMDataset")
    names = ET.SubElement(ET.SubElement(root, "PAMRasterBand", band="1"), "CategoryNames")
    for code in Wet:
        ET.SubElement(names, "Category").text = WET_WORDS[code]
    return ET.tostring(root, encoding="unicode")


def _unit_of(name: str) -> tuple[str, str]:
    """Return unit and meaning of a raster."""
    if name == "speed":
        return "m/s", raster_meaning("Depth-averaged speed.")
    if name == "wet":
        return "1", f"Whether there is water: {WET_CODES}."
    field = next(field for field in FIELDS if field.name == name)
    return field.unit, raster_meaning(field.meaning)

"""Writes results.gpkg, the GeoTIFFs with their colours, and the project reach.qgz."""

from __future__ import annotations

from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.outputs.gis.package import write_package
from reachmap.outputs.gis.project import write_project
from reachmap.outputs.gis.rasters import write_rasters
from reachmap.outputs.product import Product
from reachmap.outputs.reuse import Reuse


def write_gis(product: Product, folder: Path, reuse: Reuse | None = None) -> list[Path]:
    """Write all files for desktop GIS; return their paths.

    Rasters that are as in the last build are carried over from it by `reuse`.
    """
    package = write_aside(folder / "results.gpkg", lambda aside: write_package(aside, product))
    rasters = write_rasters(product, folder, reuse)
    project = write_aside(folder / "reach.qgz", lambda aside: write_project(aside, product))
    return [package, *rasters, project]

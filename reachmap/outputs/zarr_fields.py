"""The fields as Zarr stores with CF attributes, for work on many reaches; extra `zarr`."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import xarray as xr

from reachmap.base.errors import BuildError, Fault
from reachmap.outputs.cf import cf_dataset
from reachmap.outputs.product import Product

ZARR_FORMAT = 2
"""Format of the stores: 2 is read by every zarr library and by GDAL, 3 not yet by all."""


def refuse_without_zarr() -> None:
    """Raise where the Zarr library is not installed, before any work is done.

    Raises
    ------
    BuildError
        Names what to install.
    """
    if find_spec("zarr") is None:
        found = "the part that writes Zarr is not installed"
        fix = 'Install it with pip install "reachmap[zarr]", or leave --zarr out'
        raise BuildError([Fault("--zarr", found, fix)])


def write_zarr(product: Product, folder: Path) -> list[Path]:
    """Write `flow.zarr`, `ground.zarr` and, with an ensemble, `doubt.zarr`; return their paths.

    The same Datasets as in Python (`ReachMap.flow` and the others): SI, by the CF conventions, each
    flow's raster one chunk.
    """
    stages = {"flow": product.flows, "ground": product.ground, "doubt": product.doubt}
    name, paths = product.markup.plan.name, []
    for stage, dataset in stages.items():
        if dataset is None:
            continue
        made = cf_dataset(dataset, product.ground, name).assign_attrs(preview=int(product.preview))
        paths.append(folder / f"{stage}.zarr")
        keep_zarr(made, paths[-1])
    return paths


def keep_zarr(dataset: xr.Dataset, path: Path) -> None:
    """Write a Dataset into a new Zarr store, each flow's raster one chunk.

    A build writes into a new generation of the folder, so that this need not be atomic.
    """
    dataset.to_zarr(
        path, mode="w-", zarr_format=ZARR_FORMAT, consolidated=True, encoding=_chunks(dataset)
    )


def _chunks(dataset: xr.Dataset) -> dict[str, dict[str, tuple[int, ...]]]:
    """Return the chunk of each variable: one flow, the whole raster."""
    return {
        str(name): {"chunks": tuple(1 if dim == "flow" else n for dim, n in array.sizes.items())}
        for name, array in dataset.variables.items()
        if array.ndim and array.size
    }

"""The uncertainty stage: how far the rivers that the evidence allows differ from the map."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count
from typing import Protocol

import numpy as np
import xarray as xr

from reachmap.base.errors import BuildError, Fault
from reachmap.base.fields import check_fields
from reachmap.base.packed import PackedRaster, packed_field
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.coarse import Coarse, coarse_factor
from reachmap.uncertainty.settings import UncertaintySettings
from reachmap.uncertainty.tally import Tally

VERSION = 6
"""Raised when the stage's numbers change."""

Member = tuple[PackedRaster, PackedRaster]
"""One bed [m] and roughness [s/m^(1/3)] on the map's cells, shape (y, x)."""


class Members(Protocol):
    """Members, drawn one after the other."""

    def __len__(self) -> int:
        """Return how many there are."""
        ...

    def __iter__(self) -> Iterator[Member]:
        """Return each in turn."""
        ...


class Solve(Protocol):
    """The flow stage, with settings loose enough for a coarse raster."""

    def __call__(
        self, ground: xr.Dataset, flows: Sequence[float], *, near: xr.Dataset | None = None
    ) -> xr.Dataset:
        """Return the flow stage's Dataset, started from water near the answer."""
        ...


NAMES = ("depth_spread", "speed_spread", "wet_chance", "suits_chance", "agreement")


def estimate_uncertainty(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    members: Members,
    solve: Solve,
    limits: Sequence[SeasonLimits],
    settings: UncertaintySettings,
) -> xr.Dataset:
    """Return how far an ensemble of grounds differs from the map at each flow.

    Each member runs on a coarse raster, and so does the map's own ground; the difference of the
    member's level and speed from the latter's is added to the map's, over the member's own bed. So
    the coarse raster's own error drops out.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flowing
        The flow stage's, at any flows.
    members
        Beds and roughnesses on the ground's raster.
    solve
        Runs the flow stage on a coarse ground.
    limits
        What suits the season's fish at each flow.
    settings
        Of the stage.

    Returns
    -------
    xr.Dataset
        The fields of stage "doubt"; attrs `members` (how many ran) of `drawn`, `cell` of the coarse
        raster [m], `model_depth_m` the flow model's own error of depth [m] within `depth_spread`.

    Raises
    ------
    BuildError
        If the map's own ground, or more than half of the members, cannot be run.
    """
    coarse = Coarse.of(ground, coarse_factor(ground))
    flows = [float(flow) for flow in flowing["flow"].to_numpy()]
    central = solve(coarse.template, flows)
    gauge = np.random.default_rng(settings.seed).normal(0, settings.gauge_sd, len(members))
    counts = [
        Tally(ground, flowing.isel(flow=index), central.isel(flow=index), coarse, limit, settings)
        for index, limit in enumerate(limits)
    ]
    ran = 0
    for (bed, roughness), more in zip(members, np.exp(gauge), strict=True):
        ran_here = [more * flow for flow in flows]
        try:
            water = solve(coarse.with_bed(bed, roughness), ran_here, near=central)
        except BuildError:
            continue
        ran += 1
        with ThreadPoolExecutor(cpu_count() or 1) as pool:  # a flow each: nothing is shared
            added = [
                pool.submit(count.add, water.isel(flow=index), bed)
                for index, count in enumerate(counts)
            ]
        for one in added:
            one.result()
    if 2 * ran < len(members):
        found = f"only {ran} of {len(members)} grounds that the evidence allows could be run"
        raise BuildError([Fault("the ensemble", found, "Build with --no-ensemble")])
    results = [count.result() for count in counts]
    stacks = {name: [one[name] for one in results] for name in NAMES}
    made = _dataset(stacks, flowing, coarse, ran, len(members))
    return made.assign_attrs(model_depth_m=settings.model.depth_m)


def _dataset(
    stacks: dict[str, list[PackedRaster]], flowing: xr.Dataset, coarse: Coarse, ran: int, drawn: int
) -> xr.Dataset:
    """Return the fields as a checked Dataset."""
    made = xr.Dataset(
        {name: packed_field(rasters) for name, rasters in stacks.items()},
        coords={name: flowing[name] for name in ("flow", "x", "y")},
        attrs={
            "crs": flowing.attrs["crs"],
            "members": ran,
            "drawn": drawn,
            "cell": float(coarse.template.attrs["cell"]),
        },
    )
    return check_fields(made, "doubt")

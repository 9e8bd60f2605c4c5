"""Register of the fields of every stage's Dataset: name, unit, dims, meaning, range, stage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.packed import numbers_in
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem

RASTER = ("y", "x")
STACK = ("flow", "y", "x")


@dataclass(frozen=True, slots=True)
class Field:
    """One promised field of a stage's Dataset."""

    name: str
    unit: str
    dims: tuple[str, ...]
    meaning: str
    low: float
    high: float
    stage: str


FIELDS: tuple[Field, ...] = (
    Field(
        "bed", "m", RASTER, "Ground height, wet or dry; NaN where unknown.", -500, 9000, "ground"
    ),
    Field("cover", "1", RASTER, "Code of base.words.Cover; 0 unknown.", 0, 8, "ground"),
    Field("roughness", "s/m^(1/3)", RASTER, "Manning's n.", 0.01, 0.5, "ground"),
    Field(
        "surface",
        "m",
        RASTER,
        "Surface model: ground plus what stands on it; NaN where unknown.",
        -500,
        9200,
        "ground",
    ),
    Field("station", "m", RASTER, "Metres downstream along the main line.", -1e4, 1e6, "ground"),
    Field(
        "offset",
        "m",
        RASTER,
        "Metres from the main line, positive to river left.",
        -1e4,
        1e4,
        "ground",
    ),
    Field("confidence", "1", RASTER, "How well the bed is known, 0 to 1.", 0, 1, "ground"),
    Field("line_x", "m", ("vertex",), "Centreline, east.", -1e8, 1e8, "ground"),
    Field("line_y", "m", ("vertex",), "Centreline, north.", -1e8, 1e8, "ground"),
    Field(
        "line_station",
        "m",
        ("vertex",),
        "Metres downstream along the centreline.",
        0,
        1e6,
        "ground",
    ),
    Field("line_width", "m", ("vertex",), "Width between the drawn banks.", 0, 1e4, "ground"),
    Field("level", "m", STACK, "Water-surface height; NaN where not wet.", -500, 9000, "flow"),
    Field("depth", "m", STACK, "Water depth; NaN where not wet.", 0, 60, "flow"),
    Field(
        "east_speed",
        "m/s",
        STACK,
        "Depth-averaged speed towards east; NaN where not wet.",
        -15,
        15,
        "flow",
    ),
    Field(
        "north_speed",
        "m/s",
        STACK,
        "Depth-averaged speed towards north; NaN where not wet.",
        -15,
        15,
        "flow",
    ),
    Field("wet", "1", STACK, "Code of base.words.Wet: no, yes, unknown.", 0, 2, "flow"),
    Field("inflow", "m3/s", ("flow",), "Discharge asked for at the head.", 0, 1e6, "flow"),
    Field("outflow", "m3/s", ("flow",), "Discharge found at the foot.", 0, 1e6, "flow"),
    Field(
        "imbalance",
        "1",
        ("flow",),
        "Worst section's discharge error over the inflow.",
        0,
        1,
        "flow",
    ),
    Field(
        "foot_level", "m", ("flow",), "Water-surface height held at the foot.", -500, 9000, "flow"
    ),
    Field(
        "depth_spread",
        "m",
        STACK,
        "Standard deviation of the depth over the ensemble; NaN where the map has none.",
        0,
        60,
        "doubt",
    ),
    Field(
        "speed_spread",
        "m/s",
        STACK,
        "Standard deviation of the speed over the ensemble; NaN where the map has none.",
        0,
        15,
        "doubt",
    ),
    Field(
        "wet_chance",
        "1",
        STACK,
        "Chance that the cell is wet; NaN where unknown.",
        0,
        1,
        "doubt",
    ),
    Field(
        "suits_chance",
        "1",
        STACK,
        "Chance that depth and speed suit the season's fish, 0 where dry; NaN where unknown.",
        0,
        1,
        "doubt",
    ),
    Field(
        "agreement",
        "1",
        STACK,
        "Chance that depth and speed are about as mapped; NaN where not wet.",
        0,
        1,
        "doubt",
    ),
)
"""Every promised field. `flow` is a coordinate in m3/s; `asked` is its label coordinate."""


def with_labels(flowing: xr.Dataset, units: UnitSystem) -> xr.Dataset:
    """Return a flow stage's Dataset with each flow's label ("2400cfs") as coordinate `asked`."""
    labels = [flow_label(float(flow), units) for flow in flowing["flow"].to_numpy()]
    return flowing.assign_coords(asked=("flow", labels))


def check_fields(dataset: xr.Dataset, stage: str) -> xr.Dataset:
    """Return `dataset` after checking it against the register; units are stamped on.

    Parameters
    ----------
    dataset
        A stage's result.
    stage
        Whose promises it must meet: just these fields, with these dims and ranges.

    Raises
    ------
    ValueError
        If a field is missing, not promised, of other dims, or out of range.
    """
    promised = {field.name: field for field in FIELDS if field.stage == stage}
    found = {str(name) for name in dataset.data_vars}
    wrong = [f"missing {name}" for name in sorted(promised.keys() - found)]
    wrong += [f"not promised: {name}" for name in sorted(found - promised.keys())]
    for name in sorted(promised.keys() & found):
        field, array = promised[name], dataset[name]
        if array.dims != field.dims:
            wrong.append(f"{name} has dims {array.dims}, wants {field.dims}")
        values = numbers_in(array)
        known = values[np.isfinite(values)]
        if known.size and (known.min() < field.low or known.max() > field.high):
            wrong.append(
                f"{name} runs {known.min():g} to {known.max():g}, "
                f"wants {field.low:g} to {field.high:g}"
            )
        array.attrs.update(units=field.unit, long_name=field.meaning)
    if wrong:
        msg = f"{stage}: " + "; ".join(wrong)
        raise ValueError(msg)
    return dataset

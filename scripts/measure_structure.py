"""Tabulate which planted structures are found: python -m scripts.measure_structure [--river NAME].

The river on which the rules were set (`tests/water/structure_river.py`), and two that had no part
in it (`tests/water/planted.py`), each solved at four flows. Printed for each: the share of every
planted structure that is found as its kind, in brackets as any structure, and the share of plain
bed that is taken for some.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.words_runs import StructureKind  # noqa: E402
from reachmap.water.bed_forms import window_of  # noqa: E402
from reachmap.water.lies import lie_odds  # noqa: E402
from reachmap.water.structure import find_structure  # noqa: E402
from reachmap.water.structure_settings import (  # noqa: E402
    BedFormSettings,
    LieSettings,
    StructureSettings,
)
from tests.water import planted, structure_river  # noqa: E402
from tests.water.scenes import as_field  # noqa: E402

Masks = dict[StructureKind, np.ndarray]


def found_masks(
    ground: xr.Dataset,
    flow: xr.Dataset,
    lie_rules: LieSettings | None = None,
    rules: StructureSettings | None = None,
    scales: BedFormSettings | None = None,
) -> Masks:
    """Return the cells of each kind of structure that is found at one flow, on the ground's raster.

    Parameters
    ----------
    ground, flow
        The Datasets, the second with one flow.
    lie_rules, rules, scales
        Numbers of the rules; as shipped if not given.
    """
    lies_by, rules = lie_rules or LieSettings(), rules or StructureSettings()
    field = as_field(ground, flow)
    lies = lie_odds(field, ground, lies_by, scales=scales)
    window = window_of(ground, field)
    masks = {kind: np.zeros(ground["bed"].shape, dtype=bool) for kind in StructureKind}
    for one in find_structure(field, lies, lies_by, rules):
        masks[one.kind][window][one.place] |= one.mask
    return masks


def shares(
    found: Masks, wanted: Mapping[str, planted.Planted], plain: np.ndarray, wet: np.ndarray
) -> dict[str, float]:
    """Return the share found of each planted structure, and of plain bed taken for some.

    Keys are the names, the names with " as any" for any kind of structure, and "plain bed".
    """
    every = np.any(list(found.values()), axis=0)
    told = {}
    for name, (kind, mask) in wanted.items():
        here = mask & wet
        told[name] = float(found[kind][here].mean()) if here.any() else float("nan")
        told[f"{name} as any"] = float(every[here].mean()) if here.any() else float("nan")
    return told | {"plain bed": float(every[plain & wet].mean())}


def table_of(
    ground: xr.Dataset,
    water: xr.Dataset,
    wanted: Mapping[str, planted.Planted],
    plain: np.ndarray,
) -> str:
    """Return the table of one river as Markdown."""
    columns = []
    for number in range(water.sizes["flow"]):
        one = water.isel(flow=[number])
        wet = np.isfinite(one["depth"].to_numpy()[0])
        columns.append(shares(found_masks(ground, one), wanted, plain, wet))
    head = [f"{flow:g} m3/s" for flow in water["flow"].to_numpy()]
    lines = [f"| planted | {' | '.join(head)} |", "|---" * (len(head) + 1) + "|"]
    for name in wanted:
        cells = [f"{one[name]:.2f} ({one[f'{name} as any']:.2f})" for one in columns]
        lines.append(f"| {name} | {' | '.join(cells)} |")
    cells = [f"{one['plain bed']:.3f}" for one in columns]
    return "\n".join([*lines, f"| plain bed | {' | '.join(cells)} |"])


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--river", choices=("set on", *planted.RIVERS))
    asked = parser.parse_args()
    if asked.river in (None, "set on"):
        print("\nThe river the rules were set on, 40 m wide\n")
        ours = structure_river.ground(), structure_river.flows()
        wanted = {str(kind): (kind, mask) for kind, mask in structure_river.planted().items()}
        print(table_of(*ours, wanted, structure_river.plain_bed()))
    for name, river in planted.RIVERS.items():
        if asked.river in (None, name):
            print(f"\n{river.name}\n")
            print(table_of(*planted.solved(name), river.planted(), river.plain_bed()), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Codes of pieces of water: kind and stretch, so that they last over flows and rebuilds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from string import ascii_lowercase
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.base.words import WaterKind

LETTERS: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: "B",
    WaterKind.SEAM: "S",
    WaterKind.TAILOUT: "T",
    WaterKind.SOFT_EDGE: "E",
    WaterKind.EVEN_RUN: "G",
}
"""First sign of a code."""

STRUCTURE_LETTER = "H"
"""First sign of a structure's code: water that holds fish."""


def codes_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the code of each piece of water of one flow, such as "B7", "B7b".

    Parameters
    ----------
    rows
        Of the layer `water`, with kind, stretch and area of the geometry.

    Notes
    -----
    The letter of the kind and the number of the stretch; where a stretch has several of a kind, the
    largest bears the plain code, the others a small letter by size. A stretch keeps its number as
    long as the drawn river line does (`stretches.sections_of`).
    """
    alike: dict[tuple[str, int], list[int]] = {}
    for number, row in enumerate(rows):
        alike.setdefault((str(row["kind"]), int(row["stretch"])), []).append(number)
    codes = [""] * len(rows)
    for (kind, stretch), numbers in alike.items():
        by_size = sorted(numbers, key=lambda k: (-rows[k]["geometry"].area, k))
        for place, number in enumerate(by_size):
            codes[number] = f"{LETTERS[kind]}{stretch}{_suffix(place)}"
    return codes


def _suffix(place: int) -> str:
    """Return the small letter of the piece of that size, from 0: "", "b", "c" to "z", "z27"."""
    if place == 0:
        return ""
    return ascii_lowercase[place] if place < len(ascii_lowercase) else f"z{place + 1}"


NAMING = ("stations", "swings", "tip_ladder", "hazards_near")
"""Layers whose column `water` holds codes of the water; their own codes begin with them."""


def recoded(layers: Mapping[str, gpd.GeoDataFrame]) -> dict[str, gpd.GeoDataFrame]:
    """Return layers over all flows with the codes of the water as its kinds are now.

    Parameters
    ----------
    layers
        `water` and those of `NAMING`, as far as they are there, all flows stacked.
    """
    water = layers["water"]
    codes = np.full(len(water), "", dtype=object)
    for rows in water.groupby("flow_label", observed=True).indices.values():
        records = water.iloc[rows].to_dict("records")
        codes[rows] = codes_of([{str(k): v for k, v in one.items()} for one in records])
    keys = zip(water["flow_label"].astype(str), water["code"].astype(str), strict=True)
    new = dict(zip(keys, codes, strict=True))
    changed = {**layers, "water": water.assign(code=pd.Series(codes, water.index, dtype="str"))}
    for name in NAMING:
        if name in layers and len(layers[name]):
            changed[name] = _renamed(layers[name], new)
    return changed


def _renamed(frame: gpd.GeoDataFrame, new: Mapping[tuple[str, str], str]) -> gpd.GeoDataFrame:
    """Return a layer with the codes of its water, and its own that begin with them, changed."""
    old = list(zip(frame["flow_label"].astype(str), frame["water"].astype(str), strict=True))
    columns = {"water": pd.Series([new[key] for key in old], frame.index, dtype="str")}
    if "code" in frame:
        own = [
            new[key] + str(code).removeprefix(key[1])
            for key, code in zip(old, frame["code"], strict=True)
        ]
        columns["code"] = pd.Series(own, frame.index, dtype="str")
    return frame.assign(**columns)

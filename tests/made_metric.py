"""The sample as a metric folder: the same river, its plain numbers in metres and m3/s."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import geopandas as gpd

from reachmap.base.units import to_si
from reachmap.markup.write import write_layers
from tests.made_waters import SAMPLE

FEET = ("rise", "cover_height", "depth", "bed", "level", "height", "size")
TYPED = {
    "units": '"metric"',
    "traced_flow": "25.5",
    "height": '"1.78 m"',
    "wade_limit": '"0.9 m"',
    "leader": '"1.2 m"',
    "cast_limit": '"26 m"',
}
"""Keys of reach.toml, told anew."""


def make_metric(folder: Path, flows: str = "[20, 35, 60, 120]") -> Path:
    """Write the sample into a folder that is metric throughout.

    Parameters
    ----------
    folder
        Where; it is made.
    flows
        The flows it maps, as reach.toml has them [m3/s].
    """
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("written"))
    drawing = folder / "markup.gpkg"
    known = gpd.list_layers(drawing).dropna(subset="geometry_type")
    layers = {str(name): _metric(gpd.read_file(drawing, layer=name)) for name in known["name"]}
    drawing.unlink()
    write_layers(drawing, layers)
    text = (folder / "reach.toml").read_text(encoding="utf-8")
    for key, value in TYPED.items():
        text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
    text = re.sub(r"(?m)^list = .*$", f"list = {flows}", text)
    text = re.sub(r"(?m)^flow = 620.*$", "flow = 17.6", text)
    text = re.sub(r"(?m)^length = (\d+)$", lambda found: f'length = "{found[1]} ft"', text)
    named = {"floating 10 ft": "floating 3 m", "intermediate 10 ft": "intermediate 3 m"}
    named |= {"type 3 15 ft": "type 3 4.5 m", "T-14 15 ft": "T-14 4.5 m"}
    named |= {f"T-{grade} 10 ft": f"T-{grade} 3 m" for grade in (8, 11, 14)}
    named |= {f"{feet} ft {weight}-weight": f"{weight}-weight" for feet, weight in RODS}
    for old, new in named.items():
        text = text.replace(f'name = "{old}"', f'name = "{new}"')
    (folder / "reach.toml").write_text(text, encoding="utf-8")
    return folder


RODS = ((13, 7), (14, 8), (12, 6))


def _metric(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return a layer with its plain numbers in metric units."""
    units = dict.fromkeys(FEET, "ft") | {"flow": "cfs", "speed": "ft/s"}
    for column, unit in units.items():
        if column in layer:
            layer[column] = to_si(layer[column].to_numpy(dtype=float), unit)
    return layer

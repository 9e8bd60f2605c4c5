"""Four invented waters from the sample: other flows, one closed, one for boats alone."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import geopandas as gpd

from reachmap.markup.write import write_layers

SAMPLE = Path(__file__).resolve().parents[1] / "data_samples" / "madeup_river"

WATERS = """units = "us"

[[water]]
folder = "home_water"
drive = 25

[[water]]
folder = "east_fork"
drive = 50
note = "Invented: the gate is shut at night."

[[water]]
folder = "lower_bends"
drive = 15

[[water]]
folder = "canyon"
drive = 70

[outing]
hours = 5
"""

CLOSED = """from,to,where,rule,source,checked
01-01,05-31,reach,closed,an invented notice,2030-01-20
"""


def make_waters(home: Path, flows: str = "[900, 1300, 1800, 2400, 3200, 5400]") -> Path:
    """Write the four waters into a folder; east_fork runs at half the sample's flow.

    Parameters
    ----------
    home
        The folder.
    flows
        The flows that each maps, as reach.toml has them [cfs].
    """
    home.mkdir(parents=True)
    (home / "waters.toml").write_text(WATERS, encoding="utf-8")
    names = ("Home Water", "East Fork", "Lower Bends", "Canyon")
    for name in names:
        folder = home / name.lower().replace(" ", "_")
        shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("written"))
        text = (folder / "reach.toml").read_text(encoding="utf-8")
        text = text.replace("Made-up River (invented)", f"{name} (invented)")
        text = text.replace("Made-up gauge", f"{name} gauge")
        text = re.sub(r"\nlist = \[.*\]", f"\nlist = {flows}", text)
        (folder / "reach.toml").write_text(text, encoding="utf-8")
    _halve(home / "east_fork" / "gauge" / "flow.csv")
    (home / "lower_bends" / "rules.csv").write_text(CLOSED, encoding="utf-8")
    _boats_only(home / "canyon" / "markup.gpkg")
    return home


def _halve(record: Path) -> None:
    """Halve every flow of a record."""
    lines = record.read_text(encoding="utf-8").splitlines()
    halved = []
    for line in lines:
        when, _, flow = line.partition(",")
        halved.append(f"{when},{float(flow) / 2:g}" if re.fullmatch(r"[\d.]+", flow) else line)
    record.write_text("\n".join(halved) + "\n", encoding="utf-8")


def _boats_only(drawing: Path) -> None:
    """Take every way on foot out of a drawing."""
    known = gpd.list_layers(drawing).dropna(subset="geometry_type")
    layers = {str(name): gpd.read_file(drawing, layer=name) for name in known["name"]}
    access = layers["access"]
    layers["access"] = access[access["kind"] == "landing"].reset_index(drop=True)
    drawing.unlink()
    write_layers(drawing, layers)

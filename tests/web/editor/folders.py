"""Folders and drawings made for tests of the drawing page."""

import json
from pathlib import Path

from reachmap.base.words import UnitSystem
from reachmap.web.editor.schema import read_drawing
from reachmap.web.editor.store import DrawingStore

HOME = (-141.3, 46.2)
"""Far out at sea, where no river is."""


def river(number=1, **values):
    """Return a river mark, as the page sends it."""
    path = [[HOME[0] + 0.001 * i, HOME[1] + 0.0004 * (i % 2)] for i in range(6)]
    filled = {"name": f"Line {number}", "part": "main"} | values
    return mark("river", "LineString", [path], filled, id_=f"new-river-{number}")


def bank(side="left", *, id_="new-bank", **values):
    """Return a bank mark beside the river line."""
    up = 0.0006 if side == "left" else -0.0006
    inner = [[HOME[0] + 0.001 * i, HOME[1] + 0.0002 + up] for i in range(6)]
    outer = [[x, y + up] for x, y in reversed(inner)]
    filled = {
        "side": side,
        "cover": "grass",
        "rise": "6",
        "cover_height": "",
        "name": "",
        "note": "",
    }
    return mark("banks", "Polygon", [inner + outer], filled | values, id_=id_)


def sounding(id_="new-sounding", **values):
    """Return a sounding mark."""
    filled = {"name": "", "depth": "3.5", "flow": "900", "bed": ""} | values
    return mark("soundings", "Point", [[[HOME[0] + 0.002, HOME[1] + 0.0002]]], filled, id_=id_)


def mark(layer, shape, paths, values, *, id_):
    return {"id": id_, "layer": layer, "shape": shape, "paths": paths, "values": values}


def body(marks, version=1, draft=None):
    """Return the message that saves a drawing."""
    return {"version": version, "marks": marks, "draft": draft}


def sent(*marks, version=1, draft=None):
    """Return what a page sent to save marks, read as the server reads it."""
    return read_drawing(json.dumps(body(list(marks), version, draft)).encode())


def plain(path: Path):
    """Return the drawing of a folder as a fresh start of the program finds it, without ids."""
    store = DrawingStore(path, units=UnitSystem.US)
    return [
        (one.mark.layer, one.mark.shape, one.mark.paths, dict(one.mark.values))
        for one in store.kept
    ]


def opened(folder: Path, **more):
    """Return the drawing of a folder, opened."""
    return DrawingStore(folder, units=UnitSystem.US, **more)

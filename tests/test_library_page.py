"""The tutorial of the library does what it says: its blocks run, in order."""

from __future__ import annotations

import logging
import re
from pathlib import Path

import matplotlib as mpl
import pytest

from tests.markup.folders import make

PAGE = Path(__file__).resolve().parents[1] / "docs" / "library.md"


@pytest.mark.compiled
def test_the_blocks_of_the_tutorial_run_in_order(tmp_path, monkeypatch, capsys):
    make(tmp_path / "my_river")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(logging, "basicConfig", lambda **_: None)  # this process's own stays
    blocks = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) >= 7
    names: dict[str, object] = {}
    with mpl.rc_context({"backend": "agg"}):
        for block in blocks:
            exec(compile(block, str(PAGE), "exec"), names)
        mpl.pyplot.close("all")
    for name in ("flow.nc", "depth.tif", "map.png", "map.html", "my_river/written/maps/index.html"):
        assert (tmp_path / name).stat().st_size > 0
    printed = capsys.readouterr().out
    for part in (
        "EPSG:32607",
        "36 m3/s on cells of 2 m, interpolated",
        "(30.0, 45.0)",
        "following the runs",
    ):
        assert part in printed

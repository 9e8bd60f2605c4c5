"""One gravity, as it is printed elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

import scipy.constants

import reachmap
from reachmap.base.physics import GRAVITY


def test_gravity_is_the_standard_one():
    assert scipy.constants.g == GRAVITY


def test_gravity_is_written_in_one_place():
    root = Path(reachmap.__file__).parent
    written = re.compile(r"\b9\.8\d*\b")
    found = [path for path in root.rglob("*.py") if written.search(path.read_text("utf-8"))]
    assert [path.name for path in found] == ["physics.py"]

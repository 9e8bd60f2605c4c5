"""QR codes: patterns, quiet zone and size; what the code itself holds is the library's work."""

from __future__ import annotations

import re

import pytest

from reachmap.outputs.qr import QUIET, qr_svg, qr_text

ADDRESS = "https://river.example.org/home/"


def modules_of(text):
    """Return the dark modules of the terminal's text: two rows of modules a line."""
    rows = []
    for line in text.splitlines():
        rows.append([sign not in "█▀" for sign in line])
        rows.append([sign not in "█▄" for sign in line])
    return rows


def finder(rows, top, left):
    return [row[left : left + 7] for row in rows[top : top + 7]]


FINDER = [
    [True] * 7,
    [True, *[False] * 5, True],
    *[[True, False, True, True, True, False, True]] * 3,
    [True, *[False] * 5, True],
    [True] * 7,
]
"""Position pattern: 7 x 7 modules, dark, light and dark squares of 7, 5 and 3 (ISO/IEC 18004, from
memory)."""


def test_the_text_has_position_patterns_in_three_corners_and_a_quiet_zone():
    rows = modules_of(qr_text(ADDRESS))
    side = len(rows[0]) - 2 * QUIET
    assert side in range(21, 178, 4)  # 17 + 4 times the version
    assert not any(any(row) for row in rows[:QUIET])
    last = QUIET + side - 7
    for top, left in ((QUIET, QUIET), (QUIET, last), (last, QUIET)):
        assert finder(rows, top, left) == FINDER
    assert finder(rows, last, last) != FINDER


def test_the_svg_is_as_large_as_asked_and_fetches_nothing():
    svg = qr_svg(ADDRESS, side_mm=24.0)
    width, height = (
        float(re.search(rf'{name}="([0-9.]+)mm"', svg)[1]) for name in ("width", "height")
    )
    assert (width, height) == (pytest.approx(24.0), pytest.approx(24.0))
    assert svg.startswith("<svg")
    assert "href" not in svg
    assert "<script" not in svg


def test_an_address_is_text_in_the_svg():
    assert "<b>" not in qr_svg('https://example.org/?"<b>')


def test_nothing_has_no_code():
    with pytest.raises(ValueError, match="wants an address"):
        qr_svg("")
    with pytest.raises(ValueError, match="data"):
        qr_text("https://example.org/" + "x" * 5000)

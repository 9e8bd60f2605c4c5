"""Wading grades beside the true river: rows of the table in docs/wading.md, odds as shipped."""

import pytest

from scripts.measure_wading import GUESSED
from scripts.wading_judge import SETTINGS, STALE, Row, maps_of

WRONG = 0.005
"""Largest share of water called easy or careful that is truly beyond the limit."""
WORST_EASY = 1.5
"""Times the limit that water called easy may truly be."""
SHOWN = {"sample": (0.35, 0.65), "bends": (0.25, 0.55)}
"""Least share shown of the truly wadeable and of the truly easy water."""


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(
    ("river", "evidence", "cell"),
    [
        ("sample", "DEM + 25 soundings", 2.0),
        ("bends", "DEM + 25 soundings", 2.0),
        ("ledges", "DEM", 2.0),
        ("ledges", "DEM + 60 soundings", 2.0),
        ("slanted ledges", "DEM + 60 soundings", 2.0),
        ("braided", "DEM + 25 soundings", 2.0),
    ],
)
@pytest.mark.parametrize("settings", [SETTINGS, GUESSED], ids=["read", f"{STALE:g} times"])
def test_hardly_any_water_called_within_the_limits_is_beyond(river, evidence, cell, settings):
    (judges,) = maps_of(river, (cell,), (evidence,))
    row = Row()
    for judge in judges:
        row.add(judge, judge.grade(settings), stale=settings is GUESSED)
    assert row.wrong <= max(WRONG * row.graded, 10)
    assert row.worst_easy <= WORST_EASY
    assert (row.graded == 0) == (river == "braided")
    least = SHOWN.get(river) if settings is SETTINGS else None
    if least:
        assert row.shown > least[0] * row.wadeable
        assert row.easy_shown > least[1] * row.truly_easy


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("evidence", ["edges only", "edges + 20 soundings"])
def test_without_a_terrain_model_nothing_is_easy(evidence):
    (judges,) = maps_of("steep", (2.0,), (evidence,))
    row = Row()
    for judge in judges:
        row.add(judge, judge.grade(SETTINGS), stale=False)
    assert row.easy == 0

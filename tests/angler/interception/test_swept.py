"""What casts cover, against areas and times known exactly."""

import numpy as np
import pytest
from affine import Affine

from reachmap.angler.interception import swept
from reachmap.angler.interception.swept import Swept, Tracks, swept_cells
from reachmap.base.grid import Grid

CRS = "EPSG:32610"


def grid(cell, size=120.0):
    """Return a square grid from (0, 0)."""
    count = round(size / cell)
    return Grid(Affine(cell, 0.0, 0.0, 0.0, -cell, size), (count, count), CRS)


def straight(places=1, *, seconds=20.0, speed=1.0, x0=40.0, record=0.5, quality=1.0):
    """Return tracks that run north at an even speed from y = 40, one beside the other."""
    t = np.arange(0.0, seconds, record)
    x = np.repeat(x0 + np.arange(places)[:, None], t.size, axis=1)
    y = np.repeat((40.0 + speed * t)[None, :], places, axis=0)
    down = np.tile([1.0, 0.0], (places, 1))
    return Tracks(x, y, np.full(x.shape, quality), record, down)


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("radius", [0.4, 0.8, 1.5])
def test_the_fish_seconds_are_those_of_a_disc_whatever_the_cells(cell, radius):
    # fish spread evenly: seconds of view x fish = time x pi r^2 x fish per area
    swept = swept_cells(straight(), grid(cell), radius, bank_m=1.0, step_m=1.0)
    assert swept.seconds.sum() * cell**2 == pytest.approx(20.0 * np.pi * radius**2)


def test_a_fish_in_the_path_sees_the_fly_as_long_as_it_takes_across_the_disc():
    # a strip 2 r wide at 1 m/s: over the strip the mean chord is pi r / 2, so long a fish sees it
    radius, cell = 1.5, 0.25
    swept = swept_cells(straight(record=0.05), grid(cell), radius, bank_m=1.0, step_m=1.0)
    row, col = np.divmod(swept.cell, int(120 / cell))
    middle = np.abs(120.0 - (row + 0.5) * cell - 50.0) < 4.0
    strip = middle & (np.abs((col + 0.5) * cell - 40.0) < radius)
    rows = np.unique(row[middle]).size
    mean = swept.seconds[strip].sum() / (rows * 2 * radius / cell)
    assert mean == pytest.approx(np.pi * radius / 2, rel=0.06)


def test_shorter_steps_are_more_casts_spread_over_the_same_bank():
    one = swept_cells(straight(), grid(1.0), 0.8, bank_m=5.0, step_m=5.0)
    four = swept_cells(straight(), grid(1.0), 0.8, bank_m=5.0, step_m=1.25)
    assert four.seconds.sum() == pytest.approx(4 * one.seconds.sum())
    col = four.cell % 120
    assert col.max() - col.min() >= 3  # 3.75 m from the first cast to the last
    assert float((col + 0.5) @ four.seconds / four.seconds.sum()) == pytest.approx(40.0, abs=0.3)


def test_what_is_swum_badly_counts_less_and_what_is_not_known_not_at_all():
    half = swept_cells(straight(quality=0.5), grid(1.0), 0.8, bank_m=1.0, step_m=1.0)
    full = swept_cells(straight(), grid(1.0), 0.8, bank_m=1.0, step_m=1.0)
    assert half.seconds.sum() == pytest.approx(0.5 * full.seconds.sum())
    tracks = straight()
    tracks.x[0, 20:] = np.nan
    tracks.y[0, 20:] = np.nan
    tracks.quality[0, 30:] = np.nan
    known = swept_cells(tracks, grid(1.0), 0.8, bank_m=1.0, step_m=1.0)
    assert known.seconds.sum() == pytest.approx(0.5 * full.seconds.sum())


def test_what_lies_off_the_map_is_left_out():
    assert swept_cells(straight(x0=-50.0), grid(1.0), 0.8, bank_m=1.0, step_m=1.0).cell.size == 0


def test_the_part_of_some_places_is_what_they_alone_cover():
    whole = swept_cells(straight(places=4), grid(1.0), 0.8, bank_m=1.0, step_m=1.0)
    part = whole.of(np.array([3, 1]))
    assert part.count == 2
    for place, number in enumerate((3, 1)):
        mine, its = part.place == place, whole.place == number
        assert np.array_equal(part.cell[mine], whole.cell[its])
        assert np.array_equal(part.seconds[mine], whole.seconds[its])
    assert whole.of(np.zeros(0, dtype=int)).cell.size == 0


def test_many_places_laid_out_some_at_a_time_cover_what_each_does_alone(monkeypatch):
    whole = swept_cells(straight(5), grid(2.0), 1.0, bank_m=5.0, step_m=1.0)
    monkeypatch.setattr(swept, "PLACES", 2)
    parts = swept_cells(straight(5), grid(2.0), 1.0, bank_m=5.0, step_m=1.0)
    assert np.array_equal(parts.place, whole.place)
    assert set(parts.place.tolist()) == {0, 1, 2, 3, 4}
    assert np.array_equal(parts.cell, whole.cell)
    assert np.array_equal(parts.seconds, whole.seconds)
    assert parts.count == 5


def test_it_comes_back_from_a_dataset_as_it_was():
    whole = swept_cells(straight(places=3), grid(1.0), 0.8, bank_m=1.0, step_m=1.0)
    again = Swept.of_dataset(whole.to_dataset())
    assert np.array_equal(again.place, whole.place)
    assert np.array_equal(again.cell, whole.cell)
    assert again.seconds == pytest.approx(whole.seconds, rel=1e-6)
    assert again.count == 3

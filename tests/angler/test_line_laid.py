"""Lines laid out after the cast, many at once."""

import numpy as np
import pytest

from reachmap.angler.line import lay_out


def laid(link):
    """Return where the nodes of a line lie that is cast due north from a tip 1.2 m up."""
    return lay_out(link[None], np.array([[0.0, 4.0, 1.2]]), np.full(1, np.pi / 2))[0]


def test_the_line_is_laid_out_whole_and_on_the_water():
    link = np.r_[np.full(6, 1.6), np.full(12, 0.6)]
    place = laid(link)
    assert np.linalg.norm(np.diff(place, axis=0), axis=1) == pytest.approx(link)
    assert place[:, 2].min() == 0.0
    assert place[0] == pytest.approx([0.0, 4.0, 1.2])


def test_lines_laid_out_together_lie_as_each_alone():
    short, long = np.full(9, 1.2), np.r_[np.full(6, 1.6), np.full(12, 0.6)]
    link = np.zeros((2, long.size))
    link[0, : short.size], link[1] = short, long
    both = lay_out(link, np.tile([0.0, 4.0, 1.2], (2, 1)), np.full(2, np.pi / 2))
    assert both[0, : short.size + 1] == pytest.approx(laid(short))
    assert both[1] == pytest.approx(laid(long))


def test_each_line_goes_its_own_way_from_its_own_tip():
    link = np.full((2, 5), 1.0)
    tips = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]])
    both = lay_out(link, tips, np.array([0.0, np.pi / 2]))
    assert both[0, -1] == pytest.approx([5.0, 0.0, 0.0])
    assert both[1, -1] == pytest.approx([10.0, 5.0, 0.0])

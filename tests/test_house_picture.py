"""The picture of the house holds every room, in the order that import-linter enforces."""

from __future__ import annotations

import re

from scripts import house


def test_the_picture_shows_every_room_in_its_order():
    drawn = re.findall(r'font-weight="600">(\w+)</text>', house.PICTURE.read_text("utf-8"))
    assert drawn == [room for row in house.floors() for room in row]


def test_every_room_says_what_it_is_in_one_line():
    for row in house.floors():
        for room in row:
            assert 20 <= len(house.purpose(room)) <= 70

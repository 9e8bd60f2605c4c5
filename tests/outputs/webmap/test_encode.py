import base64
import json
import zlib
from html.parser import HTMLParser

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from reachmap.outputs.webmap.encode import (
    differences,
    json_for_script,
    packed,
    packed_rings,
    parent_of,
    quantised,
    unpacked,
    varints,
    zigzag,
)

HOSTILE = "</script><!--<script>{{7*7}}{% raw %}\u2028\u2029&amp;\u202eevil]]>"


def read_varints(data):
    values, value, shift = [], 0, 0
    for byte in data:
        value |= (byte & 127) << shift
        shift += 7
        if not byte & 128:
            values.append(value)
            value = shift = 0
    return values


@pytest.mark.table
@pytest.mark.parametrize(("number", "written"), [(1, "01"), (150, "9601"), (300, "ac02")])
def test_varints_are_those_of_the_published_examples(number, written):
    # Protocol Buffers documentation, "Encoding", base 128 varints: examples 1, 150 (9601) and 300
    # (ac02); from memory.
    assert varints([number]).hex() == written


@pytest.mark.table
def test_zigzag_is_that_of_the_published_table():
    # Protocol Buffers documentation, "Encoding", signed integers; from memory.
    assert zigzag(np.array([0, -1, 1, -2, 2147483647])).tolist() == [0, 1, 2, 3, 4294967294]


@given(st.lists(st.integers(0, 2**40), max_size=60))
def test_varints_read_back_unchanged(values):
    assert read_varints(varints(values)) == values


def test_no_numbers_are_no_bytes():
    assert varints([]) == b""


def test_packed_text_is_zlib_in_base64():
    assert zlib.decompress(base64.b64decode(packed(b"river" * 50))) == b"river" * 50


def test_rings_read_back_unchanged():
    rings = [np.array([[5, -3], [7, 9], [-100000, 4]]), np.array([[0, 0]])]
    values = read_varints(zlib.decompress(base64.b64decode(packed_rings(rings))))
    assert values.pop(0) == 2
    for ring in rings:
        count, place, back = values.pop(0), np.zeros(2, dtype=int), []
        for _ in range(count):
            step = [(v >> 1) ^ -(v & 1) for v in (values.pop(0), values.pop(0))]
            place = place + step
            back.append(place.tolist())
        assert back == ring.tolist()
    assert values == []


def test_points_that_fall_together_are_written_once():
    ring = np.array([[0.0, 0.0], [0.04, 0.0], [1.0, 0.0], [1.0, 1.0]])
    assert quantised(ring, (0.0, 0.0), 0.1).tolist() == [[0, 0], [10, 0], [10, 10]]


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.texts = [], []

    def handle_starttag(self, tag, _):
        self.tags.append(tag)

    def handle_data(self, data):
        self.texts.append(data)


@given(st.text(max_size=200))
def test_json_in_a_script_reads_back_and_never_ends_the_script(text):
    for value in (text, HOSTILE + text):
        written = json_for_script({"name": value})
        reader = Reader()
        reader.feed(f"<script>{written}</script><p>after</p>")
        assert reader.tags == ["script", "p"]
        assert json.loads(written)["name"] == value
        assert not set("<>\u2028\u2029") & set(written)


def test_numbers_that_json_does_not_have_are_refused():
    with pytest.raises(ValueError, match="JSON"):
        json_for_script({"depth": float("nan")})


rasters = st.integers(1, 9).flatmap(
    lambda count: st.lists(arrays(np.uint8, 24), min_size=count, max_size=count)
)


@given(rasters)
def test_differences_add_up_to_the_rasters_they_were_made_of(codes):
    told = [unpacked(text) for text in differences([packed(one.tobytes()) for one in codes])]
    for index, one in enumerate(codes):
        total, at = np.zeros(24, dtype=np.uint8), index
        while at:
            total, at = total + told[at], parent_of(at)
        assert np.array_equal(total + told[0], one)


def test_no_raster_is_many_differences_from_the_first():
    def steps(index):
        return 1 + steps(parent_of(index)) if index else 0

    assert max(steps(index) for index in range(32)) == 5

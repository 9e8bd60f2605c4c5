"""What is sent to other machines is small, and the same to the last bit when it is read back."""

from __future__ import annotations

import pickle
from functools import partial

import numpy as np
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from reachmap.base.packed import packed
from reachmap.flow.engine.serialise import from_bytes, run_serialised, to_bytes
from tests.made import made_ground

SENT = ["bed", "roughness", "station", "offset"]


@given(
    arrays.arrays(
        st.sampled_from([np.float64, np.float32, np.int32, np.uint8]),
        arrays.array_shapes(max_dims=2, min_side=0, max_side=40),
    )
)
def test_any_array_comes_out_as_it_went_in(values):
    back = from_bytes(to_bytes(values))
    assert back.dtype == values.dtype
    assert back.shape == values.shape
    assert back.tobytes() == values.tobytes()
    assert back.flags.writeable


def test_a_ground_is_sent_in_half_its_room_and_arrives_whole():
    """Numbers of double precision and rising cells; what is shared is sent once."""
    ground = packed(made_ground(length=600, slope=0.002, half_width=20, deep=2.0))[SENT]
    body = to_bytes({"ground": ground, "again": ground})
    assert len(body) < 0.5 * len(pickle.dumps({"ground": ground, "again": ground}, protocol=5))
    assert len(body) < 1.2 * len(to_bytes(ground))
    back = from_bytes(body)
    xr.testing.assert_identical(back["ground"].load(), ground.load())
    assert back["again"] is back["ground"]


def test_the_answer_to_a_serialised_task_is_serialised_too():
    answer = run_serialised(partial(np.multiply, 2.0), to_bytes(np.arange(3.0)))
    assert isinstance(answer, bytes)
    assert from_bytes(answer).tolist() == [0.0, 2.0, 4.0]

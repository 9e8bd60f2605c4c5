import subprocess
import sys
import time

import pytest

from reachmap.base.lock import HeldError, holder_of, locked

HOLD = """
import sys, time
from pathlib import Path
from reachmap.base.lock import locked
with locked(Path(sys.argv[1]), "a long walk"):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def other(tmp_path):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path / ".lock")], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout.readline().strip() == "held"
    yield process
    process.kill()
    process.wait()
    process.stdout.close()


def test_the_second_is_told_who_holds_it(tmp_path, other):
    told = rf"a long walk \(process {other.pid} on "
    with pytest.raises(HeldError, match=told), locked(tmp_path / ".lock", "another"):
        pytest.fail("two held it at once")


def test_a_killed_holder_leaves_nothing_locked(tmp_path, other):
    other.kill()
    other.wait()
    with locked(tmp_path / ".lock", "another", wait_s=5):
        assert holder_of(tmp_path / ".lock").doing == "another"
    assert holder_of(tmp_path / ".lock") is None


def test_two_locks_of_one_process_exclude_each_other(tmp_path):
    with locked(tmp_path / ".lock", "first"):
        begun = time.monotonic()
        with pytest.raises(HeldError, match="first"), locked(tmp_path / ".lock", "second"):
            pytest.fail("two held it at once")
        assert time.monotonic() - begun < 5

"""Worker processes end with the process that started them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

PROGRAM = """
import os, time
from reachmap.pipeline.processes import worker_pool

if __name__ == "__main__":
    with worker_pool(2) as pool:
        asleep = [pool.submit(time.sleep, 300) for _ in range(2)]
        while len(pool._processes) < 2 or not all(one.running() for one in asleep):
            time.sleep(0.05)
        time.sleep(1)  # both have begun
        print(*pool._processes, flush=True)
        time.sleep(300)
"""


def is_there(pid):
    """Whether a process runs; one that waits for its parent to take note has ended."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8")
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="no list of processes to look at")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_workers_end_when_their_parent_is_killed(tmp_path, how):
    path = tmp_path / "program.py"
    path.write_text(PROGRAM, encoding="utf-8")
    parent = subprocess.Popen([sys.executable, str(path)], stdout=subprocess.PIPE, text=True)
    workers = [int(word) for word in parent.stdout.readline().split()]
    assert len(workers) == 2
    assert all(map(is_there, workers))
    parent.send_signal(how)
    parent.wait(30)
    parent.stdout.close()
    until = time.monotonic() + 20
    while any(map(is_there, workers)) and time.monotonic() < until:
        time.sleep(0.1)
    left = [pid for pid in workers if is_there(pid)]
    for pid in left:
        os.kill(pid, signal.SIGKILL)
    assert left == []

"""kill -9 in the middle of saving: the drawing is whole, and holds all that was acknowledged."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import geopandas as gpd
import pytest

from reachmap.markup.write import MARKUP_FILE
from reachmap.web.editor.session import prepare
from reachmap.web.editor.store import LOCK
from tests.web.editor.folders import opened

SAVER = Path(__file__).with_name("saver.py")

pytestmark = pytest.mark.slow


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_nothing_is_lost_when_the_program_is_killed_in_mid_save(tmp_path):
    chance, caught, before = random.Random(7), 0, 0
    prepare(tmp_path / "home")
    for _ in range(8):
        last, allowed = _saved_until_killed(tmp_path / "home", chance.uniform(0.15, 0.6))
        left = {path.name for path in (tmp_path / "home").glob(".*")}
        caught += bool({name for name in left if not name.startswith(LOCK)})
        gpd.read_file(tmp_path / "home" / MARKUP_FILE, layer="river")  # whole before we mend it
        store = opened(tmp_path / "home")
        numbers = {
            one.mark.values["name"].removeprefix("Line ")
            for one in store.kept
            if one.mark.layer in ("river", "banks")
        }
        depths = [one.mark.values["depth"] for one in store.kept if one.mark.layer == "soundings"]
        assert len(numbers) == 1, "layers of two different saves in one file"
        assert depths == list(numbers)
        assert int(numbers.pop()) in allowed, "an acknowledged save is gone"
        assert len(store.kept) == 3
        before += last
    assert before > 8, "hardly anything was saved: the test shows nothing"
    assert caught > 0, "no kill fell into a save: the test shows nothing"


def _saved_until_killed(folder, after):
    """Run the saver and kill it; return how many saves it acknowledged and what may be there."""
    before = _number(folder)
    command = [sys.executable, str(SAVER), str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout.readline() == "ready\n"
        said = [running.stdout.readline().strip() for _ in range(2)]  # however busy the computer is
        time.sleep(after)
        running.send_signal(signal.SIGKILL)
        said += running.stdout.read().split()
    last = int(said[-1]) if said else 0
    return last, {last, last + 1} if last else {before, 1}


def _number(folder):
    """Return the number of the save that is in the file, 0 for none."""
    names = gpd.read_file(folder / MARKUP_FILE, layer="river")["name"]
    return int(names.iloc[0].removeprefix("Line ")) if len(names) else 0

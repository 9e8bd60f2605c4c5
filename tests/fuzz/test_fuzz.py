"""Whatever is in a reach folder: exit code 0 or 2, words and no trace, nothing left behind."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.fuzz.cases import make_case

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that part")

RUNS = int(os.environ.get("REACHMAP_FUZZ_RUNS", "500"))


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix != ".gpkg"  # holds the time it was written at
    }


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("seed", [0, 1, 2, 20213])  # the last names two frames, one of no way back
def test_a_seed_makes_the_same_case_again(seed, tmp_path):
    one, other = (make_case(seed, tmp_path / name / "reach") for name in ("a", "b"))
    assert one.done == other.done
    assert bytes_of(tmp_path / "a") == bytes_of(tmp_path / "b")


@pytest.mark.filterwarnings("ignore")
def test_a_trace_a_change_and_a_leftover_are_all_noticed(tmp_path, monkeypatch):
    from tests.fuzz import run

    def spoil(words):
        folder = Path(words[1])
        (folder / "left.txt").write_text("x", encoding="utf-8")
        (folder / "reach.toml").write_text("x", encoding="utf-8")
        os.write(2, b"Traceback (most recent call last):\n")
        return 1

    monkeypatch.setattr(run, "_typed", spoil)
    room = tmp_path / "1"
    (room / "aside").mkdir(parents=True)
    make_case(1, room / "reach")
    codes, wrong = run._one(("check", str(room / "reach")), room)
    assert codes == [1]
    for part in ("ended with 1", "a trace", "left.txt", "it changed ['reach.toml']"):
        assert part in " ".join(wrong)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_no_folder_makes_a_trace(tmp_path):
    from tests.fuzz.run import run_case, warm_up

    warm_up()
    outcomes = [run_case(seed, tmp_path) for seed in range(RUNS)]
    wrong = [f"seed {one.seed} ({one.done}): {one.wrong}" for one in outcomes if one.wrong]
    assert not wrong, "\n".join(wrong)
    codes = {code for one in outcomes for code in one.codes}
    assert codes == {0, 2}  # the cases are neither all good nor all spoilt

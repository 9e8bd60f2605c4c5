"""Runs cases, each in a process of its own, and says what went wrong with any.

A case is well where the command ends with 0 or 2, says no trace, in bearable time and memory, and
leaves the folder's own files as they were and nothing half-written behind.
"""

from __future__ import annotations

import hashlib
import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
import warnings
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz.cases import ONE_FLOW, Case, make_case

MOST_CPU_S = 30
MOST_WAIT_S = 180.0
MOST_BYTES = 2_000_000_000
BUILD_SHARE = 0.06
"""Share of the folders that read well which are built too."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a case came to: exit codes, what is wrong, time of the processor [s], memory [bytes]."""

    seed: int
    done: str
    codes: tuple[int, ...]
    wrong: tuple[str, ...]
    cpu_s: float
    most_bytes: int


def warm_up() -> None:
    """Load what every case needs, once, before processes are parted."""
    from tests.markup.folders import good_files

    good_files()


def run_case(seed: int, home: Path) -> Outcome:
    """Run one case in a process of its own; its folder is removed."""
    room = Path(tempfile.mkdtemp(prefix=f"{seed}-", dir=home))
    child = os.fork()
    if child == 0:
        _in_child(seed, room)
    status, used = _wait(child)
    told = {"done": "", "codes": [], "wrong": ["it ended without a word"]}
    if (room / "told.json").is_file():
        told = json.loads((room / "told.json").read_text(encoding="utf-8"))
    wrong = list(told["wrong"])
    if os.WIFSIGNALED(status):
        wrong.append(f"it was ended by signal {os.WTERMSIG(status)}")
    memory = used.ru_maxrss * 1024
    if memory > MOST_BYTES:
        wrong.append(f"it took {memory / 1e9:.1f} GB")
    shutil.rmtree(room, ignore_errors=True)
    cpu = used.ru_utime + used.ru_stime
    return Outcome(seed, told["done"], tuple(told["codes"]), tuple(wrong), cpu, memory)


def _wait(child: int) -> tuple[int, resource.struct_rusage]:
    """Return how a process ended and what it used; one that waits for ever is ended."""
    until = time.monotonic() + MOST_WAIT_S
    while time.monotonic() < until:
        ended, status, used = os.wait4(child, os.WNOHANG)
        if ended:
            return status, used
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)
    _, status, used = os.wait4(child, 0)
    return status, used


def _in_child(seed: int, room: Path) -> None:
    """Make the case, run it, write down what came of it and end the process."""
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S + 1))
    (room / "aside").mkdir()
    tempfile.tempdir = str(room / "aside")
    told: dict[str, object] = {"done": "", "codes": [], "wrong": []}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with _said_to(room / "making.txt"):
                case = make_case(seed, room / "reach")
            _note(room, {**told, "done": case.done, "wrong": ["it ended in the middle"]})
            told = {"done": case.done, **_run(case, room)}
    except BaseException as error:  # noqa: BLE001 - the fuzzer's own slips must be seen too
        told["wrong"] = [f"the fuzzer itself: {error!r}"]
    _note(room, told)
    os._exit(0)


def _note(room: Path, told: object) -> None:
    (room / "told.json").write_text(json.dumps(told), encoding="utf-8")


def _run(case: Case, room: Path) -> dict[str, object]:
    """Run a case's command, and now and then a build after a check that was content."""
    codes, wrong = _one(case.words, room)
    if codes == [0] and case.words[:1] == ("check",) and case.seed % 100 < BUILD_SHARE * 100:
        build = ("build", str(room / "reach"), "--quick", "--no-ensemble", "--cell", "4")
        more, also = _one((*build, "--flow", ONE_FLOW), room)
        codes, wrong = codes + more, wrong + also
    return {"codes": codes, "wrong": wrong}


def _one(words: tuple[str, ...], room: Path) -> tuple[list[int], list[str]]:
    """Return the exit code of a command and what is wrong with how it went."""
    before = _files(room / "reach")
    said = room / "said.txt"
    with _said_to(said):
        code = _typed(words) if words else _notes(room / "reach")
    text = said.read_text(encoding="utf-8", errors="replace")
    wrong = []
    if code not in (0, 2):
        traces = [path.read_text(encoding="utf-8") for path in (room / "aside").glob("*fault*")]
        wrong.append(f"{words[:1]} ended with {code}: {''.join(traces)[-1500:] or text[-1500:]}")
    if "Traceback" in text:
        wrong.append(f"it said a trace: {text[-1500:]}")
    if len(text) > 100_000:
        wrong.append(f"it said {len(text):,} signs")
    wrong += _left(before, _files(room / "reach"), code, words)
    left = [path.name for path in (room / "aside").iterdir() if "fault" not in path.name]
    if left:
        wrong.append(f"it left {left[:3]} among the temporary files")
    return [code], wrong


LOCK = ".written.lock"
"""Stays beside the written folder once a build has begun; it is empty and means nothing."""


def _left(
    before: dict[str, str], after: dict[str, str], code: int, words: tuple[str, ...]
) -> list[str]:
    """Return what a command changed or left in the folder that it must not."""
    made = {
        name for name in after.keys() - before.keys() - {LOCK}
        if not (code == 0 and words[:1] == ("build",) and name.startswith("written/"))
        and not (code == 0 and words[:1] == ("log",) and name.startswith("log"))
    }  # fmt: skip
    changed = [name for name in before if after.get(name) != before[name]]
    wrong = [f"it left {sorted(made)[:3]}"] if made else []
    return wrong + ([f"it changed {changed[:3]}"] if changed else [])


def _typed(words: tuple[str, ...]) -> int:
    """Return the exit code of a command."""
    from reachmap.cli import main

    sys.argv = ["reachmap", *words]
    try:
        main()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    return 0


def _notes(folder: Path) -> int:
    """Return the exit code of reading notes of clarity and a forecast, without a build."""
    from zoneinfo import ZoneInfo

    from reachmap.cli.say import faults_as_exit_codes
    from reachmap.pipeline.days import clarity_notes, gather, read_forecast

    try:
        with faults_as_exit_codes():
            got = gather(folder, folder.parent / "out")
            clarity_notes(got, [], ZoneInfo("UTC"))
            read_forecast(folder / "forecast.csv", got)
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def _files(folder: Path) -> dict[str, str]:
    """Return the digest of each file of a folder by its name in it."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


class _said_to:  # noqa: N801 - stands in a with statement like a function
    """Send everything a process says, that of compiled libraries too, into a file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __enter__(self) -> None:
        sys.stdout.flush()
        sys.stderr.flush()
        self.kept = [os.dup(1), os.dup(2)]
        target = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.dup2(target, 1)
        os.dup2(target, 2)
        os.close(target)

    def __exit__(self, *_: object) -> None:
        sys.stdout.flush()
        sys.stderr.flush()
        for number, kept in enumerate(self.kept, start=1):
            os.dup2(kept, number)
            os.close(kept)

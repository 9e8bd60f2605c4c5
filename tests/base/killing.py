"""Changes a written folder in child processes, each killed one step later; says what is left.

Run as a program: `python killing.py FOLDER`. A step is a call that changes names on the disk, as
Python's own audit events report it before it is done. Prints one JSON line for each kill.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
from pathlib import Path

from reachmap.base.fingerprint import digest_files
from reachmap.base.generation import begin, change_over, drop
from reachmap.base.writer import one_writer, settle_if_free

STEPS = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "os.chmod", "open"}

OLD = {"maps/index.html": "old", "maps/600cfs.html": "old", "gpx/all.gpx": "old"}
NEW = {"maps/index.html": "new", "maps/900cfs.html": "new", "gpx/all.gpx": "new"}
FOREIGN = {
    "notes.txt": "mine",
    "maps/my-notes.txt": "mine",
    "pictures/one/two.jpg": "mine",
    "cache/ground-1.nc": "stored",
    "days.html": "the coming days",
}


def write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def generation(folder: Path, files: dict[str, str]) -> None:
    write(folder, files)
    listed = digest_files([folder / name for name in files], folder)
    (folder / "report.json").write_text(json.dumps({"files": listed}))


def build(folder: Path) -> None:
    with one_writer(folder, "a build"):
        new = begin(folder)
        try:
            generation(new, NEW)
            change_over(folder)
        finally:
            drop(folder)


def content(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "report.json"
    }


def scene(home: Path) -> Path:
    shutil.rmtree(home, ignore_errors=True)
    folder = home / "written"
    folder.mkdir(parents=True)
    generation(folder, OLD)
    write(folder, FOREIGN)
    return folder


def killed_at(step: int, folder: Path) -> bool:
    """Return whether a build was killed at its step of that number, False if it ended before."""
    child = os.fork()
    if child == 0:
        left = [step]

        def count(event, args):
            changes = event in STEPS and not (
                event == "open" and isinstance(args[1], str) and "r" in args[1]
            )
            if changes and str(folder.parent) in str(args[0]):
                left[0] -= 1
                if left[0] < 0:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(count)
        build(folder)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def main(home: Path) -> None:
    step = 0
    while True:
        folder = scene(home)
        killed = killed_at(step, folder)
        at_once = content(folder) if folder.exists() else None
        settle_if_free(folder)
        with one_writer(folder, "a start"):
            pass
        beside = sorted(path.name for path in home.iterdir())
        line = json.dumps([step, killed, at_once, content(folder), beside])
        sys.stdout.write(f"{line}\n")
        if not killed:
            return
        step += 1


if __name__ == "__main__":
    main(Path(sys.argv[1]))

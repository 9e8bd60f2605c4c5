"""A program that saves without end, for a test that kills it: python saver.py FOLDER.

It says "ready", then the number of every save that was acknowledged.
"""

import itertools
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from reachmap.web.editor.schema import read_drawing
from tests.web.editor.folders import bank, body, opened, river, sounding


def main():
    store = opened(Path(sys.argv[1]))
    print("ready", flush=True)  # noqa: T201
    for number in itertools.count(1):
        marks = [river(number), bank(name=str(number)), sounding(depth=f"{number}")]
        store.save(read_drawing(json.dumps(body(marks, store.version)).encode()))
        print(number, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()

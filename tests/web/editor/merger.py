"""A page's server that saves marks of its own without end: python merger.py FOLDER NAME COUNT.

It adds one mark a save to the drawing as it knows it. Where a save is refused it loads the newer
drawing and tries again, as the page does. It says the name of every mark whose save was
acknowledged, then how many saves were refused.
"""

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from reachmap.web.editor.schema import read_drawing
from reachmap.web.editor.store import StaleError
from tests.web.editor.folders import body, opened, sounding


def main():
    store, name, refused = opened(Path(sys.argv[1])), sys.argv[2], 0
    print("ready", flush=True)  # noqa: T201
    sys.stdin.readline()
    for number in range(int(sys.argv[3])):
        mine = sounding(f"{name}-{number}", name=f"{name}-{number}")
        while True:
            marks = [one.mark.as_json() for one in store.kept]
            message = json.dumps(body([*marks, mine], store.version)).encode()
            try:
                store.save(read_drawing(message))
            except StaleError:
                refused += 1
                store.reload()
            else:
                break
        print(f"{name}-{number}", flush=True)  # noqa: T201
    print(refused, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()

"""Make the sample river anew: python scripts/sample_river.py [--pictures].

Writes data_samples/madeup_river, the reach folder of an invented river, and tests/truth, its true
bed for tests. The same each time: run it again when the flow stage's numbers
change. With --pictures (which needs matplotlib) also those of docs/sample-river.md.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from scripts.sample.folder import make_sample  # noqa: E402
from scripts.sample.tell import told  # noqa: E402


def main() -> int:
    """Write the sample and say what was written."""
    begun = time.monotonic()
    sample, truth = ROOT / "data_samples" / "madeup_river", ROOT / "tests" / "truth"
    water = make_sample(sample, truth)
    for folder in (sample, truth):
        for path in sorted(folder.rglob("*")):
            if path.is_file() and path.suffix not in {".py", ".pyc"}:
                print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1024:.0f} kB")
    if "--pictures" in sys.argv:
        from scripts.sample.pictures import draw_pictures

        draw_pictures(ROOT / "docs" / "pictures", sample, water)
    print(told(water))
    print(f"{water.flows.sizes['flow']} flows worked out, {time.monotonic() - begun:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())

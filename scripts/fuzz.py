"""Spoil reach folders by structure and see that each is told of in words.

``python -m scripts.fuzz --runs 5000 --seed 1`` runs seeds 1 to 5000 and lists what went wrong;
``--only 1234 --keep DIR`` makes one case again and leaves its folder in DIR.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.fuzz.cases import make_case
from tests.fuzz.run import run_case, warm_up


def main() -> int:
    """Run what was asked for; return 1 where something went wrong."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1, help="the first seed")
    asked.add_argument("--only", type=int, help="a seed to make again")
    asked.add_argument("--keep", type=Path, help="a new folder for the case of --only")
    told = asked.parse_args()
    if told.only is not None and told.keep is not None:
        print(make_case(told.only, told.keep))
        return 0
    first, count = (told.seed, told.runs) if told.only is None else (told.only, 1)
    warm_up()
    wrong, cpu, most = 0, 0.0, 0
    codes: dict[tuple[int, ...], int] = {}
    with tempfile.TemporaryDirectory(prefix="reachmap-fuzz-") as home:
        for seed in range(first, first + count):
            outcome = run_case(seed, Path(home))
            codes[outcome.codes] = codes.get(outcome.codes, 0) + 1
            cpu, most = cpu + outcome.cpu_s, max(most, outcome.most_bytes)
            if outcome.wrong:
                wrong += 1
                print(f"seed {seed}: {outcome.done}", *outcome.wrong, sep="\n    ", flush=True)
    print(f"{count} runs, {wrong} went wrong; exit codes {codes}")
    print(f"{cpu / count:.2f} s of processor time each; most memory {most / 1e6:.0f} MB")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())

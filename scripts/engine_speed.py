"""Print the speeds of docs/flow-engine.md, as ratios within one run.

Run from the project's root as `python -m scripts.engine_speed`, or with one of explicit, length,
memory behind it; takes some minutes. Seconds are
processor time of one core.
"""

from __future__ import annotations

import argparse

from benchmarks.bench_engine import Case, apart, engine_seconds, explicit_seconds, peak_bytes
from tests.flow.engine.made_rivers import RIVERS, long_river

LENGTHS = (500, 1000, 2000, 4000, 8000)


def against_explicit() -> None:
    """Print how the engine and its explicit reference compare."""
    print(
        "| river, 2 m cells | active cells | engine s | its distance cm/s | explicit s | its "
        "distance cm/s | times |\n|---|---|---|---|---|---|---|"
    )
    made = {name: RIVERS[name]() for name in ("winding", "steep")}
    rivers = {name: (ground, ground.attrs["flows"][1]) for name, ground in made.items()}
    for name, (ground, flow) in {"gentle, 1 km": (long_river(1000), 35.0), **rivers}.items():
        case = Case(ground, flow)
        final, far = case.converged()
        ours, water = engine_seconds(case)
        theirs, off = explicit_seconds(case, final)
        more = "" if off < 0.01 else "more than "
        print(
            f"| {name}, {flow:g} m3/s | {case.grids[-1][1].count} | {ours:.2f} | "
            f"{100 * apart(water, final):.2f} | {theirs:.0f} | {100 * off:.2f} | "
            f"{more}{theirs / ours:.0f} |{'' if far.solved else ' (converged answer: not quite)'}",
            flush=True,
        )


def by_length() -> None:
    """Print seconds and distance from converged by the river's length."""
    print(
        "| length m | active cells | engine s | s a km | distance cm/s | worst section % | "
        "cycles |\n|---|---|---|---|---|---|---|"
    )
    for length in LENGTHS:
        case = Case(long_river(length), 35.0)
        final, _ = case.converged()
        seconds, water = engine_seconds(case)
        reached = case.solve(case.settings)[1]
        print(
            f"| {length} | {case.grids[-1][1].count} | {seconds:.2f} | "
            f"{1000 * seconds / length:.2f} | {100 * apart(water, final):.2f} | "
            f"{100 * reached.section_error:.2f} | {reached.cycles} |",
            flush=True,
        )


def memory() -> None:
    """Print bytes an active cell."""
    for length in (1000, 4000):
        solve, cut = peak_bytes(Case(long_river(length), 35.0))
        print(
            f"{length} m: solving takes {solve:.0f} bytes an active cell, making the grids "
            f"{cut:.0f} bytes a raster cell"
        )


def main() -> None:
    """Print the tables asked for."""
    tables = {"explicit": against_explicit, "length": by_length, "memory": memory}
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("tables", nargs="*", default=list(tables), help=", ".join(tables))
    for name in asked.parse_args().tables:
        tables[name]()


if __name__ == "__main__":
    main()

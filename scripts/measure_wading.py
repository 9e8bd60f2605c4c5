"""Measure wading grades against true rivers; fit the table of observed chances; write the docs.

    python -m scripts.measure_wading [--rivers A,B] [--cells 2,4] [--evidence "DEM,edges only"]
        [--kept] [--fit] [--write]

Every made river of `scripts/wading_cases.py`, with what an angler may give of it (edges only, 20
soundings besides, a terrain model, 25, 60 and 250 soundings besides, a survey by cross-sections
without and with a terrain model, one and three drives with an echo sounder, a terrain model that
knows the bed under water), at three flows and cells of 2 m, is mapped by the engine and
graded; at cells of 1 m only `FINE`. The truth is the engine's on the true bed at 1 m; what is
counted are the 1 m cells of graded water. `--fit` writes the odds, `--write` puts tables and
picture into docs/wading.md. For each river the grades of the table use odds fitted without it;
without `--fit` the odds as shipped are judged. Where the gauge is stale the
river carries 1.25 times the flow of the map, and the map is made for a guessed gauge.

Solving takes an hour on two cores; set REACHMAP_TRUTH to a folder to keep what was solved. `--kept`
leaves out the maps that were not.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from unittest.mock import patch

import numpy as np
from scipy.optimize import isotonic_regression

from scripts.wading_cases import BED_MODEL, DRIVES
from scripts.wading_judge import ROOT, SETTINGS, STALE, Judge, Row, maps_of, odds

PAGE = ROOT / "docs" / "wading.md"
TABLES = ROOT / "reachmap" / "angler" / "wading_odds.json"
PICTURE = ROOT / "docs" / "pictures" / "wading-reliability.svg"
MARKS = "<!-- measured: {0} begin -->", "<!-- measured: {0} end -->"
GUESSED = replace(SETTINGS, gauge_error=STALE - 1)
EVIDENCE = (
    "edges only",
    "edges + 20 soundings",
    "DEM",
    "DEM + 25 soundings",
    "DEM + 60 soundings",
    "DEM + 250 soundings",
    "edges + sections",
    "DEM + sections",
    *DRIVES,
    BED_MODEL,
)
FINE = {(river, "DEM + 25 soundings") for river in ("sample", "bends")}
"""River and evidence also mapped at cells under `FIT_CELL_M`: all of them would take hours."""
FIT_CELL_M = 2.0
"""Cell of the maps the odds are fitted on [m]."""
STEPS = np.array(
    [0, .01, .02, .03, .04, .05, .06, .07, .08, .09, .1, .115, .13, .145, .16, .18, .2, .225, .25,
     .275, .3, .35, .4, .45, .5]
)  # fmt: skip
"""Steps of the raw chance in which rivers are counted."""
LEAST_CELLS = 40
"""Fewer 1 m cells of a river in a step of chance tell nothing."""

Counts = dict[str, dict[str, np.ndarray]]
"""By table and river: 1 m cells in each step, and those truly beyond, shape (2, steps)."""


def count(counts: Counts, judge: Judge) -> None:
    """Add one flow of one map to the counts."""
    for name, chance, beyond in judge.chances(SETTINGS):
        step = np.digitize(chance, STEPS) - 1
        keep = step < STEPS.size - 1
        found = [
            np.bincount(step[keep & mask], minlength=STEPS.size - 1)
            for mask in (np.ones(beyond.shape, dtype=bool), beyond)
        ]
        by_river = counts.setdefault(name, {})
        by_river[judge.river] = by_river.get(judge.river, 0) + np.array(found)


def fit(by_river: Mapping[str, np.ndarray], *, leave_out: str = "") -> list[tuple[float, float]]:
    """Return raw chances and the share observed beyond, rising together.

    The worst of the rivers counts: by odds half way from their mean to it the river left out had up
    to 1.0 % beyond. Each river's own shares rise with the raw chance: a step of a few cells by
    itself tells nothing. Steps that hold too few cells of every river keep the raw chance.
    """
    middle = (STEPS[1:] + STEPS[:-1]) / 2
    shares, weights = middle.copy(), np.full(middle.size, 0.2)
    own = [rising(*counted) for river, counted in by_river.items() if river != leave_out]
    for number in range(middle.size):
        known = [share[number] for share in own if np.isfinite(share[number])]
        if known:
            shares[number] = max(known)
            weights[number] = len(known)
    told = isotonic_regression(np.minimum(shares, 1.0), weights=weights).x
    knots = zip(middle, told, strict=True)
    return [(0.0, float(told[0])), *((float(raw), float(seen)) for raw, seen in knots)]


def rising(total: np.ndarray, beyond: np.ndarray) -> np.ndarray:
    """Return the share of one river beyond in each step, rising; NaN where it has too few cells."""
    some = total > 0
    share = np.full(total.size, np.nan)
    if some.any():
        share[some] = isotonic_regression(beyond[some] / total[some], weights=total[some]).x
    return np.where(total >= LEAST_CELLS, share, np.nan)


def fitted(counts: Counts, leave_out: str = "") -> dict[str, list[tuple[float, float]]]:
    """Return the table of every class of bed."""
    return {name: fit(by_river, leave_out=leave_out) for name, by_river in counts.items()}


def never_graded(name: str, cell: float) -> str:
    """Return why a river's map is graded by no evidence, "" where it may be (tests hold both)."""
    if cell > odds.COARSE_M:
        return "not graded: large cells"
    return "not graded: braided" if name == "braided" else ""


def rows(
    name: str,
    cells: Sequence[float],
    tables: Mapping[str, Sequence[tuple[float, float]]],
    *,
    given: Sequence[str] = EVIDENCE,
    kept: bool = False,
) -> Iterator[str]:
    """Yield lines of the table of one river and the evidence given, graded with the tables."""
    with patch.object(odds, "tables", lambda: tables):
        for cell in cells:
            if why := never_graded(name, cell):
                yield f"| {name} | each | {cell:g} m | either | {why} | - | - | 0 % | 0 % |"
                continue
            for evidence in given:
                if cell < FIT_CELL_M and (name, evidence) not in FINE:
                    continue
                for judges in maps_of(name, (cell,), (evidence,), kept=kept):
                    for word, settings in (("read", SETTINGS), ("25 % stale", GUESSED)):
                        row = Row()
                        for judge in judges:
                            row.add(judge, judge.grade(settings), stale=settings is GUESSED)
                        line = f"| {name} | {evidence} | {cell:g} m | {word} | {row.cells()} |"
                        print(line, flush=True)
                        yield line


def reliability(counts: Counts) -> Iterator[str]:
    """Yield lines of the reliability table: raw chance against the share truly beyond."""
    edges = [0, 5, 10, 14, 16, 18, 20, 22, 24]
    heads = [f"{STEPS[a]:g}-{STEPS[b]:g}" for a, b in pairwise(edges)]
    yield "| bed | river | " + " | ".join(heads) + " |"
    yield "|---|---|" + "---|" * len(heads)
    for name, by_river in sorted(counts.items()):
        for river, (total, beyond) in sorted(by_river.items()):
            parts = [
                f"{100 * beyond[a:b].sum() / total[a:b].sum():.1f}"
                if total[a:b].sum() >= LEAST_CELLS
                else "-"
                for a, b in pairwise(edges)
            ]
            yield f"| {name} | {river} | " + " | ".join(parts) + " |"


def stated(counts: Counts) -> dict[str, dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]]:
    """Return chances stated, shares observed beyond and cells, by class of bed and river.

    The chance stated is that of odds fitted without the river.
    """
    found: dict[str, dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]] = {}
    for bed, by_river in counts.items():
        for river, (total, beyond) in by_river.items():
            told = np.array([seen for _, seen in fit(by_river, leave_out=river)[1:]])
            use = total >= LEAST_CELLS
            share = beyond[use] / total[use]
            found.setdefault(bed, {})[river] = (told[use], share, total[use])
    return found


def write_tables(counts: Counts) -> None:
    """Write the tables of observed chances."""
    knots = {
        name: [[round(raw, 4), round(seen, 5)] for raw, seen in table]
        for name, table in sorted(fitted(counts).items())
    }
    told = {
        "about": "Raw chance and share of 1 m cells truly beyond the limit on made rivers; written "
        "by scripts/measure_wading.py.",
        "tables": knots,
    }
    TABLES.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


def put(name: str, lines: Sequence[str]) -> None:
    """Put lines between a table's marks in docs/wading.md."""
    begin, end = (mark.format(name) for mark in MARKS)
    head, rest = PAGE.read_text(encoding="utf-8").split(begin)
    tail = rest.split(end)[1]
    text = "\n".join(lines)
    PAGE.write_text(f"{head}{begin}\n{text}\n{end}{tail}", encoding="utf-8")


def main() -> None:
    """Measure, print, and write what is asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--rivers", default="sample,bends,winding,islands,ledges,steep,braided")
    words.add_argument("--cells", default="2,1,4")
    words.add_argument("--evidence", default=",".join(EVIDENCE), help="of the lines printed")
    words.add_argument("--kept", action="store_true", help="only maps that were solved before")
    words.add_argument("--fit", action="store_true")
    words.add_argument("--write", action="store_true")
    asked = words.parse_args()
    rivers, cells = asked.rivers.split(","), [float(cell) for cell in asked.cells.split(",")]
    if not asked.fit:
        for name in rivers:
            given = asked.evidence.split(",")
            list(rows(name, cells, odds.tables(), given=given, kept=asked.kept))
        return
    counts: Counts = {}
    for name in rivers:
        for judges in maps_of(name, (FIT_CELL_M,), EVIDENCE, kept=asked.kept):
            for judge in judges:
                count(counts, judge)
            print(name, len(judges), "flows", flush=True)
    write_tables(counts)
    lines = [
        line for name in rivers for line in rows(name, cells, fitted(counts, name), kept=asked.kept)
    ]
    if asked.write:
        head = [
            "| river | given | cell | gauge | called within, truly beyond | worst, times the limit "
            "| worst easy, cells | truly wadeable shown | truly easy shown |",
            "|---|---|---|---|---|---|---|---|---|",
        ]
        put("grades", [*head, *lines])
        put("reliability", list(reliability(counts)))
        from scripts.picture_wading import draw  # only here: matplotlib belongs to the extra `docs`

        cuts = SETTINGS.easy_chance, SETTINGS.careful_chance
        draw(stated(counts), cuts, PICTURE, title="Each river by odds fitted without it")


if __name__ == "__main__":
    main()

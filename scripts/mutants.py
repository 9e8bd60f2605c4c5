"""Mutation testing: change one operator or number at a time and see whether a test fails.

`python -m scripts.mutants water --number 40 --seed 1` draws 40 changes in `reachmap/water`, runs
`tests/water` on each in a copy of the tree, and prints those that no test noticed. The changes are
those of cosmic-ray (a test dependency); only the choice of them and the running is done here.
"""

from __future__ import annotations

import argparse
import difflib
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("gauge", "ground", "water", "angler", "planner", "outputs")
"""Rooms whose rules matter most to a person on the water."""

KINDS = (
    "ReplaceComparisonOperator",
    "ReplaceBinaryOperator_Add",
    "ReplaceBinaryOperator_Sub",
    "ReplaceBinaryOperator_Mul",
    "ReplaceBinaryOperator_Div",
    "ReplaceUnaryOperator",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "AddNot",
    "NumberReplacer",
)
"""Kinds of change, by how cosmic-ray's operators begin; bit operations are left to masks."""

ODD = ("_Is", "_IsNot", "BitOr", "BitAnd", "BitXor", "LShift", "RShift", "Invert", "Delete")
"""Changes that give nonsense no person would write."""

LIMIT_S = 600
"""A run of the tests longer than this counts as a failure [s]."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the file, the operator of cosmic-ray, and which of its places in the file."""

    path: Path
    operator: str
    occurrence: int


def all_mutants(room: str) -> list[Mutant]:
    """Return every change of a room's modules, settings and package files left out."""
    names = [
        name
        for name in operator_names()
        if name.removeprefix("core/").startswith(KINDS) and not any(odd in name for odd in ODD)
    ]
    found = []
    for path in sorted((ROOT / "reachmap" / room).rglob("*.py")):
        if path.name in ("__init__.py", "palette.py"):
            continue
        tree = list(ast_nodes(get_ast(path.read_text(encoding="utf-8"))))
        for name in names:
            operator = get_operator(name)()
            places = sum(len(list(operator.mutation_positions(node))) for node in tree)
            found += [Mutant(path.relative_to(ROOT), name, place) for place in range(places)]
    return found


def changed(mutant: Mutant) -> tuple[str, str]:
    """Return a module's text before and after a change."""
    before = (ROOT / mutant.path).read_text(encoding="utf-8")
    after = mutate_code(before, get_operator(mutant.operator)(), mutant.occurrence)
    return before, before if after is None else after


def is_noticed(mutant: Mutant, tree: Path, tests: list[str]) -> bool:
    """Return whether the tests fail on a change, made in a copy of the tree and taken back."""
    before, after = changed(mutant)
    place = tree / mutant.path
    place.write_text(after, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider"]
    command += ["-m", "not slow and not browser", *tests]
    environment = os.environ | {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command, cwd=tree, env=environment, capture_output=True, timeout=LIMIT_S
        )
    except subprocess.TimeoutExpired:
        return True
    finally:
        place.write_text(before, encoding="utf-8")
    return done.returncode != 0


def difference(mutant: Mutant) -> Iterator[str]:
    """Yield the lines of a change, with the line's number in the file."""
    before, after = (text.splitlines() for text in changed(mutant))
    for line in difflib.unified_diff(before, after, lineterm="", n=0):
        if not line.startswith(("---", "+++")):
            yield line


def main() -> int:
    """Draw changes, run the tests on each, and print what no test noticed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room", choices=ROOMS)
    parser.add_argument("--number", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="*", help="instead of tests/ROOM")
    asked = parser.parse_args()
    every = all_mutants(asked.room)
    drawn = random.Random(asked.seed).sample(every, min(asked.number, len(every)))
    tests = asked.tests or [f"tests/{asked.room}"]
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        left_out = shutil.ignore_patterns(".git", ".venv", "__pycache__", "written*")
        shutil.copytree(ROOT, tree, ignore=left_out)
        survived = 0
        for number, mutant in enumerate(drawn, start=1):
            begun = time.monotonic()
            noticed = is_noticed(mutant, tree, tests)
            survived += not noticed
            word = "noticed" if noticed else "SURVIVED"
            spent = time.monotonic() - begun
            print(f"{number}/{len(drawn)} {word} {spent:.0f} s {mutant.path} {mutant.operator}")
            if not noticed:
                print("\n".join(f"    {line}" for line in difference(mutant)), flush=True)
    print(f"{asked.room}: {survived} of {len(drawn)} drawn from {len(every)} survived")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""List the numeric constants outside Settings: python -m scripts.constants [--lines] [PATH ...].

Counted is every number in code that is neither in a Settings dataclass nor an integer of at most 2,
an index, a size of an array, a bound of a test of signs or a factor of units. A named constant of a
module counts once, whether physics, geometry or a tunable: reading them tells which.
"""

from __future__ import annotations

import argparse
import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent / "reachmap"
FOLDERS = ("ground", "water", "angler", "doubt", "uncertainty", "planner", "outputs")
PLAIN = {0, 1, 2, -1, 0.5, 100, 1000, 60, 3600, 24, 90, 180, 360, 1e-6, 1e-9, 1e-12, 255}
"""Numbers that mean nothing by themselves: counts, halves, per cent, units of time and angle, and
guards against dividing by zero."""

SKIPPED_CALLS = {"to_si", "from_si", "range", "reshape", "zeros", "ones", "full", "round"}


def constants(path: Path) -> Iterator[tuple[int, str, float]]:
    """Yield line, kind ("module" or "in-line") and value of each constant of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and "Settings" in node.name:
            continue
        named = isinstance(node, (ast.Assign, ast.AnnAssign))
        for number in _numbers(node):
            yield number.lineno, "module" if named else "in-line", number.value


def _numbers(node: ast.AST) -> Iterator[ast.Constant]:
    """Yield the numbers under a node but those that are indexes, sizes and formats."""
    if isinstance(node, (ast.FormattedValue, ast.Subscript)):
        yield from _numbers(node.value)
        return
    if isinstance(node, ast.Call):
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name in SKIPPED_CALLS:
            return
    if isinstance(node, ast.Constant):
        value = node.value
        if isinstance(value, (int, float)) and not isinstance(value, bool) and value not in PLAIN:
            yield node
        return
    for child in ast.iter_child_nodes(node):
        yield from _numbers(child)


def main() -> None:
    """Print how many constants each file has, or each of them."""
    parser = argparse.ArgumentParser(description="List numeric constants outside Settings.")
    parser.add_argument("paths", nargs="*", type=Path)
    parser.add_argument("--lines", action="store_true", help="print each with its line")
    told = parser.parse_args()
    homes = told.paths or [ROOT / name for name in FOLDERS if (ROOT / name).is_dir()]
    files = sorted({file for home in homes for file in [*home.rglob("*.py")] or [home]})
    total: Counter[str] = Counter()
    for path in files:
        found = list(constants(path))
        source = path.read_text(encoding="utf-8").splitlines()
        kinds = Counter(kind for _, kind, _ in found)
        total += kinds
        if found and not told.lines:
            print(f"{path}: {kinds['module']} named, {kinds['in-line']} in-line")
        for line, kind, value in found if told.lines else ():
            print(f"{path}:{line}: {kind} {value:g}  {source[line - 1].strip()}")
    print(f"{total.total()} constants: {total['module']} named, {total['in-line']} in-line")


if __name__ == "__main__":
    main()

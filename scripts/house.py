"""Draw the house: the rooms in the order in which data flows, and who imports whom.

`python -m scripts.house` writes docs/pictures/house.svg from the layers in pyproject.toml and the
imports as they are. A test fails where the picture is older than the layers.
"""

from __future__ import annotations

import ast
import html
import tomllib
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PICTURE = ROOT / "docs" / "pictures" / "house.svg"
WIDE, ROW, LEFT, BOX = 780, 40, 150, 220
"""Width of the picture, height of a row, left edge and width of a box [px]."""

SKIPPED = ("__main__",)


def floors() -> list[list[str]]:
    """Return the rooms by floor, the lowest first, as import-linter holds them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = project["tool"]["importlinter"]["contracts"][0]["layers"]
    rows = [[name.strip() for name in layer.split("|")] for layer in layers]
    return [row for row in reversed(rows) if row[0] not in SKIPPED]


def purpose(room: str) -> str:
    """Return the first line of a room's docstring."""
    tree = ast.parse((ROOT / "reachmap" / room / "__init__.py").read_text(encoding="utf-8"))
    return (ast.get_docstring(tree) or "").split("\n")[0]


def imports() -> Counter[tuple[str, str]]:
    """Return how many modules of a room import from each other room."""
    found: Counter[tuple[str, str]] = Counter()
    for path in sorted((ROOT / "reachmap").rglob("*.py")):
        room = path.relative_to(ROOT / "reachmap").parts[0]
        used = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("reachmap."):
                used.add(str(node.module).split(".")[1])
        found.update((room, other) for other in used if other != room)
    return found


def house() -> str:
    """Return the picture as SVG."""
    rows, counts = floors(), imports()
    place = {room: number for number, row in enumerate(rows) for room in row}
    parts = []
    for (room, other), count in sorted(counts.items()):
        if room not in place or other not in place:
            continue
        low, high = place[other], place[room]
        reach = 8 + 11 * (high - low)
        top, bottom = (30 + (number + 0.5) * ROW for number in (low, high))
        parts.append(
            f'<path d="M{LEFT} {bottom:g}C{LEFT - reach} {bottom:g} {LEFT - reach} {top:g} {LEFT} '
            f'{top:g}" fill="none" stroke="#5b6b73" stroke-opacity=".35" '
            f'stroke-width="{min(0.4 + count / 12, 4):.1f}"><title>{room} imports {other}: '
            f"{count} modules</title></path>"
        )
    for number, row in enumerate(rows):
        wide = (BOX - 8 * (len(row) - 1)) / len(row)
        for index, room in enumerate(row):
            x, y = LEFT + index * (wide + 8), 34 + number * ROW
            parts.append(
                f'<rect x="{x:g}" y="{y}" width="{wide:g}" height="{ROW - 8}" rx="4" '
                f'fill="#eef2ee" stroke="#40524a"/><text x="{x + 10:g}" y="{y + 21}" '
                f'font-weight="600">{room}</text>'
            )
        words = "; ".join(purpose(room) for room in row)
        parts.append(
            f'<text x="{LEFT + BOX + 14}" y="{56 + number * ROW}" font-size="12" '
            f'fill="#40524a">{html.escape(words)}</text>'
        )
    tall = 40 + ROW * len(rows)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {tall}" '
        f'font-family="sans-serif" font-size="14"><rect width="{WIDE}" height="{tall}" '
        f'fill="#fff"/><text x="{LEFT}" y="20" font-size="12">Data flows down; a room imports from '
        f"rooms above it only (left: lines by how many modules do).</text>{''.join(parts)}</svg>\n"
    )


if __name__ == "__main__":
    PICTURE.write_text(house(), encoding="utf-8")
    print(f"Wrote {PICTURE}")

"""Write the list of layers into docs/files.md from the schema: python scripts/layers.py."""

from __future__ import annotations

import math
import sys
from pathlib import Path

from reachmap.base.columns import Column, Layer
from reachmap.base.schema import LAYERS, RUNS_BY_FLOW

TARGET = Path(__file__).resolve().parent.parent / "docs" / "files.md"
BEGIN, END = "<!-- layers: made by scripts/layers.py -->\n", "<!-- end of layers -->\n"


def page() -> str:
    """Return the page with its list of layers made anew."""
    before, _, rest = TARGET.read_text(encoding="utf-8").partition(BEGIN)
    after = rest.partition(END)[2]
    listed = "\n".join(_layer(layer) for layer in (*LAYERS, RUNS_BY_FLOW))
    return f"{before}{BEGIN}\n{listed}\n{END}{after}"


def _layer(layer: Layer) -> str:
    """Return one layer as a heading and a table."""
    head = f"### `{layer.name}`{f' ({layer.geometry})' if layer.geometry else ''}\n\n"
    rows = [_row(column) for column in layer.columns]
    rows += [_row(column, "in the GIS file only") for column in layer.written]
    return (
        f"{head}{layer.meaning}\n\n| column | what it holds | |\n|---|---|---|\n"
        + "\n".join(rows)
        + "\n"
    )


def _row(column: Column, more: str = "") -> str:
    """Return one column as a row."""
    held = str(column.dtype)
    if column.words is not None:
        held = ", ".join(word.value for word in column.words)
    elif column.unit:
        held = "" if column.unit == "1" else column.unit
        bounds = [f"{one:g}" for one in (column.low, column.high) if math.isfinite(one)]
        held = f"{held} {' to '.join(bounds) if len(bounds) == 2 else ''}".strip() or "number"
    return f"| `{column.name}` | {held} | {column.meaning}{f' ({more})' if more else ''} |"


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
    sys.stdout.write(f"Wrote {TARGET}\n")

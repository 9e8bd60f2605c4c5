"""The table of runs by flow as CSV, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.csv_cells import escaped_cell
from reachmap.outputs.product import Product
from reachmap.text.run_table import csv_row


def write_table(product: Product, folder: Path) -> list[Path]:
    """Write runs_by_flow.csv (RFC 4180, SI units in the column names); nothing without a table.

    Below the runs there is a row for each logged name that matches no run.

    A cell that a spreadsheet would interpret as a formula is prefixed with an apostrophe.
    """
    rows = product.report.get("runs_by_flow") or []
    if not rows:
        return []
    stream = io.StringIO()
    writer = csv.DictWriter(stream, [name for name in rows[0] if name != "why_too"])
    writer.writeheader()
    lines = [csv_row(row) for row in rows]
    for row in [*lines, *(product.report.get("log") or {}).get("unplaced", [])]:
        writer.writerow({name: escaped_cell(value) for name, value in row.items()})
    return [
        write_aside(
            folder / "runs_by_flow.csv",
            lambda aside: aside.write_text(stream.getvalue(), encoding="utf-8", newline=""),
        )
    ]

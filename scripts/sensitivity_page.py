"""Write table and picture of docs/sensitivity.md from docs/sensitivity.csv."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import pandas as pd
from matplotlib.axes import Axes

mpl.use("Agg")
import matplotlib.pyplot as plt

DOCS = Path(__file__).resolve().parent.parent / "docs"
PAGE = DOCS / "sensitivity.md"
ENGINE_TABLE = DOCS / "sensitivity-engine.csv"
PICTURE = DOCS / "pictures" / "sensitivity.svg"
MARKS = "<!-- measured: begin -->", "<!-- measured: end -->"
ENGINE_MARKS = "<!-- engine: begin -->", "<!-- engine: end -->"
ALONE = "<!-- alone: begin -->", "<!-- alone: end -->"
HEADS = {
    "waded": "waded [% of the wet area]",
    "soft": "soft water [ha]",
}
"""Outputs of the walks."""
ORDER = "alone_order"
"""What each number alone does to the order of the stretches of bank."""
TOP, NAMED = 10, 6


def write_page(table: pd.DataFrame) -> None:
    """Write the ten numbers that move most and the picture.

    Parameters
    ----------
    table
        From `scripts.sensitivity`: what moves most first, index the number's name.
    """
    page = PAGE.read_text(encoding="utf-8")
    told = [(MARKS, measured(table)), (ALONE, alone(table))]
    if ENGINE_TABLE.exists():
        told.append((ENGINE_MARKS, on_engine(pd.read_csv(ENGINE_TABLE, index_col="number"))))
    for marks, text in told:
        before, _, rest = page.partition(marks[0])
        _, _, after = rest.partition(marks[1])
        page = f"{before}{marks[0]}\n{text}{marks[1]}{after}"
    PAGE.write_text(page, encoding="utf-8")
    draw(table, PICTURE)


def movers_of_order(table: pd.DataFrame) -> pd.DataFrame:
    """Return the numbers that move the order most when moved alone, the first ones first."""
    found = table[table[ORDER].fillna(0.0) > 0]
    return found.sort_values([ORDER], ascending=False, kind="stable").head(TOP)


def alone(table: pd.DataFrame) -> str:
    """Return the table of the ten that move the order most, each alone, as Markdown."""
    lines = [
        "| number | default | range | pairs turned [%] | how it is known |",
        "|---|---|---|---|---|",
    ]
    for name, row in movers_of_order(table).iterrows():
        band = f"{row['low']:.3g} to {row['high']:.3g}"
        cells = [
            f"`{name}`",
            f"{row['default']:.3g}",
            band if row["range"] == "stated" else f"{band}, assumed",
            f"{row[ORDER]:.0f}",
            str(row["known"]),
        ]
        lines.append(f"| {' | '.join(cells)} |")
    tried = table[ORDER].notna()
    still = int((table.loc[tried, ORDER] < 0.5).sum())
    lines += ["", f"Tried: {int(tried.sum())} numbers; {still} of them turn no pair."]
    return "\n".join([*lines, ""])


def on_engine(table: pd.DataFrame) -> str:
    """Return the table of the numbers moved on the engine's water, as Markdown; ones that move."""
    lines = [
        "| number | seams [m] | soft water [ha] | pairs turned [%] |",
        "|---|---|---|---|",
    ]
    moving = table[["seams", "soft", "order"]].round({"seams": 0, "soft": 4, "order": 0})
    moving = moving[(moving > 0).any(axis=1)]
    for name, row in moving.sort_values(["seams", "soft"], ascending=False).iterrows():
        cells = f"{row['seams']:.0f} | {row['soft']:.3f} | {row['order']:.0f}"
        lines.append(f"| `{name}` | {cells} |")
    lines += ["", f"Tried: {len(table)} numbers; {len(table) - len(moving)} of them move nothing."]
    return "\n".join([*lines, ""])


def measured(table: pd.DataFrame) -> str:
    """Return the table of the ten, and the first ten of each output, as Markdown."""
    head = ["number", "default", "range", *HEADS.values(), "how it is known"]
    lines = [f"| {' | '.join(head)} |", f"|{'---|' * len(head)}"]
    for name, row in table.head(TOP).iterrows():
        band = f"{row['low']:.3g} to {row['high']:.3g}"
        cells = [
            f"`{name}`",
            f"{row['default']:.3g}",
            band if row["range"] == "stated" else f"{band}, assumed",
            *(_effect(row, out) for out in HEADS),
            row["known"],
        ]
        lines.append(f"| {' | '.join(cells)} |")
    lines.append("")
    for out, words in HEADS.items():
        first = table[f"mu_star_{out}"].nlargest(TOP)
        named = ", ".join(f"`{name}` {size:.2g}" for name, size in first.items() if size > 0)
        lines += [f"What moves {words} most: {named}.", ""]
    return "\n".join(lines)


def _effect(row: pd.Series, out: str) -> str:
    """Return mu* with its band and sigma; a dash where there is no effect."""
    size, band, spread = (row[f"{head}_{out}"] for head in ("mu_star", "band", "sigma"))
    return f"{size:.2g} ± {band:.1g} ({spread:.2g})" if size > 0 else "-"


def draw(table: pd.DataFrame, path: Path) -> None:
    """Write the picture: a panel an output, mu* against sigma, a mark a number."""
    mpl.rcParams["svg.hashsalt"] = "reachmap"
    figure, panels = plt.subplots(1, len(HEADS), figsize=(13, 4.4), layout="tight")
    for axes, (out, words) in zip(panels, HEADS.items(), strict=True):
        _panel(axes, table[f"mu_star_{out}"], table[f"sigma_{out}"])
        axes.set(title=words, xlabel="mu*: mean size of the effect")
    panels[0].set_ylabel("sigma: spread of the effect")
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)


def _panel(axes: Axes, mean: pd.Series, spread: pd.Series) -> None:
    """Draw one output."""
    most = 1.08 * max(mean.max(), spread.max())
    axes.plot([0, most], [0, most], color="0.6", linewidth=1)
    axes.scatter(mean, spread, s=14, color="C0", linewidth=0)
    first = mean.nlargest(NAMED).index
    for place, name in enumerate(first, 1):
        at = mean[name], spread[name]
        axes.annotate(str(place), at, (4, 3), textcoords="offset points", fontsize=8)
    names = "\n".join(f"{place} {name}" for place, name in enumerate(first, 1))
    axes.text(0.03, 0.97, names, transform=axes.transAxes, va="top", fontsize=8)
    axes.set(xlim=(0, most), ylim=(0, most))

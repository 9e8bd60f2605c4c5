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
PICTURE = DOCS / "pictures" / "sensitivity.svg"
MARKS = "<!-- measured: begin -->", "<!-- measured: end -->"
HEADS = {
    "waded": "graded easy or careful [% of the wet area]",
    "soft": "pieces of water [ha]",
    "order": "pairs out of order [%]",
}
TOP, NAMED = 10, 6


def write_page(table: pd.DataFrame) -> None:
    """Write the ten numbers that move most and the picture.

    Parameters
    ----------
    table
        From `scripts.sensitivity`: what moves most first, index the number's name.
    """
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(MARKS[0])
    _, _, after = rest.partition(MARKS[1])
    PAGE.write_text(f"{before}{MARKS[0]}\n{measured(table)}{MARKS[1]}{after}", encoding="utf-8")
    draw(table, PICTURE)


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
            *(f"{row[f'mu_star_{o}']:.2g} ± {row[f'band_{o}']:.1g} ({row[f'sigma_{o}']:.2g})"
              for o in HEADS),
            row["known"],
        ]  # fmt: skip
        lines.append(f"| {' | '.join(cells)} |")
    lines.append("")
    for out, words in HEADS.items():
        first = table[f"mu_star_{out}"].nlargest(TOP)
        named = ", ".join(f"`{name}` {size:.2g}" for name, size in first.items() if size > 0)
        lines += [f"Most for {words}: {named}.", ""]
    return "\n".join(lines)


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
    for name in mean.nlargest(NAMED).index:
        axes.annotate(
            str(name).split(".", maxsplit=1)[1],
            (mean[name], spread[name]),
            xytext=(-4, 4),
            textcoords="offset points",
            ha="right",
            fontsize=7,
        )
    axes.set(xlim=(0, most), ylim=(0, most))

"""Draw docs/pictures/wading-reliability.svg: the chance stated of water against what was so.

Called by `python -m scripts.measure_wading --fit --write`; needs matplotlib, which is in the extra
`docs`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes

mpl.use("Agg")
import matplotlib.pyplot as plt

LOW, HIGH = 4e-4, 0.7
"""Ends of both axes; no cell beyond is drawn at `LOW`."""

BEDS = {
    "seen": "seen dry",
    "seen under water": "seen under water",
    "sounded": "close to soundings",
    "unseen": "not seen",
}
MARKS = "osv^Dp"

Points = Mapping[str, tuple[np.ndarray, np.ndarray, np.ndarray]]
"""By river: chance stated, share observed beyond, and number of 1 m cells, one each a step."""


def draw(
    points: Mapping[str, Points], cuts: tuple[float, float], path: Path, *, title: str
) -> None:
    """Write the picture: one panel a class of evidence, one mark a river and step of chance.

    Parameters
    ----------
    points
        By class of evidence.
    cuts
        Chances under which water is easy and careful.
    path
        SVG file to write.
    title
        Above the panels.
    """
    mpl.rcParams["svg.hashsalt"] = "reachmap"
    figure, panels = plt.subplots(1, len(BEDS), figsize=(13, 4.2), sharey=True, layout="tight")
    rivers = sorted(
        {river for some in points.values() for river, (_, _, cells) in some.items() if cells.size}
    )
    for axes, (bed, words) in zip(panels, BEDS.items(), strict=True):
        for number, river in enumerate(rivers):
            if river in points.get(bed, {}):
                _marks(axes, points[bed][river], river, number)
        axes.plot([LOW, HIGH], [LOW, HIGH], color="0.4", linewidth=1)
        for cut in cuts:
            axes.axvline(cut, color="0.4", linestyle=":", linewidth=1)
        axes.set(
            title=f"bed {words}", xlabel="chance stated", xscale="log", yscale="log",
            xlim=(LOW, HIGH), ylim=(LOW, HIGH),
        )  # fmt: skip
    panels[0].set_ylabel("share of 1 m cells truly beyond")
    panels[0].legend(loc="upper left", fontsize=8, frameon=False)
    figure.suptitle(title, fontsize=10)
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)


def _marks(
    axes: Axes, river: tuple[np.ndarray, np.ndarray, np.ndarray], name: str, number: int
) -> None:
    stated, observed, cells = river
    size = 8 + 10 * np.log10(np.maximum(cells, 1))
    mark = MARKS[number % len(MARKS)]
    axes.scatter(
        np.maximum(stated, LOW), np.maximum(observed, LOW), s=size, marker=mark, color=f"C{number}",
        alpha=0.75, label=name, linewidth=0, clip_on=False,
    )  # fmt: skip

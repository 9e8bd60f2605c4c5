"""A rating fitted to a reach folder's own discharge measurements, and kept as a gauge file."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.gauge.model import Measured
from reachmap.gauge.rating_fit import FEWEST, RatingFit, choose_rating
from reachmap.markup.gauge_of_folder import FolderGauge
from reachmap.text.gauge import limit_words

FITTED_NAME = "rating-fitted.csv"
"""Where a fitted rating is kept, in the gauge folder."""


def fit_rating(read: FolderGauge) -> tuple[RatingFit, int]:
    """Fit a rating to a folder's own measurements; return it and the number it was fitted to.

    Raises
    ------
    MarkupError
        If there are too few measurements or they hold no rating.
    """
    measured = None if read.gauge is None else read.gauge.measured
    good = _usable(measured)
    number = int(good.sum())
    if measured is None or number < FEWEST:
        found = f"{number} measurements with a stage and a flow, wants {FEWEST} or more"
        fix = "Put yours into gauge/measured.csv with the columns time, stage_ft and flow_cfs"
        raise MarkupError([Fault("the gauge", found, f"{fix} (metric: stage_m, flow_m3s)")])
    try:
        return choose_rating(measured.stage_m[good], measured.flow[good]), number
    except ValueError as error:
        fault = Fault("the measurements", str(error), "Look through them")
        raise MarkupError([fault]) from None


def _usable(measured: Measured | None) -> BoolArray:
    """Return the mask of measurements with a stage and a flow above zero."""
    if measured is None:
        return np.zeros(0, dtype=bool)
    numbers = np.isfinite(measured.stage_m) & np.isfinite(measured.flow)
    return np.asarray(numbers & (measured.flow > 0))


def keep_rating(folder: Path, fit: RatingFit, read: FolderGauge) -> Path:
    """Write a fitted rating as plain CSV in SI, unless another file of the gauge holds a rating.

    Raises
    ------
    MarkupError
        If the gauge has a rating of another file already, or the measurements scatter too far.
    """
    target = folder / "gauge" / FITTED_NAME
    own = target in read.files
    if read.gauge is not None and read.gauge.segments and not own:
        fix = "Take its file out of gauge/ first if you trust your own measurements more"
        raise MarkupError([Fault("the gauge", "it has a rating already", fix)])
    if not fit.usable:
        found = f"the measurements scatter about its curve by {100 * np.expm1(fit.scatter):.0f} %"
        fix = "Look through them for a wrong unit or a changed bed, and measure at more stages"
        raise MarkupError([Fault("the fit", found, fix)])
    rows = [
        f"# Fitted by reachmap on {datetime.now(UTC):%Y-%m-%d} to the measurements in this folder.",
        "# Delete this file to be without it. Each piece is a power law of stage less offset.",
        *(f"# {sentence}" for sentence in limit_words(fit, read.units)),
        "stage_m,flow_m3s,offset_m",
    ]
    for k, piece in enumerate(fit.segments):
        for stage, flow in list(zip(piece.stage_m, piece.flow, strict=True))[0 if k == 0 else 1 :]:
            rows.append(f"{stage:.9f},{flow:.9f},{piece.offset_m:.9f}")
    text = "\n".join(rows) + "\n"
    return write_aside(target, lambda aside: aside.write_text(text, encoding="utf-8", newline="\n"))

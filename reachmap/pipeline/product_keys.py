"""Keys of the parts of a product, for what is held of the outputs between builds."""

from __future__ import annotations

from reachmap.base.digests import fingerprint
from reachmap.markup.model import Markup
from reachmap.pipeline.following import follow_inputs
from reachmap.pipeline.reading import Layers
from reachmap.pipeline.readings import Readings
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.solving import Solved
from reachmap.pipeline.terrain import drawn_digest

OF_RUNS = ("water", "runs")
"""Layers that hold names of runs."""


def product_keys(
    reach: Markup, settings: Settings, solved: Solved, readings: Readings, layers: Layers
) -> dict[str, str]:
    """Return the key of each part of a product, by the words of `outputs.product.PARTS`.

    Parameters
    ----------
    reach, settings, solved, readings
        What the product is made of.
    layers
        Its layers, runs named.
    """
    plan, rungs = reach.plan, solved.rungs
    waters = [readings.keys[label][0] for label in readings.labels]
    return {
        "ground": solved.ground_key,
        "flows": fingerprint(rungs.keys, rungs.labels),
        "doubt": fingerprint(rungs.keys, solved.ensemble.keys, settings.uncertainty),
        "waters": fingerprint(solved.ground_key, rungs.labels, waters, settings.water),
        "layers": fingerprint(follow_inputs(reach, settings, solved, readings)),
        "asks": readings.suggestions_key,
        "drawing": fingerprint(drawn_digest(reach), reach.hazards, reach.access),
        "words": fingerprint(plan.units, plan.locale),
        "names": fingerprint([layers[name]["run"].astype(str).tolist() for name in OF_RUNS]),
    }

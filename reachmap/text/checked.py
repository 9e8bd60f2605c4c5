"""Sentences on a drawing without faults."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.markup.model import Markup
from reachmap.text.built import word_for
from reachmap.text.files import file_lines
from reachmap.text.honest import honest_lines


def checked_lines(
    drawing: Markup, disagreements: Sequence[str], evidence: Sequence[str] = ()
) -> list[str]:
    """Return the lines on a drawing's contents and on what was assumed while reading it.

    Parameters
    ----------
    drawing
        The drawing.
    disagreements
        Sentences on evidence that contradicts other evidence; they come first.
    evidence
        Sentences on evidence used and not used; the folder's files come after them.
    """
    plan = drawing.plan
    return [
        *(f"{word_for(sentence)}: {sentence}" for sentence in disagreements),
        f"{plan.name}: reads well. {drawing.main.line.length:.0f} m of river, "
        f"{len(drawing.banks)} bank polygons, {len(drawing.edges)} seen edges, "
        f"{len(drawing.soundings)} soundings, {_tracks(drawing)}{len(drawing.dems)} DEM files, "
        f"{len(plan.flows)} flows to map.",
        *(f"Note: {one}" for one in drawing.assumed if one not in disagreements),
        *evidence,
        *honest_lines(drawing),
        *file_lines(drawing.files),
    ]


def _tracks(drawing: Markup) -> str:
    """Return how many echo-sounder tracks there are; "" for none."""
    count = len(drawing.tracks)
    return f"{count} echo-sounder track{'' if count == 1 else 's'}, " if count else ""

"""Sentences on a drawing without faults."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.markup.model import Markup
from reachmap.text.built import word_for
from reachmap.text.evidence import counted
from reachmap.text.files import file_lines
from reachmap.text.honest import honest_lines
from reachmap.text.numbers import distance_words


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
    given = [
        (len(drawing.banks), "bank polygon"),
        (len(drawing.edges), "seen edge"),
        (len(drawing.soundings), "sounding"),
        (len(drawing.tracks), "echo-sounder track"),
        (len(drawing.dems), "DEM file"),
    ]
    parts = ", ".join(counted(number, noun) for number, noun in given if number)
    return [
        *(f"{word_for(sentence)}: {sentence}" for sentence in disagreements),
        f"{plan.name}: reads well. {distance_words(drawing.main.line.length, plan.units)} of "
        f"river, {parts}, {counted(len(plan.flows), 'flow')} to map.",
        *(f"Note: {one}" for one in drawing.assumed if one not in disagreements),
        *evidence,
        *honest_lines(drawing),
        *file_lines(drawing.files),
    ]

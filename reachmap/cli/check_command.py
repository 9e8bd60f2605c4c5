"""The command `check`: a reach folder read, with everything to put right and every file of it."""

from __future__ import annotations

from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import ReachFolder


def check(
    folder: ReachFolder,
    suggest: Annotated[
        bool,
        typer.Option("--suggest", help="List the places where one note would help most, too."),
    ] = False,
) -> None:
    """List everything to put right in a reach folder. Or say that it reads well."""
    from reachmap.base.errors import MarkupError
    from reachmap.markup import read_markup
    from reachmap.markup.files import REACH_FILE
    from reachmap.markup.read import files_of
    from reachmap.text.files import not_used_lines

    try:
        drawing = read_markup(folder)
    except MarkupError:
        if (folder / REACH_FILE).is_file():
            say.lines(not_used_lines(files_of(folder)))  # what is missing may lie there unread
        raise
    from reachmap.pipeline.preview_ground import disagreements, preview_evidence, preview_ground
    from reachmap.text.checked import checked_lines

    ground = preview_ground(drawing)
    evidence = preview_evidence(drawing, ground)
    say.lines(checked_lines(drawing, disagreements(drawing, ground), evidence))
    if not suggest:
        say.line(f"Where one note would help most: reachmap check {folder} --suggest")
        return
    from reachmap.pipeline.suggestions import suggested
    from reachmap.text.survey import survey_lines

    places, built = suggested(folder, drawing, ground)
    say.lines(survey_lines(places, drawing.crs, drawing.plan.units, built=built))

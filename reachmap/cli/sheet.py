"""What `reachmap sheet` does: write the pocket sheets alone, on the paper asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reachmap.cli.parts import write_named
from reachmap.outputs.choices import Choices


def write_sheets_of(
    folder: Path, out: Path | None, flows: Sequence[str], *, paper: str, pdf: bool
) -> list[Path]:
    """Write the sheets of a build and return their paths; what is not built is built first.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than DIR/written.
    flows
        Flows as typed; none for all.
    paper
        "half-letter", "a5", or empty for the one that goes with the folder's units.
    pdf
        Whether to make PDFs too.
    """
    return write_named(folder, out, flows, ("sheets",), Choices(paper=paper, pdf=pdf))

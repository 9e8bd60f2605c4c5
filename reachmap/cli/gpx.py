"""What `reachmap gpx` does: write the files for a GPS and a phone alone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reachmap.cli.parts import write_named
from reachmap.outputs.choices import Choices


def write_gpx_of(
    folder: Path, out: Path | None, flows: Sequence[str], *, long_names: bool
) -> list[Path]:
    """Write GPX and KML of a build and return their paths; what is not built is built first.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than DIR/written.
    flows
        Flows as typed; none for all, and a file of all.
    long_names
        Whether names in GPX are in words instead of at most six signs.
    """
    return write_named(folder, out, flows, ("gpx", "kml"), Choices(long_names=long_names))

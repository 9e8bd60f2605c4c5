"""Register of checks of the drawing; each is independent of the others.

To add a check, write a function that takes a `Drawing` and returns its faults, and name it in
`CHECKS`; a function that returns sentences on assumptions goes into `NOTES`. Both must tolerate a
drawing with other faults: a shape or word may be None, a number NaN.
"""

from __future__ import annotations

from collections.abc import Callable

from reachmap.base.errors import Fault
from reachmap.markup import (
    check_banks,
    check_dem,
    check_evidence,
    check_flow,
    check_gauge,
    check_river,
    check_spots,
    check_tributary,
)
from reachmap.markup.drawing import Drawing

Check = Callable[[Drawing], list[Fault]]
Note = Callable[[Drawing], list[str]]

CHECKS: tuple[Check, ...] = (
    check_river.missing_layers,
    check_river.one_main_line,
    check_river.crossing_itself,
    check_river.length,
    check_river.drawn_upstream,
    check_river.side_channels,
    check_river.slope_known,
    check_tributary.tributaries,
    check_banks.both_sides,
    check_banks.on_their_side,
    check_banks.over_the_line,
    check_banks.drawn_twice,
    check_banks.over_each_other,
    check_banks.width,
    check_spots.far_away,
    check_spots.far_tracks,
    check_spots.soundings,
    check_spots.levels_against_dem,
    check_spots.run_names,
    check_dem.coverage,
    check_dem.tiles_agree,
    check_dem.height_unit,
    check_dem.fall,
    check_dem.bank_rise,
    check_dem.datum,
    check_flow.traced_flow,
    check_gauge.flows_rated,
    check_gauge.flows_of_notes,
    check_gauge.zero,
    check_evidence.disagreements,
)
"""Every check, in the order in which faults are listed."""

NOTES: tuple[Note, ...] = (
    check_evidence.doubts,
    check_banks.thin_overlaps,
    check_banks.bare_stretches,
    check_spots.unsized,
    check_dem.unknown_heights,
    check_dem.unsaid,
    check_gauge.unsaid,
)
"""Every note on an assumption."""


def faults_of(drawing: Drawing) -> list[Fault]:
    """Return every fault of the drawing as a whole."""
    return [fault for check in CHECKS for fault in check(drawing)]


def notes_on(drawing: Drawing) -> list[str]:
    """Return the notes for the angler on a drawing without faults."""
    return [sentence for note in NOTES for sentence in note(drawing)]

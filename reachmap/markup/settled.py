"""The use made of every file, once all have been read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from reachmap.gauge.read import GaugeContent
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found

GAUGED = {
    GaugeContent.RATING: Use.RATING,
    GaugeContent.RECORD: Use.RECORD,
    GaugeContent.MEASURED: Use.MEASURED,
}


def settled(
    found: Sequence[Found],
    folder: Path,
    drawn: Iterable[FileFact],
    terrain: Iterable[FileFact],
    sounded: Iterable[FileFact],
    contents: Mapping[Path, tuple[GaugeContent, ...]],
) -> tuple[FileFact, ...]:
    """Return a fact for each file of the folder, in the order of their names.

    Parameters
    ----------
    found
        The files and their likely use.
    folder
        The reach folder.
    drawn, terrain, sounded
        Facts from the readers of drawings, heights and depths. A file that one of them used counts
        as used, whatever the others report.
    contents
        Contents of each gauge file.
    """
    facts = {one.fact.name: one.fact for one in found}
    for said in (*terrain, *drawn, *sounded):
        before = facts.get(said.name)
        drawn_too = before is not None and before.use is Use.DRAWING and bool(before.detail)
        if said.use is Use.NOTHING and drawn_too:
            continue
        facts[said.name] = said
    for path, things in contents.items():
        name = path.relative_to(folder).as_posix()
        facts[name] = _gauged(facts.get(name, FileFact(name, Use.GAUGE)), things)
    return tuple(facts[name] for name in sorted(facts))


def _gauged(fact: FileFact, things: tuple[GaugeContent, ...]) -> FileFact:
    """Return the use of a gauge file."""
    uses = [GAUGED[one] for one in things if one in GAUGED]
    if uses:
        more = ", ".join(str(use) for use in uses[1:])
        return replace(fact, use=uses[0], detail=more)
    why = Unused.SECOND_RATING if GaugeContent.SECOND_RATING in things else Unused.NOTHING_IN_IT
    return replace(fact, use=Use.NOTHING, why=why)

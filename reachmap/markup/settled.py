"""What became of every file, once all were read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from reachmap.gauge.read import Gave
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found

GAUGED = {Gave.RATING: Use.RATING, Gave.RECORD: Use.RECORD, Gave.MEASURED: Use.MEASURED}


def settled(
    found: Sequence[Found],
    folder: Path,
    drawn: Iterable[FileFact],
    terrain: Iterable[FileFact],
    sounded: Iterable[FileFact],
    gave: Mapping[Path, tuple[Gave, ...]],
) -> tuple[FileFact, ...]:
    """Return a fact for each file of the folder, in the order of their names.

    Parameters
    ----------
    found
        The files and what they would be used for.
    folder
        The reach folder.
    drawn, terrain, sounded
        What the readers of drawings, heights and depths made of theirs. A file that one of them
        used is used, whatever another says of it.
    gave
        What each gauge file gave.
    """
    facts = {one.fact.name: one.fact for one in found}
    for said in (*terrain, *drawn, *sounded):
        before = facts.get(said.name)
        drawn_too = before is not None and before.use is Use.DRAWING and bool(before.detail)
        if said.use is Use.NOTHING and drawn_too:
            continue
        facts[said.name] = said
    for path, things in gave.items():
        name = path.relative_to(folder).as_posix()
        facts[name] = _gauged(facts.get(name, FileFact(name, Use.GAUGE)), things)
    return tuple(facts[name] for name in sorted(facts))


def _gauged(fact: FileFact, things: tuple[Gave, ...]) -> FileFact:
    """Return what a gauge file was used for."""
    uses = [GAUGED[one] for one in things if one in GAUGED]
    if uses:
        more = ", ".join(str(use) for use in uses[1:])
        return replace(fact, use=uses[0], detail=more)
    why = Unused.SECOND_RATING if Gave.SECOND_RATING in things else Unused.NOTHING_IN_IT
    return replace(fact, use=Use.NOTHING, why=why)

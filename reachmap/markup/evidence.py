"""Findings on contradictory evidence: their severity, and those the angler accepted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from reachmap.base.errors import DISAGREES, Fault

UNLIKELY, ACCEPTED = "Evidence to look at: ", "Taken as right, as [evidence] accept says"
"""First words of a note on doubtful evidence, and of one on evidence declared right."""

TOPICS: Mapping[str, str] = {
    "soundings": "depths against the flow, and against each other",
    "edges": "edges at several flows: wider and higher with more flow",
    "traced_flow": "the flow of the traced banks against edges and DEM",
    "dem": "unit and fall of the DEM's heights",
    "flights": "flights of the DEM on different days, against each other",
    "decks": "walls across the DEM's water",
    "side_channels": "side lines against the DEM's ground",
    "rating": "levels along the reach against the gauge's rating",
    "slope": "fall against width and flow",
}
"""Topics that can be declared right under [evidence] accept, and what each covers."""


class Weight(StrEnum):
    """Severity of a finding: stops a build, is a warning, or is a note."""

    STOP = "stop"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """Two contradictory pieces of evidence.

    Parameters
    ----------
    topic
        One of `TOPICS`.
    weight
        Its severity.
    fault
        Where it is, what was found (both values), the probable cause and the remedy.
    """

    topic: str
    weight: Weight
    fault: Fault


@dataclass(frozen=True, slots=True)
class Settled:
    """Findings by severity: faults that stop a build, and sentences, warnings first."""

    faults: tuple[Fault, ...]
    sentences: tuple[str, ...]


def settle(findings: Iterable[Finding], accepted: Iterable[str]) -> Settled:
    """Return findings as faults that stop and sentences; accepted ones become notes.

    Parameters
    ----------
    findings
        In the order in which they are to be listed.
    accepted
        Topics declared right in reach.toml.
    """
    taken = frozenset(accepted)
    faults: list[Fault] = []
    warnings: list[str] = []
    notes: list[str] = []
    for one in findings:
        fault = one.fault
        if one.topic in taken:
            notes.append(f"{ACCEPTED} ({one.topic}): {fault.where}: {fault.found}.")
        elif one.weight is Weight.STOP:
            faults.append(Fault(fault.where, fault.found, f"{fault.fix}. {_unless(one.topic)}"))
        elif one.weight is Weight.WARNING:
            warnings.append(f"{DISAGREES}{fault}. {_unless(one.topic)}.")
        else:
            notes.append(f"{UNLIKELY}{fault}.")
    return Settled(tuple(faults), (*warnings, *notes))


def of_evidence(sentences: Iterable[str]) -> list[str]:
    """Return the sentences on contradictory evidence, warnings first."""
    begin = (DISAGREES, UNLIKELY, ACCEPTED)
    return warnings_first(one for one in sentences if one.startswith(begin))


def warnings_first(sentences: Iterable[str]) -> list[str]:
    """Return sentences with those on contradictory evidence first, order kept otherwise."""
    return sorted(sentences, key=lambda one: not one.startswith(DISAGREES))


def _unless(topic: str) -> str:
    """Return how to declare a finding right."""
    return f'If it is right as it stands, say so in reach.toml: [evidence] accept = ["{topic}"]'

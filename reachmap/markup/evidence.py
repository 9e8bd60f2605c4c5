"""Findings on evidence that contradicts other evidence: how much they weigh, what was accepted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from reachmap.base.errors import DISAGREES, Fault

UNLIKELY, ACCEPTED = "Evidence to look at: ", "Taken as right, as [evidence] accept says"
"""Begin a note on evidence that may be right, and one on evidence that the angler declared so."""

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
"""What the angler can declare right under [evidence] accept, and what each covers."""


class Weight(StrEnum):
    """What a finding does: stops a build, warns at the top, or stands among the notes."""

    STOP = "stop"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """Two pieces of evidence that disagree.

    Parameters
    ----------
    topic
        One of `TOPICS`.
    weight
        How much it matters.
    fault
        Where it is, what was found (both values), what it probably is and how to mend it.
    """

    topic: str
    weight: Weight
    fault: Fault


@dataclass(frozen=True, slots=True)
class Settled:
    """Findings sorted by what they do: faults that stop, and sentences, warnings first."""

    faults: tuple[Fault, ...]
    sentences: tuple[str, ...]


def settle(findings: Iterable[Finding], accepted: Iterable[str]) -> Settled:
    """Return findings as faults that stop and as sentences; accepted ones never stop or warn.

    Parameters
    ----------
    findings
        In the order in which they shall be listed.
    accepted
        Topics that reach.toml declares right.
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
    """Return the sentences that speak of evidence against evidence, warnings first."""
    begin = (DISAGREES, UNLIKELY, ACCEPTED)
    return warnings_first(one for one in sentences if one.startswith(begin))


def warnings_first(sentences: Iterable[str]) -> list[str]:
    """Return sentences with those on evidence that disagrees before all others, order kept."""
    return sorted(sentences, key=lambda one: not one.startswith(DISAGREES))


def _unless(topic: str) -> str:
    """Return how to declare a finding right."""
    return f'If it is right as it stands, say so in reach.toml: [evidence] accept = ["{topic}"]'

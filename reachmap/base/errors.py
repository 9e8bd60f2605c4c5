"""Faults and the exceptions that list them: where each is, what was found, how to mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reachmap.base.terminal_text import printable

DISAGREES = "Evidence disagrees: "
"""Begins each warning of two pieces of evidence that cannot both be right."""

MOST_LISTED = 20
"""Faults a message lists in full (our choice: a screen of a terminal); it counts the others."""

MOST_CHARACTERS = 600
"""Longest line of a fault in a message (our choice); longer ones are cut in the middle."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to put right: where it is, what was found, how to mend it."""

    where: str
    found: str
    fix: str

    def __str__(self) -> str:
        """Return the fault as one line, control characters shown as escapes."""
        return printable(f"{self.where}: {self.found}. {self.fix}")


@dataclass(frozen=True, slots=True)
class FlowFault(Fault):
    """A fault of one flow [m3/s]; `where` names it, in SI below the pipeline."""

    flow: float


class ReachmapError(Exception):
    """Something the angler can mend; shown without a traceback, exit code 2."""


class FaultsError(ReachmapError):
    """A list of faults under one heading; the message lists the first, `faults` holds all."""

    heading = "to put right"

    def __init__(self, faults: Sequence[Fault]) -> None:
        """Keep the faults and make the message: the first in full, the number of the others."""
        self.faults = tuple(faults)
        number = len(self.faults)
        things = "1 thing" if number == 1 else f"{number} things"
        lines = [f"{things} {self.heading}:"]
        shown = self.faults[:MOST_LISTED]
        lines += [f"  {index}. {_cut(str(fault))}" for index, fault in enumerate(shown, start=1)]
        if number > len(shown):
            lines.append(f"  and {number - len(shown):,} more like these")
        super().__init__("\n".join(lines))

    def __reduce__(self) -> tuple[type[FaultsError], tuple[tuple[Fault, ...]]]:
        """Return how to make it again: it may have been raised in another process."""
        return type(self), (self.faults,)


def _cut(text: str) -> str:
    """Return a line no longer than `MOST_CHARACTERS`, its middle left out."""
    half = MOST_CHARACTERS // 2
    return text if len(text) <= MOST_CHARACTERS else f"{text[:half]} ... {text[-half:]}"


class MarkupError(FaultsError):
    """Faults in the reach folder: drawing, reach.toml, DEM or gauge files."""

    heading = "to put right in the reach folder"


class BuildError(FaultsError):
    """The folder reads well, but no honest map can be made from it."""

    heading = "in the way of a map"

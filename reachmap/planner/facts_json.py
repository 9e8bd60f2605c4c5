"""The facts of a built reach as JSON, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from reachmap.angler.fly import FlyRow
from reachmap.planner.facts import VERSION, ReachFacts, RunAt, RunFacts


def facts_text(facts: ReachFacts) -> str:
    """Return facts as JSON (with NaN and Infinity, which Python's reader accepts)."""
    return json.dumps({"version": VERSION, **asdict(facts)})


def facts_from(text: str) -> ReachFacts | None:
    """Return facts from their JSON; None where it is of another version."""
    values = json.loads(text)
    if values.pop("version", None) != VERSION:
        return None
    runs = tuple(_run_from(run) for run in values["runs"])
    flies = tuple(FlyRow(**row) for row in values["flies"])
    return ReachFacts(**_tuples({**values, "runs": runs, "flies": flies}))


def _run_from(values: Mapping[str, Any]) -> RunFacts:
    """Return a run from its JSON."""
    at = tuple(RunAt(**_tuples(one)) for one in values["at"])
    return RunFacts(**{**values, "at": at})


def _tuples(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values with lists as tuples."""
    return {name: tuple(v) if isinstance(v, list) else v for name, v in values.items()}

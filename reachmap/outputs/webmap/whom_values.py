"""Who may fish the map, for the page's script: what differs from the folder's own list."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from reachmap.markup.plan_parts import Outing
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.runs import Run, RunWater, runs_by_flow
from reachmap.outputs.whom import Whom
from reachmap.text.whom import FORM, WHOM, bank_of

Values = list[dict[str, Any]]
"""Runs as `run_values` returns them."""


@dataclass(frozen=True, slots=True)
class WhomRuns:
    """The runs as they are for one who may fish the map."""

    whom: Whom
    runs: tuple[Run, ...]


def everyone(product: Product, held: RunWater, runs: tuple[Run, ...]) -> tuple[WhomRuns, ...]:
    """Return the runs for everyone who may fish the map, the folder's own first.

    Parameters
    ----------
    product
        The built reach.
    held
        What its runs are told from.
    runs
        Those of the folder's own list.

    Returns
    -------
    tuple
        Empty where nothing is known of others.
    """
    if product.whom is None:
        return ()
    own, *others = product.whom()
    found = [WhomRuns(own, runs)]
    for one in others:
        layers = {**product.layers, "runs": one.runs}
        theirs = replace(product, runs=one.table, layers=layers, cards=one.cards)
        found.append(WhomRuns(one, runs_by_flow(theirs, held, runs)))
    return tuple(found)


def outing_values(outing: Outing) -> dict[str, Any]:
    """Return who fishes as the page's script takes it."""
    return {"boat": outing.boat, "bank": bank_of(outing), "hours": outing.hours}


def whom_values(
    everybody: Sequence[WhomRuns],
    labels: Sequence[str],
    own: Values,
    values: Callable[[Sequence[Run]], Values],
) -> dict[str, Any] | None:
    """Return what the script makes other lists from; None where nothing is known of others.

    Parameters
    ----------
    everybody
        From `everyone`.
    labels
        Names of the page's flows, rising.
    own
        The runs of the folder's list as plain values.
    values
        Gives runs as plain values.

    Returns
    -------
    dict
        `own` who the folder says, `rules` by which a list is cut, and in `all` for each who has
        another score: `boat`, `bank`, and by run what differs from the folder's values: of the run
        itself (`run`), and at each flow (`at`). `go` there is what the list is cut from: worth,
        station [m], bank and minutes; none where one cannot go.
    """
    if not everybody:
        return None
    first = everybody[0].whom
    rules = asdict(first.rules)
    return {
        "own": outing_values(first.outing),
        "rules": {name: rules[name] for name in ("most", "least", "worth_share", "between_min")},
        "all": [
            {
                "boat": one.whom.outing.boat,
                "bank": "" if one.whom.outing.bank is None else one.whom.outing.bank.value,
                "go": _go(one.whom, labels, [run.name for run in one.runs]),
                "runs": [
                    _beside(mine, theirs)
                    for mine, theirs in zip(own, values(one.runs), strict=True)
                ],
            }
            for one in everybody
        ],
    }


def whom_say() -> dict[str, Any]:
    """Return the words of who fishes, as the page's script takes them."""
    return {"parts": dict(WHOM), "form": dict(FORM)}


def _go(whom: Whom, labels: Sequence[str], names: Sequence[str]) -> list[list[list[Any]]]:
    """Return at each flow the runs one can go to: their place among `names`, and what counts."""
    run_of = whom.table["run"].astype(str).to_numpy()
    place = {name: number for number, name in enumerate(names)}
    return [
        [
            [
                place[run_of[one.row]],
                _short(one.worth),
                round(one.station, 1),
                str(one.side),
                _short(one.minutes),
            ]
            for one in whom.choices.get(label, ())
        ]
        for label in labels
    ]


def _short(value: float) -> float | None:
    """Return a number with six digits that count; None where it is not known."""
    return float(f"{value:.6g}") if math.isfinite(value) else None


def _beside(own: Mapping[str, Any], theirs: Mapping[str, Any]) -> dict[str, Any]:
    """Return what differs between a run's values: its own, and those at each flow."""
    found: dict[str, Any] = {}
    run = _differing(own, theirs, skip="at")
    if run:
        found["run"] = run
    at = {
        number: differs
        for number, (mine, other) in enumerate(zip(own["at"], theirs["at"], strict=True))
        if (differs := _differing(mine, other, skip="pick"))
    }
    if at:
        found["at"] = at
    return found


def _differing(own: Mapping[str, Any], theirs: Mapping[str, Any], *, skip: str) -> dict[str, Any]:
    """Return the values that are not the same, but for one."""
    return {name: value for name, value in theirs.items() if name != skip and value != own[name]}

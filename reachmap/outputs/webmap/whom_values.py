"""Runs for other outings, as differences from the folder's own, for the page's script."""

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
    """The runs for one outing."""

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
        The runs of the folder's own outing.

    Returns
    -------
    tuple
        Empty where other outings are unknown.
    """
    if product.whom is None:
        return ()
    own, *others = product.whom()
    found = [WhomRuns(own, runs)]
    for one in others:
        layers = {**product.layers, "runs": one.runs}
        theirs = replace(product, runs=one.table, layers=layers, cards=one.cards, keys={})
        found.append(WhomRuns(one, runs_by_flow(theirs, held, runs)))
    return tuple(found)


def outing_values(outing: Outing) -> dict[str, Any]:
    """Return an outing as plain values for the page's script."""
    return {"boat": outing.boat, "bank": bank_of(outing), "hours": outing.hours}


def whom_values(
    everybody: Sequence[WhomRuns],
    labels: Sequence[str],
    own: Values,
    values: Callable[[Sequence[Run]], Values],
) -> dict[str, Any] | None:
    """Return the data from which the script derives other lists; None where they are unknown.

    Parameters
    ----------
    everybody
        From `everyone`.
    labels
        Labels of the page's flows, ascending.
    own
        The runs of the folder's list as plain values.
    values
        Converts runs to plain values.

    Returns
    -------
    dict
        `own` is the folder's outing, `rules` those of the short list, and `all` has for each outing
        with other scores: `boat`, `bank`, and by run the differences from the folder's values: of
        the run itself (`run`), and at each flow (`at`). `go` are the candidates of the short list:
        worth, station [m], bank and minutes; runs that cannot be reached are left out.
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
                    _differences(mine, theirs)
                    for mine, theirs in zip(own, values(one.runs), strict=True)
                ],
            }
            for one in everybody
        ],
    }


def whom_say() -> dict[str, Any]:
    """Return the texts on outings for the page's script."""
    return {"parts": dict(WHOM), "form": dict(FORM)}


def _go(whom: Whom, labels: Sequence[str], names: Sequence[str]) -> list[list[list[Any]]]:
    """Return the reachable runs at each flow: their index in `names`, and the ranking values."""
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
    """Return a number with six significant digits; None where unknown."""
    return float(f"{value:.6g}") if math.isfinite(value) else None


def _differences(own: Mapping[str, Any], theirs: Mapping[str, Any]) -> dict[str, Any]:
    """Return the differences between a run's values: its own, and those at each flow."""
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
    """Return the values that differ, except the one named `skip`."""
    return {name: value for name, value in theirs.items() if name != skip and value != own[name]}

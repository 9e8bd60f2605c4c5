"""The terms of the wading grades: person, limits, rule and margins, as lines for all outputs.

The build's report holds the facts as `wading_terms` in SI; the sentences are made here alone, so
that page, sheet, card and file cannot disagree.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reachmap.base.language import noted, number_text, tr, tr_count
from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem
from reachmap.text.angler_text import clean_text

KEY = "wading_terms"
"""Name of the facts in the report."""

RULE_NOT_KNOWN = noted("Graded by a rule not known: treat every grade as unknown.")
"""Line for a product without the facts, or without all of them."""

MARGINS_OFF = noted("MARGINS SWITCHED OFF BY YOU")
"""Begin of the marked line, on every output where a margin is off."""

NOTHING_EASY = noted("Nothing is graded easy: the bed is a guess.")
CHANCES_NOT_KNOWN = noted(
    "What chance 'easy' and 'careful' leave is not known: treat both as unknown."
)

GAUGE = {
    "stale": noted("The gauge was last read long ago: read it again before you trust a grade."),
    "guessed": noted("The flow was guessed, not read: read the gauge before you trust a grade."),
}
"""Sentences by state of the gauge; a gauge that was read needs none."""

LONGEST_WORDS = 200
"""Longest name or reason from the settings [characters]; the rest is cut (our choice)."""

LONGEST_MARK = 400
"""Length of all reasons in the marked line [characters] (our choice: what a hand-held unit
shows)."""

PRODUCT_UNIT = {UnitSystem.US: "ft2/s", UnitSystem.METRIC: "m2/s"}


@dataclass(frozen=True, slots=True)
class Terms:
    """Sentences on the grading of one product, plain text.

    Parameters
    ----------
    graded
        The person, the limits and the rule in force, and the chances that the grades leave.
    margins_off
        Marked line on margins that the user switched off; empty for none.
    easy
        Why no water is graded easy, and what would change that; empty where some may be.
    more
        Further sentences: all rules applied, the evidence behind the bed, the gauge.
    """

    graded: str
    margins_off: str = ""
    easy: str = ""
    more: tuple[str, ...] = ()

    @property
    def rule_known(self) -> bool:
        """Return whether person, limits and rule are known; the pages' templates look at it."""
        return self.graded != tr(RULE_NOT_KNOWN)

    @property
    def first(self) -> tuple[str, ...]:
        """Return the lines that every output must hold, the marked line first."""
        return tuple(line for line in (self.margins_off, self.graded, self.easy) if line)

    @property
    def lines(self) -> tuple[str, ...]:
        """Return all sentences."""
        return (*self.first, *self.more)


def terms_of(report: Mapping[str, Any], units: UnitSystem) -> Terms:
    """Return the sentences on the grading that a report holds.

    Parameters
    ----------
    report
        Of the build; `wading_terms` in it holds `height_m`, `mass_kg`, `mass_given`,
        `limit_depth_m`, `limit_speed_m_s`, `limit_product_m2_s`, `rule`, `rules`, `easy_chance`,
        `careful_chance`, `margins_off`, `evidence`, `easy_allowed`, `easy_needs`, `not_graded`,
        `steps`, `ledges`, `steps_below_m`, `gauge`.
    units
        Of the reach folder.

    Notes
    -----
    A limit or the person missing leaves the rule unknown; a missing leave to grade easy counts as
    none.
    """
    return terms_from(report.get(KEY), units)


def terms_from(facts: Any, units: UnitSystem) -> Terms:
    """Return the sentences on the grading from the facts alone; see `terms_of`."""
    if not isinstance(facts, Mapping):
        return Terms(tr(RULE_NOT_KNOWN))
    off = [_words(reason) or tr("not named") for reason in _listed(facts.get("margins_off"))]
    return Terms(
        graded=_graded(facts, units),
        margins_off=_marked(off),
        easy=_easy(facts),
        more=_more(facts, units),
    )


def limits_of(report: Mapping[str, Any], units: UnitSystem) -> dict[str, Any] | None:
    """Return the limits in force in SI and in words, with rule and person; None where not known.

    Returns
    -------
    dict[str, Any] | None
        `depth` [m], `speed` [m/s] and `product` [m2/s] with `words` for each, and `by`: the rule,
        the height and the weight that they rest on.
    """
    facts = report.get(KEY)
    if not isinstance(facts, Mapping) or terms_from(facts, units).graded == tr(RULE_NOT_KNOWN):
        return None
    unit = {"depth": LENGTH[units], "speed": SPEED[units], "product": PRODUCT_UNIT[units]}
    names = {"depth": "limit_depth_m", "speed": "limit_speed_m_s", "product": "limit_product_m2_s"}
    values = {name: _number(facts.get(key)) for name, key in names.items()}
    assumed = "" if facts.get("mass_given") is True else tr(" (assumed)")
    person = f"{_height(_number(facts.get('height_m')), units)}, " + (
        f"{_mass(_number(facts.get('mass_kg')), units)}{assumed}"
    )
    words = {name: _limit_words(values[name], unit[name]) for name in names}
    return {
        **values,
        "words": words,
        "by": tr("{rule}, for {person}", rule=_words(facts.get("rule")), person=person),
    }


def _marked(reasons: list[str]) -> str:
    """Return the marked line; reasons beyond its length are counted."""
    if not reasons:
        return ""
    kept, left = "", 0
    for reason in reasons:
        longer = f"{kept}; {reason}" if kept else reason
        kept, left = (longer, left) if len(longer) <= LONGEST_MARK else (kept, left + 1)
    more = tr("; and {left} more", left=left) if left else ""
    return f"{tr(MARGINS_OFF)}: {kept}{more}."


def _graded(facts: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the person, limits, rule and chances in one line."""
    names = ("height_m", "mass_kg", "limit_depth_m", "limit_speed_m_s", "limit_product_m2_s")
    numbers = [_number(facts.get(name)) for name in names]
    rule = _words(facts.get("rule"))
    if not rule or not all(math.isfinite(number) and number > 0 for number in numbers):
        return tr(RULE_NOT_KNOWN)
    height, mass, depth, speed, product = numbers
    assumed = "" if facts.get("mass_given") is True else tr(" (weight assumed: light build)")
    return tr(
        "Graded for {height}, {mass}{assumed}: no deeper than {depth}, no quicker than {speed}, "
        "depth x speed no more than {product} ({rule}). {chances}",
        height=_height(height, units),
        mass=_mass(mass, units),
        assumed=assumed,
        depth=_limit_words(depth, LENGTH[units]),
        speed=_limit_words(speed, SPEED[units]),
        product=_limit_words(product, PRODUCT_UNIT[units]),
        rule=rule,
        chances=_chances(facts),
    )


def _chances(facts: Mapping[str, Any]) -> str:
    """Return the grades' meaning as chances."""
    easy, careful = (_number(facts.get(name)) for name in ("easy_chance", "careful_chance"))
    if not (0 < easy < 1 and 0 < careful < 1):
        return tr(CHANCES_NOT_KNOWN)
    return tr(
        "'Easy' means a chance of less than {easy} of being beyond a limit, 'careful' "
        "less than {careful}.",
        easy=_odds(easy),
        careful=_odds(careful),
    )


def _odds(chance: float) -> str:
    """Return a chance as one in a whole number, never less than it is."""
    whole = math.floor(1 / chance + 1e-9)
    return (
        tr("1 in {whole}", whole=whole)
        if whole >= 2
        else tr("{chance} in 100", chance=math.ceil(100 * chance))
    )


def _easy(facts: Mapping[str, Any]) -> str:
    """Return why no water is graded at all, or easy; empty where some may be."""
    reason = _words(facts.get("not_graded"))
    if reason:
        return tr(
            "Nothing is graded here: {reason}. Treat all of it as beyond your limits.",
            reason=reason,
        )
    if facts.get("easy_allowed") is True:
        return ""
    needs = _words(facts.get("easy_needs"))
    return (
        f"{tr(NOTHING_EASY)} {tr('It would take: {needs}.', needs=needs)}"
        if needs
        else tr(NOTHING_EASY)
    )


def _more(facts: Mapping[str, Any], units: UnitSystem) -> tuple[str, ...]:
    """Return the rules applied, the evidence, the steps left out and the state of the gauge."""
    rules = [_words(rule) for rule in _listed(facts.get("rules"))]
    evidence = _words(facts.get("evidence"))
    sentences = (
        tr("Rules applied: {rules}.", rules=", ".join(rules)) if rules else "",
        tr("The bed rests on: {evidence}.", evidence=evidence) if evidence else "",
        _steps(facts, units),
        tr(GAUGE.get(_words(facts.get("gauge")), "")),
    )
    return tuple(line for line in sentences if line)


def _steps(facts: Mapping[str, Any], units: UnitSystem) -> str:
    """Return about which steps and ledges nothing is graded; empty where there are none."""
    steps, ledges = _number(facts.get("steps")), _number(facts.get("ledges"))
    told = [tr_count("{count} step", "{count} steps", int(steps))] if steps >= 1 else []
    if ledges >= 1:
        told.append(tr_count("{count} drawn ledge", "{count} drawn ledges", int(ledges)))
    below = _number(facts.get("steps_below_m"))
    if not told or not math.isfinite(below):
        return ""
    unit = LENGTH[units]
    return tr(
        "Nothing is graded at {told} in the river, nor for {below} {unit} below: where the quick "
        "water runs there is not known.",
        told=tr(" and ").join(told),
        below=number_text(from_si(below, unit), 0),
        unit=unit,
    )


def _height(height: float, units: UnitSystem) -> str:
    """Return a person's height [m], like ``5 ft 10 in``."""
    if units is UnitSystem.METRIC:
        return f"{number_text(height, 2)} m"
    feet, inches = divmod(round(from_si(height, "in")), 12)
    return f"{feet} ft {inches} in"


def _mass(mass: float, units: UnitSystem) -> str:
    """Return a person's mass [kg], like ``139 lb``."""
    unit = "lb" if units is UnitSystem.US else "kg"
    return f"{from_si(mass, unit):.0f} {unit}"


def _limit_words(value: float, unit: str) -> str:
    """Return a limit with its unit: one decimal in feet, two in metres."""
    return f"{number_text(from_si(value, unit), 1 if unit.startswith('ft') else 2)} {unit}"


def _number(value: object) -> float:
    """Return a fact as a number; NaN for anything else, booleans included."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    return float(value)


def _words(value: object) -> str:
    """Return a fact as text without the full stop at its end; empty where there is none."""
    text = clean_text(value, LONGEST_WORDS) if isinstance(value, str) else ""
    return tr(" ".join(text.split()).rstrip("."))


def _listed(value: object) -> list[object]:
    """Return a list of reasons; a single word counts as one."""
    if isinstance(value, str):
        return [value] if value else []
    return list(value) if isinstance(value, list | tuple) else []

"""The fishing rules of a day in words: closures, gear, age of the look-up, or its lack."""

from __future__ import annotations

from datetime import date

from reachmap.base.language import noted, tr, tr_count
from reachmap.planner.day import Day
from reachmap.planner.rules import OLD_DAYS, Rule, RuleKind, Rules
from reachmap.text.numbers import list_words

NOT_LOOKED_UP = noted("Nobody looked up the rules for this reach: rules.csv is empty or missing.")


def rules_sentences(rules: Rules, today: date) -> list[str]:
    """Return the sentence on the rules' look-up: its age, or that there was none."""
    if not rules.looked_up:
        return [tr(NOT_LOOKED_UP)]
    age = rules.age_days(today)
    if age is None:
        return [tr("Some rules do not say when they were looked up: look again.")]
    if age > OLD_DAYS:
        return [
            tr(
                "The rules were looked up {days} days ago: an emergency closure may be newer.",
                days=age,
            )
        ]
    if age <= 0:
        return [tr("Rules looked up today.")]
    return [
        tr_count("Rules looked up yesterday.", "Rules looked up {count} days ago.", age),
    ]


def day_rules_sentences(day: Day, rules: Rules) -> list[str]:
    """Return the rules of one day."""
    sentences = []
    if rules.looked_up and not day.rules_complete:
        sentences.append(tr("The rules noted do not say of every run whether it is open that day."))
    shut = [run.facts.name for run in day.runs if run.closed]
    if day.closed:
        sentences.append(tr("Closed: nothing is proposed."))
    elif shut:
        sentences.append(tr("Closed that day: {shut}.", shut=list_words(shut)))
    return [*sentences, *(_rule_words(rule) for rule in day.rules if _adds_something(rule))]


def _adds_something(rule: Rule) -> bool:
    """Return whether a rule is more than an opening of the whole day."""
    return bool(rule.gear or rule.hours or rule.kind is RuleKind.CLOSED)


def _rule_words(rule: Rule) -> str:
    """Return one rule."""
    where = list_words(list(rule.runs)) if rule.runs else tr("the reach")
    hours = ""
    if rule.hours is not None:
        hours = tr(
            " {hours} to {hours2}", hours=f"{rule.hours[0]:%H:%M}", hours2=f"{rule.hours[1]:%H:%M}"
        )
    stated = {
        RuleKind.OPEN: tr("{where} is open{hours}", where=where, hours=hours),
        RuleKind.CLOSED: tr("{where} is closed{hours}", where=where, hours=hours),
        RuleKind.GEAR: where,
    }[rule.kind]
    gear = f": {rule.gear}" if rule.gear else ""
    source = f" ({rule.source})" if rule.source else tr(" (no source noted)")
    return tr("Rule for {stated}{gear}{source}.", stated=stated, gear=gear, source=source)

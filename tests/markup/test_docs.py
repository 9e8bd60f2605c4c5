"""docs/reach-folder.md says what the program reads: its tables are held to the registers."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.read import READ_ENDINGS
from reachmap.markup.config import read_plan
from reachmap.markup.config.render import template
from reachmap.markup.defaults import LIMITS
from reachmap.markup.files import DRAWING_ENDINGS, WHOLE_ENDINGS
from reachmap.markup.kit import FAMILIES
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS, LayerField, LayerSpec
from reachmap.markup.quantities import plain, unit_of
from scripts import reach_keys

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "reach-folder.md").read_text(encoding="utf-8")


def holds(field: LayerField) -> str:
    """Return what a field may hold, for its cell of the table."""
    if field.words is not None:
        return ", ".join(f"`{word}`" for word in field.words)
    if field.quantity not in NUMBERS:
        return "text"
    us, metric = (unit_of(field.quantity, units) for units in (UnitSystem.US, UnitSystem.METRIC))
    limits = " to ".join(plain(from_si(limit, metric)) for limit in (field.low, field.high))
    return f"{us} or {metric}; {limits} {metric}"


def needed(field: LayerField) -> str:
    """Return whether a field must be filled in, or what stands where it is empty."""
    if field.required:
        return "yes"
    return f"`{field.default}` if empty" if field.default is not None else "no"


def table(spec: LayerSpec) -> list[str]:
    """Return the lines of a layer's table."""
    shapes = " or ".join(spec.shapes)
    head = f"**`{spec.name}`**{' (required)' if spec.required else ''}: {shapes}. {spec.meaning}"
    lines = [head, "", "| field | holds | needed | meaning |", "|---|---|---|---|"]
    lines += [f"| `{f.name}` | {holds(f)} | {needed(f)} | {f.meaning} |" for f in spec.fields]
    return lines


@pytest.mark.parametrize("name", LAYER_FIELDS)
def test_each_layer_stands_in_the_docs_as_the_register_has_it(name):
    assert "\n".join(table(LAYER_FIELDS[name])) in TEXT


def test_the_tables_of_keys_are_those_of_the_schema():
    assert reach_keys.page(TEXT) == TEXT, "run: python -m scripts.reach_keys"


def test_the_example_of_reach_toml_reads_without_a_fault():
    examples = re.findall(r"```toml\n(.*?)```", TEXT, flags=re.DOTALL)
    assert examples
    assert not read_plan(examples[0]).faults


def test_every_key_of_the_starter_stands_in_the_docs():
    keys = re.findall(r"^#? ?([a-z_]+) = ", template(), flags=re.MULTILINE)
    assert len(keys) > 30
    for key in keys:
        assert f"`{key}`" in TEXT, key


def test_every_ending_and_family_stands_in_the_docs():
    for word in (*DRAWING_ENDINGS, *WHOLE_ENDINGS, *READ_ENDINGS, *FAMILIES):
        assert f"`{word}`" in TEXT, word


def test_the_seasons_limits_stand_in_the_docs_as_they_are_taken():
    told = "; ".join(
        f"{season} depth {limits.depth_low_m:g} to {limits.depth_high_m:g} m, "
        f"speed {limits.speed_low_m_s:g} to {limits.speed_high_m_s:g} m/s"
        for season, limits in LIMITS.items()
    )
    assert told in " ".join(TEXT.split())

"""The JSON Schema of report.json: sound by jsonschema's judgement, shipped, its page current."""

from __future__ import annotations

import json
from importlib.resources import files

import jsonschema
import pytest

from reachmap.base.schema import RUNS_BY_FLOW
from scripts import report_page


@pytest.fixture(scope="module")
def schema():
    text = files("reachmap.outputs").joinpath("report.schema.json").read_text(encoding="utf-8")
    return json.loads(text)


def test_it_is_a_schema_and_says_what_every_key_is(schema):
    jsonschema.Draft202012Validator.check_schema(schema)
    assert all(one.get("description") for one in schema["properties"].values())


def test_the_table_of_runs_is_that_of_the_register(schema):
    row = schema["properties"]["runs_by_flow"]["items"]
    assert list(row["properties"]) == [column.name for column in RUNS_BY_FLOW.columns]
    for column in RUNS_BY_FLOW.columns:
        if column.words is not None:
            words = [one for one in row["properties"][column.name]["enum"] if one is not None]
            assert words == [word.value for word in column.words]


def test_its_page_is_current():
    assert report_page.TARGET.read_text(encoding="utf-8") == report_page.page()

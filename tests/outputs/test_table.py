"""The table of runs by flow as CSV, read back by the standard library's and pandas' readers."""

from __future__ import annotations

import csv
from dataclasses import replace

import pandas as pd
import pytest

from reachmap.outputs.table import write_table
from tests.outputs.made_product import made_product

NASTY = '=HYPERLINK("http://x")<script>,"\n{{7*7}}\u202e' + "x" * 10_000


def test_the_table_is_read_back_row_by_row(tmp_path):
    product = made_product()
    (path,) = write_table(product, tmp_path)
    table = pd.read_csv(path)
    told = product.report["runs_by_flow"]
    assert list(table.columns) == [name for name in told[0] if name != "why_too"]
    assert set(table["why"]) == {"in shape", "too quick"}
    assert list(table["run"]) == [row["run"] for row in told]
    assert table["score"].tolist() == pytest.approx([row["score"] for row in told])
    unknown = [row["depth_m"] is None for row in told]
    assert table["depth_m"].isna().tolist() == unknown


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", " =", "\u00a0\uff0b"])
def test_a_name_that_looks_like_a_formula_stays_a_name(tmp_path, sign):
    product = made_product()
    rows = [{**row, "run": f"{sign}1+1"} for row in product.report["runs_by_flow"]]
    report = {**product.report, "runs_by_flow": rows}
    (path,) = write_table(replace(product, report=report), tmp_path)
    with path.open(encoding="utf-8", newline="") as file:
        assert {row["run"] for row in csv.DictReader(file)} == {f"'{sign}1+1"}


def test_hostile_text_stays_in_its_cell(tmp_path):
    product = made_product(text=NASTY)
    (path,) = write_table(product, tmp_path)
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(product.report["runs_by_flow"])
    assert all(row["run"].startswith("'=HYPERLINK") for row in rows)


def test_without_a_table_nothing_is_written(tmp_path):
    assert write_table(made_product(tables=False), tmp_path) == []

"""What reaches a terminal, and what reaches a spreadsheet."""

from __future__ import annotations

import csv
import io
import random
import re
from pathlib import Path

import pytest

from reachmap.base.csv_cells import escaped_cell, read_cell
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.terminal_text import printable

ROOT = Path(__file__).resolve().parents[2]
STEERING = [chr(n) for n in (*range(0x20), *range(0x7F, 0xA0))]
STEERING += [chr(n) for n in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))]
STEERING += list("\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\u061c\u2028\u2029\U000e0041\ud800")


@pytest.mark.parametrize("sign", STEERING)
def test_a_sign_that_steers_a_terminal_is_shown_as_an_escape(sign):
    shown = printable(f"Alder{sign}bar")
    assert sign not in shown
    assert shown.startswith("Alder\\")
    assert shown.isprintable()


def test_other_text_stays_as_it_is():
    text = "Ängby \u6cb3 \u0635\u064a\u062f \U0001f41f C:\\rivers 'x' 12 m\u00b3/s"
    assert printable(text) == text


def test_line_ends_stay_only_in_messages_of_several_lines():
    assert printable("a\nb") == "a\\nb"
    assert printable("a\nb\rc", lines=True) == "a\nb\\rc"


def test_a_name_cannot_forge_a_line_of_a_list_of_faults():
    error = MarkupError([Fault("runs 1", "named 'x\n  2. All reads well\x1b[2J'", "Rename it")])
    assert len(str(error).splitlines()) == 2
    assert "\x1b" not in str(error)


BLANKS = ["", " ", "\u00a0", "\u3000", "\u200b", "\ufeff", "  \u2060 ", "\x0b"]
STARTS = ["=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"]


@pytest.mark.parametrize("blank", BLANKS)
@pytest.mark.parametrize("start", STARTS)
def test_text_that_a_spreadsheet_may_run_is_guarded(blank, start):
    text = f"{blank}{start}cmd|' /C calc'!A0"
    assert escaped_cell(text) == f"'{text}"
    assert read_cell(f"'{text}") == text


@pytest.mark.parametrize("value", [-3.5, -2, 0, 1e-7, "Alder", "a=b", "'quoted'", "", " x-y", "'"])
def test_numbers_and_plain_text_stay(value):
    assert escaped_cell(value) == value


def test_every_text_comes_back_the_same():
    chance = random.Random(4)
    signs = "'='+-@ \t\n\r\u00a0\u3000\u200b\uff1dab,\";"
    for _ in range(4000):
        text = "".join(chance.choices(signs, k=chance.randint(0, 6)))
        stream = io.StringIO(newline="")
        csv.writer(stream).writerow([escaped_cell(text), "end"])
        (row,) = csv.reader(io.StringIO(stream.getvalue(), newline=""))
        assert read_cell(row[0]) == text


def test_every_writer_of_csv_guards_its_cells():
    writes = re.compile(r"csv\.writer|DictWriter|to_csv\(")
    found = [
        path
        for path in sorted((ROOT / "reachmap").rglob("*.py"))
        if writes.search(path.read_text(encoding="utf-8"))
    ]
    assert len(found) >= 3
    for path in found:
        assert path.read_text(encoding="utf-8").count("escaped_cell") >= 2, path


def test_the_commands_print_through_one_door():
    prints = re.compile(r"typer\.echo|\bprint\(|secho|sys\.std(out|err)\.write")
    for path in sorted((ROOT / "reachmap" / "cli").rglob("*.py")):
        if path.name != "say.py":
            code = path.read_text(encoding="utf-8").replace("screen.print(", "")
            assert not prints.search(code), path

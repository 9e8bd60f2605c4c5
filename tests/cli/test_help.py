"""What `--help` says: whole sentences, and names of extras as pip takes them."""

from __future__ import annotations

import pytest
import typer
from typer.testing import CliRunner

from reachmap.cli.app import app


@pytest.fixture
def shown(monkeypatch):
    """Return the help of some words, as an 80 columns wide terminal shows it."""
    monkeypatch.setenv("COLUMNS", "80")

    def help_of(*words):
        done = CliRunner().invoke(app, [*words, "--help"])
        assert done.exit_code == 0
        return done.stdout

    return help_of


def test_every_command_is_said_in_one_whole_sentence(shown):
    told = shown().partition("Commands:")[2].strip().splitlines()
    names = set(typer.main.get_command(app).commands)
    assert {line.split()[0] for line in told} == names  # one line each
    assert [line for line in told if not line.endswith(".") or line.endswith("...")] == []


def test_an_extra_keeps_its_brackets(shown):
    told = " ".join(shown("build").split())
    assert "pip install 'reachmap[stores]'" in told
    assert "pip install 'reachmap[zarr]'" in told

"""Recorded answers for every test here that asks a service."""

from __future__ import annotations

import sys

import pytest

from reachmap.cli import main

LIBRARIES = ("dataretrieval", "seamless_3dep", "pystac_client", "requests", "aiohttp", "httpx")


@pytest.fixture
def services(monkeypatch):
    """Every public service, as recorded."""
    for library in LIBRARIES:
        pytest.importorskip(library, reason="pip install 'reachmap[online]'")
    from tests.online.answers import everything
    from tests.online.services import serving

    with serving(monkeypatch) as made:
        everything(made)
        yield made


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "reach"
    made.mkdir()
    return made


@pytest.fixture
def run(monkeypatch, capsys):
    """The command in this process, where its connections are led: exit code, output, errors."""

    def ran(*words):
        monkeypatch.setattr(sys, "argv", ["reachmap", *map(str, words)])
        capsys.readouterr()
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
        return (code, *capsys.readouterr())

    return ran

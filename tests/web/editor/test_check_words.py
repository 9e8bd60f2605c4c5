"""The check on the page and the command `check` speak the same words."""

import pytest
from typer.testing import CliRunner

from reachmap.cli.app import app
from reachmap.web.editor.session import EditorSession, prepare
from tests.web.editor.folders import bank, river, sent, sounding

FACTS = {"traced_flow": "900", "slope": "0.002", "flows": "600, 900, 1400"}


@pytest.fixture
def session(tmp_path):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    session.save_facts(1, FACTS)
    (tmp_path / "shopping.txt").write_text("line, hooks")
    return session


def typed(session):
    return CliRunner().invoke(app, ["check", str(session.folder)])


def words(text):
    """Return a text as its words: the terminal breaks lines."""
    return " ".join(text.split())


def test_where_nothing_is_at_fault(session):
    marks = (river(), bank("left", id_="new-l"), bank("right", id_="new-r"), sounding())
    session.save(sent(*marks, version=session.store.version))
    told, command = session.check(), typed(session)
    assert (told["faults"], command.exit_code) == ([], 0)
    lines = command.output.splitlines()
    assert lines[: len(told["lines"])] == told["lines"]
    assert len(lines) == len(told["lines"]) + 1  # where one note would help most
    assert any("shopping.txt" in line for line in told["lines"])


def test_where_something_is(session):
    session.save(sent(river(), bank("left", id_="new-l"), version=session.store.version))
    told, command = session.check(), typed(session)
    assert told["faults"]
    for fault in told["faults"]:
        for part in ("where", "found", "fix"):
            assert words(fault[part]) in words(str(command.exception))
    for line in told["lines"]:
        assert words(line) in words(command.output)
    assert any("shopping.txt" in line for line in told["lines"])


def test_ground_that_cannot_be_made_is_a_fault_on_the_page_too(session, monkeypatch):
    from reachmap.base.errors import BuildError, Fault
    from reachmap.pipeline import preview_ground

    def refuses(_):
        raise BuildError([Fault("river", "its water climbs", "Turn the line round")])

    monkeypatch.setattr(preview_ground, "preview_ground", refuses)
    marks = (river(), bank("left", id_="new-l"), bank("right", id_="new-r"))
    session.save(sent(*marks, version=session.store.version))
    assert [one["found"] for one in session.check()["faults"]] == ["its water climbs"]

"""The notebooks of the docs run from top to bottom, and come without output."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "notebooks"
NAMES = ("first-map", "season-odds", "with-evidence")
LONGEST_S = 900


def test_all_notebooks_are_listed_and_hold_no_output():
    assert sorted(path.stem for path in FOLDER.glob("*.ipynb")) == list(NAMES)
    listed = (FOLDER.parent / "notebooks.md").read_text(encoding="utf-8")
    for name in NAMES:
        assert f"notebooks/{name}.ipynb" in listed
        cells = json.loads((FOLDER / f"{name}.ipynb").read_text(encoding="utf-8"))["cells"]
        assert not [cell for cell in cells if cell.get("outputs") or cell.get("execution_count")]
        text = "".join("".join(cell["source"]) for cell in cells)
        assert "eople drown wading" in text


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("name", NAMES)
def test_a_notebook_runs(name, tmp_path):
    nbformat = pytest.importorskip("nbformat")
    client = pytest.importorskip("nbclient")
    book = nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)
    nbformat.validate(book)
    client.NotebookClient(
        book,
        timeout=LONGEST_S,
        kernel_name="python3",
        resources={"metadata": {"path": str(tmp_path)}},
    ).execute()
    outputs = [out for cell in book.cells for out in cell.get("outputs", ())]
    assert [out for out in outputs if out.output_type != "stream"]
    assert not [out for out in outputs if out.get("name") == "stderr" and "Traceback" in out.text]
    if name != "with-evidence":
        return
    said = "".join(out.text for out in outputs if out.output_type == "stream")
    assert "25 soundings: the bed moved by" in said

"""The draft is kept beside the drawing: rejected pieces are remembered, and none is evidence."""

import numpy as np
import pytest
import rasterio
from shapely import LineString, Point, box

from reachmap.base.errors import MarkupError
from reachmap.draft import Draft, Drafted
from reachmap.draft.store import State, StoredDraft, decided, draft_in, keep, merged
from reachmap.markup.file_facts import Unused
from reachmap.markup.files import DRAFT_FILE
from reachmap.markup.found import found_files, input_files
from reachmap.markup.write import MARKUP_FILE, empty_layers, write_layers
from reachmap.pipeline.drafting import canopy_above, draft_folder
from tests.draft.terrains import CRS, valley

BANK = Drafted("banks", box(0, 0, 100, 30), {"side": "left", "cover": "gravel", "rise": 0.75})
OTHER = Drafted("banks", box(0, -60, 100, -30), {"side": "right", "rise": 2.5})
LINE = Drafted("river", LineString([(0, -15), (100, -15)]), {"part": "main"})
CREST = Drafted("levels", Point(50, -15), {"level": 99.25})


def draft(*features):
    return Draft(CRS, features, seen=True, canopy=False, width=30.0, fall=2.0, cell=1.0)


def states(kept):
    return {(one.layer, one.values.get("side", "")): one.state for one in kept.held}


def test_a_draft_comes_back_as_it_was_kept(tmp_path):
    kept = merged(draft(LINE, BANK, OTHER, CREST), None, {})
    keep(tmp_path, kept)
    again = draft_in(tmp_path)
    assert again.held == kept.held
    assert [one.values for one in again.held] == [one.values for one in (LINE, BANK, OTHER, CREST)]
    assert draft_in(tmp_path / "elsewhere") is None


def test_a_new_draft_replaces_what_waits_and_remembers_what_was_decided():
    kept = merged(draft(LINE, BANK, OTHER, CREST), None, {})
    keys = {one.values.get("side", one.layer): one.key for one in kept.held}
    kept = decided(kept, {keys["left"]: State.DROPPED, keys["river"]: State.ACCEPTED})
    moved = Drafted("banks", box(2, 1, 101, 31), {"side": "left", "cover": "grass"})
    new = merged(draft(LINE, moved, OTHER), kept, {})
    assert states(new) == {
        ("river", ""): State.ACCEPTED,
        ("banks", "left"): State.DROPPED,
        ("banks", "right"): State.OPEN,
    }
    assert not {one.key for one in new.open} & set(keys.values())


def test_the_same_holds_where_the_project_has_another_crs_now():
    kept = merged(draft(BANK), None, {})
    kept = decided(kept, {kept.held[0].key: State.DROPPED})
    east = StoredDraft(CRS, kept.held)
    other = Draft("EPSG:32608", (BANK,), seen=True, canopy=False, width=1, fall=1, cell=1)
    new = merged(other, east, {})
    assert new.crs == "EPSG:32608"
    assert [one.state for one in new.held] == [State.DROPPED, State.OPEN]  # hundreds of km apart


def test_what_is_drawn_already_is_not_proposed():
    drawn = {"banks": [box(0, 0, 100, 25)], "levels": [Point(52, -14)], "river": [Point(0, 0)]}
    kept = merged(draft(LINE, BANK, OTHER, CREST), None, drawn)
    assert {(one.layer, one.values.get("side")) for one in kept.open} == {
        ("river", None),
        ("banks", "right"),
    }


def test_a_file_that_is_no_draft_is_told_and_left_alone(tmp_path):
    (tmp_path / DRAFT_FILE).write_text("not a database")
    with pytest.raises(MarkupError, match=r"draft\.gpkg"):
        draft_in(tmp_path)
    assert (tmp_path / DRAFT_FILE).read_text() == "not a database"


def test_no_reader_takes_the_draft_for_evidence_whatever_its_name(tmp_path):
    write_layers(tmp_path / MARKUP_FILE, empty_layers(CRS))
    before = input_files(tmp_path)
    keep(tmp_path, merged(draft(LINE, BANK), None, {}))
    (tmp_path / "copied.gpkg").write_bytes((tmp_path / DRAFT_FILE).read_bytes())
    assert [path.name for path in input_files(tmp_path) if path.name == DRAFT_FILE] == []
    facts = {one.path.name: one.fact for one in found_files(tmp_path)}
    assert facts[DRAFT_FILE].why is Unused.DRAFT
    assert before == [path for path in input_files(tmp_path) if path.name != "copied.gpkg"]
    from reachmap.markup.sources import read_sources

    assert read_sources(tmp_path, "").found == []


def tile(path, made, height=None):
    values = made.height if height is None else height
    with rasterio.open(
        path, "w", driver="GTiff", width=values.shape[1], height=values.shape[0], count=1,
        dtype="float32", crs=CRS, transform=made.grid.transform,
    ) as target:  # fmt: skip
        target.write(values.astype(np.float32), 1)


@pytest.mark.slow
def test_a_folder_with_terrain_alone_is_drafted_and_its_drawing_left_as_it_was(tmp_path):
    made = valley(length=800.0)
    tile(tmp_path / "north_tile.tif", made)
    write_layers(tmp_path / MARKUP_FILE, empty_layers(CRS))
    drawing = (tmp_path / MARKUP_FILE).read_bytes()
    done = draft_folder(tmp_path)
    assert (tmp_path / MARKUP_FILE).read_bytes() == drawing
    assert {one.layer for one in done.fresh} >= {"river", "banks"}
    assert draft_in(tmp_path).held == done.kept.held
    first = done.fresh[-1]
    keep(tmp_path, decided(done.kept, {first.key: State.DROPPED}))
    again = draft_folder(tmp_path)
    assert len(again.fresh) == len(done.fresh) - 1
    assert [one.key for one in again.kept.held if one.state is State.DROPPED] == [first.key]


def test_a_folder_without_terrain_says_what_to_bring(tmp_path):
    with pytest.raises(MarkupError, match=r"no terrain in it.*dem\.tif"):
        draft_folder(tmp_path)


@pytest.mark.parametrize("absolute", [True, False])
def test_growth_is_read_from_a_surface_or_from_heights_above_ground(tmp_path, absolute):
    made = valley(length=400.0)
    grown = np.where(made.wet, 0.0, 7.0)
    name = "surface.tif" if absolute else "chm_2020.tif"
    tile(tmp_path / name, made, made.height + grown if absolute else grown)
    from reachmap.markup.dem_note import DemNote

    above = canopy_above(tmp_path, made.grid, made.height, DemNote(np.nan, "m", ""))
    assert above == pytest.approx(grown, abs=1e-3)
    assert (
        canopy_above(tmp_path / "nowhere", made.grid, made.height, DemNote(np.nan, "m", "")) is None
    )

"""The page's pure parts, run in the browser they are written for."""

import json
import math
import subprocess

import numpy as np
import pytest
import shapely
from skimage.transform import SimilarityTransform

from reachmap.markup.layers import LAYER_FIELDS
from tests.browser import watched_page
from tests.web.editor.serving import serving

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def run(browser, tmp_path_factory):
    """Call a function of one of the page's modules with JSON arguments."""
    folder = tmp_path_factory.mktemp("logic") / "home"
    with serving(folder) as served, watched_page(browser, offline=False) as watched:
        watched.page.goto(served.address)

        def call(module, expression, *values):
            return watched.page.evaluate(
                f"values => import('./page/{module}.js').then(m => {expression})", list(values)
            )

        yield call


SPOTS = np.array([[120.0, 80.0], [1900.0, 150.0], [1750.0, 1400.0], [60.0, 1300.0]])
"""Pixels of a picture, right and down."""


def placed(turn_deg=0.0, scale=0.4, shear=0.0, stretch=1.0, noise=0.0):
    """Return pairs of a picture that was turned, scaled, sheared; y runs up on the ground."""
    turn = math.radians(turn_deg)
    up = SPOTS * [1, -1]
    matrix = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    matrix = scale * matrix @ np.array([[1, shear], [0, stretch]])
    ground = up @ matrix.T + [350.0, -90.0]
    ground = ground + np.random.default_rng(5).normal(0, 1, ground.shape) * noise
    return np.hstack([SPOTS, ground])


def apply(fit, spots):
    x = fit["a"] * spots[:, 0] + fit["b"] * spots[:, 1] + fit["c"]
    y = fit["d"] * spots[:, 0] + fit["e"] * spots[:, 1] + fit["f"]
    return np.column_stack([x, y])


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("turn", [0, 37, -140])
def test_a_similarity_comes_back_exactly(run, count, turn):
    pairs = placed(turn)
    fit = run("fit", "m.similarity(values[0])", pairs[:count].tolist())
    assert apply(fit, SPOTS) == pytest.approx(pairs[:, 2:], abs=1e-6)


@pytest.mark.parametrize("count", [3, 4])
def test_a_stretched_picture_comes_back_by_the_affine_fit(run, count):
    pairs = placed(20, shear=0.2, stretch=1.3)
    fit = run("fit", "m.affine(values[0])", pairs[:count].tolist())
    assert apply(fit, SPOTS) == pytest.approx(pairs[:, 2:], abs=1e-6)


def test_least_squares_as_the_image_library_does_it(run):
    """Outside judges: scikit-image's similarity (Umeyama 1991) and numpy's least squares.

    The similarity is fitted with the picture's pixels turned up, since ours never mirrors.
    """
    pairs = placed(25, shear=0.05, noise=4)
    spots, ground = pairs[:, :2], pairs[:, 2:]
    theirs = SimilarityTransform.from_estimate(spots * [1, -1], ground)
    ours = run("fit", "m.similarity(values[0])", pairs.tolist())
    assert apply(ours, spots) == pytest.approx(theirs(spots * [1, -1]), abs=1e-5)
    design = np.column_stack([spots, np.ones(4)])
    fitted = design @ np.linalg.lstsq(design, ground, rcond=None)[0]
    ours = run("fit", "m.affine(values[0])", pairs.tolist())
    assert apply(ours, spots) == pytest.approx(fitted, abs=1e-5)
    off = run("fit", "m.offBy(m.affine(values[0]), values[0])", pairs.tolist())
    assert off == pytest.approx(np.hypot(*(fitted - ground).T), abs=1e-5)


def test_pairs_on_one_line_or_one_spot_make_no_fit(run):
    line = [[0, 0, 5, 5], [10, 10, 6, 6], [20, 20, 7, 7]]
    assert run("fit", "m.affine(values[0])", line) is None
    assert run("fit", "m.similarity(values[0])", [[3, 3, 1, 1], [3, 3, 2, 2]]) is None


def test_inverting_a_fit_leads_back(run):
    there = run(
        "fit",
        "m.invert(m.similarity(values[0]), m.apply(m.similarity(values[0]), [321, 654]))",
        placed(50).tolist(),
    )
    assert there == pytest.approx([321, 654], abs=1e-6)


LINES = [{"points": [[0, 0], [100, 0], [100, 100]], "closed": False, "key": "a"}]


@pytest.mark.parametrize(
    ("at", "reach", "kind", "where"),
    [
        ([96, 5], 12, "corner", (100, 0)),  # the corner wins though the line is nearer
        ([50, 5], 12, "line", (50, 0)),
        ([50, 13], 12, None, None),
        ([-9, 0], 12, "corner", (0, 0)),
        ([50, 52], 12, None, None),  # an open line has no closing side
        ([107, 50], 12, "line", (100, 50)),
    ],
)
def test_snapping(run, at, reach, kind, where):
    hit = run("snap", "m.snapTo(...values)", at, LINES, reach)
    assert (hit["kind"] if hit else None) == kind
    if hit:
        assert (hit["x"], hit["y"]) == pytest.approx(where)


def test_a_closed_outline_snaps_along_its_closing_side_too(run):
    closed = [LINES[0] | {"closed": True}]
    hit = run("snap", "m.snapTo(...values)", [50, 52], closed, 12)
    assert hit["kind"] == "line"
    assert hit["index"] == 2


def test_inside_an_outline(run):
    ring = [[0, 0], [10, 0], [10, 10], [5, 2], [0, 10]]
    told = [
        run("snap", "m.inside(...values)", at, ring) for at in ([5, 1], [5, 6], [1, 5], [11, 5])
    ]
    assert told == [True, False, True, False]


def test_undo_and_redo(run):
    told = run(
        "history",
        """(() => { const p = new m.History(3); const said = [];
        p.add("a"); p.add("b");
        said.push(p.back("c")); said.push(p.back("b")); said.push(p.back("a"));
        said.push(p.on("a")); said.push(p.on("b")); said.push(p.on("c"));
        p.back("c"); p.add("x"); said.push(p.on("y"));
        for (const s of ["1", "2", "3", "4", "5"]) p.add(s);
        said.push(p.before.length); return said; })()""",
    )
    assert told == ["b", "a", None, "b", "c", None, None, 3]


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("46.2, -141.3", (-141.3, 46.2)),
        ("46.2 -141.3", (-141.3, 46.2)),
        ("46.2N 141.3W", (-141.3, 46.2)),
        ("N 46.2, W 141.3", (-141.3, 46.2)),
        ("141.3 W, 46.2 N", (-141.3, 46.2)),
        ("46° 12' N, 141° 18' W", (-141.3, 46.2)),
        ("46°12'36\"N 141°18'0\"W", (-141.3, 46.21)),
        ("-33.5; 151", (151, -33.5)),
        ("46.2", None),
        ("here", None),
        ("99, 10", None),
        ("46.2, 500", None),
        ("", None),
        ("46.2 W, 10 E", None),
        ("1,2,3", None),
        ("46 75' N, 10 W", None),
    ],
)
def test_places_as_people_type_them(run, text, place):
    found = run("places", "m.readPlace(values[0])", text)
    assert found == (None if place is None else pytest.approx(list(place), abs=1e-9))


def test_distance_against_the_ellipsoid(run):
    """pyproj's geodesic (Karney 2013) is the outside judge: a sphere is within half a percent."""
    from pyproj import Geod

    for a, b in (
        ((-141.3, 46.2), (-141.29, 46.203)),
        ((10.0, 70.0), (10.02, 70.0)),
        ((-141.3, 46.2), (-141.3, 46.25)),
    ):
        _, _, true = Geod(ellps="WGS84").inv(*a, *b)
        assert run("places", "m.distance(...values)", a, b) == pytest.approx(true, rel=5e-3)


def test_the_flat_frame_leads_there_and_back_in_metres(run):
    x, y = run("places", "m.flatAbout([-141.3, 46.2]).flat([-141.29, 46.203])")
    assert math.hypot(x, y) == pytest.approx(
        run("places", "m.distance([-141.3, 46.2], [-141.29, 46.203])"), rel=1e-3
    )
    back = run(
        "places",
        "m.flatAbout([-141.3, 46.2]).round(m.flatAbout([-141.3, 46.2]).flat([-141.29, 46.203]))",
    )
    assert back == pytest.approx([-141.29, 46.203], abs=1e-10)


def test_corners_go_in_and_out_and_the_old_mark_stays(run):
    mark = {
        "id": "a",
        "layer": "river",
        "shape": "LineString",
        "paths": [[[0, 0], [1, 0], [2, 0]]],
        "values": {},
    }
    told = run(
        "shapes",
        """(() => { const before = JSON.stringify(values[0]); const mark = values[0];
        return [m.moveCorner(mark, 0, 1, [9, 9]).paths, m.insertCorner(mark, 0, 1, [5, 5]).paths,
          m.removeCorner(mark, 0, 0).paths, m.turnedRound(mark).paths,
          m.removeCorner(m.removeCorner(mark, 0, 0), 0, 0),
          JSON.stringify(mark) === before]; })()""",
        mark,
    )
    assert told == [
        [[[0, 0], [9, 9], [2, 0]]],
        [[[0, 0], [5, 5], [1, 0], [2, 0]]],
        [[[1, 0], [2, 0]]],
        [[[2, 0], [1, 0], [0, 0]]],
        None,
        True,
    ]


def test_every_layer_and_field_of_the_register_has_words_and_a_look_of_its_own(run):
    words, looks, fields = run(
        "styles",
        "[m.WORDS, Object.fromEntries(values[0].map(n => [n, m.lookOf(n)])), m.FIELD_WORDS]",
        list(LAYER_FIELDS),
    )
    assert set(words) == set(LAYER_FIELDS)
    assert {one.name for spec in LAYER_FIELDS.values() for one in spec.fields} == set(fields)
    letters = [look["letter"] for look in looks.values() if "letter" in look]
    assert len(letters) == len(set(letters))
    lines = [json.dumps(look.get("dash"), sort_keys=True) for look in looks.values()]
    assert len({line for line in lines if line != "null"}) == 3


def test_thinning_as_the_geometry_library_does_it(run):
    """shapely's simplify (GEOS, Douglas and Peucker 1973) is the outside judge."""
    rng = np.random.default_rng(3)
    along = np.linspace(0, 12, 400)
    flat = np.column_stack([along * 60, 40 * np.sin(along) + rng.normal(0, 0.7, along.size)])
    path = [run("places", "m.flatAbout([-141.3, 46.2]).round(values[0])", p) for p in flat.tolist()]
    thin = run("shapes", "m.thinnedPath(values[0], 1.5)", path)
    theirs = shapely.LineString(flat - flat[0]).simplify(1.5, preserve_topology=False)
    assert 20 < len(thin) < 200
    assert len(thin) == len(theirs.coords)
    assert [path.index(corner) for corner in thin] == [
        int(np.argmin(np.hypot(*(flat - flat[0] - corner).T))) for corner in theirs.coords
    ]


def test_the_hole_of_an_outline_goes_when_too_few_corners_are_left(run):
    ring = [[0, 0], [9, 0], [9, 9]]
    mark = {"id": "a", "layer": "banks", "shape": "Polygon", "paths": [ring, ring], "values": {}}
    assert len(run("shapes", "m.removeCorner(values[0], 1, 0).paths", mark)) == 1
    assert run("shapes", "m.removeCorner(values[0], 0, 0)", mark) is None


@pytest.mark.parametrize(
    ("value", "round_"), [(95, 50), (1, 1), (0.37, 0.2), (19, 10), (2000, 2000)]
)
def test_round_numbers(run, value, round_):
    assert run("places", "m.roundBelow(values[0])", value) == pytest.approx(round_)


@pytest.mark.parametrize("path", ["/home/me/my river", 'a "b" $c', "plain/way", "C:\\rivers\\one"])
def test_a_folder_as_one_word_of_a_command(run, path):
    word = run("panel-check", "m.shellWord(values[0])", path)
    if "\\" in path:
        assert word == path
    else:
        said = subprocess.run(["sh", "-c", f"printf %s {word}"], capture_output=True, check=True)
        assert said.stdout.decode() == path


def test_the_steps_of_a_newcomer(run):
    state = {
        "marks": [],
        "relief": None,
        "basemap": None,
        "facts": None,
        "invented": [],
        "faults": [],
        "checked": 0,
        "version": 1,
        "relevant": False,
    }

    def done(**more):
        return [
            step["id"] for step in run("guide", "m.steps(values[0])", state | more) if step["done"]
        ]

    assert done() == []
    assert done(relief=[0, 0, 1, 1]) == ["place", "steep"]
    river = {"layer": "river", "paths": [[[0, 0], [1, 1]]], "values": {"part": "main"}}
    assert done(marks=[river]) == ["place", "river"]
    banks = [
        {"layer": "banks", "paths": [[[0, 0]]], "values": {"side": side}}
        for side in ("left", "right")
    ]
    facts = {"traced_flow": "900", "slope": "0.002", "fall": "", "flows": "900"}
    assert done(marks=[river, *banks], facts=facts) == [
        "place", "river", "left", "right", "traced", "steep", "flows",
    ]  # fmt: skip
    assert "slope" not in done(facts=facts, invented=["slope", "flows", "traced_flow"])
    assert "check" in done(marks=[river, *banks], facts=facts, checked=1, relevant=True)

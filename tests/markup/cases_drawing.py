"""What can be wrong with a drawing, and the message it gives."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import translate

from tests.markup.folders import TOML, X, Y, at, box, line, make, rows, with_line
from tests.markup.spoil import Case, drawn, field, shape, without

BOW_TIE = Polygon([(X, Y + 30), (X + 50, Y + 50), (X + 50, Y + 30), (X, Y + 50)])

CASES: dict[str, Case] = {
    # layers
    "no river": Case(drawn(river=lambda _: []), "river", "nothing is drawn", "river.geojson"),
    "no banks": Case(drawn(banks=lambda _: []), "banks", "nothing is drawn", "banks.geojson"),
    # geometry
    "empty bank": Case(
        drawn(banks=field(0, geometry=Polygon())),
        "banks 'upper bar' (feature 1 of markup.gpkg",
        "nothing is drawn",
        "delete the row",
    ),
    "no geometry": Case(
        drawn(access=field(0, geometry=None)),
        "access (feature 1",
        "nothing is drawn",
        "delete the row",
    ),
    "bow tie": Case(
        drawn(banks=field(0, geometry=BOW_TIE)),
        "banks 'upper bar'",
        "crosses or touches itself at latitude 46.",
        "Move the corners",
    ),
    "NaN corner": Case(
        drawn(
            river=shape(
                1, lambda g: shapely.set_coordinates(g, shapely.get_coordinates(g) * np.nan)
            )
        ),
        "river 'back channel'",
        "not a number",
        "Draw it again",
    ),
    "line for a polygon": Case(
        drawn(banks=field(0, geometry=line((0, 30), (100, 30)))),
        "banks 'upper bar'",
        "drawn as a line",
        "Draw it as a polygon",
    ),
    "line of no length": Case(
        drawn(edges=field(0, geometry=line((5, 5), (5, 5)))),
        "edges",
        "no length",
        "Draw it again",
    ),
    "river crosses itself": Case(
        drawn(river=field(0, geometry=line((0, 0), (300, 5), (300, -5), (150, 8), (600, 0)))),
        "river 'Invented'",
        "the line crosses itself at latitude",
        "Move its corners",
    ),
    # river
    "two pieces": Case(
        drawn(
            river=lambda given: [
                {"geometry": line((300, 0), (600, 0)), "part": "main"},
                {"geometry": line((0, 0), (288, 0)), "part": "main"},
                given[1],
            ]
        ),
        "river",
        "in 2 pieces (river (feature 1 of markup.gpkg), river (feature 2 of markup.gpkg)); "
        "nearest ends are 12 m apart",
        "Join them into one line drawn downstream, river (feature 2",
    ),
    "pieces within one feature": Case(
        drawn(
            river=shape(
                0,
                lambda _: shapely.MultiLineString(
                    [line((0, 0), (290, 0)), line((300, 0), (600, 0))]
                ),
            )
        ),
        "river",
        "in 2 pieces",
        "part 1 before",
    ),
    "no main line": Case(
        drawn(river=field(0, part="side")),
        "river",
        "no line is the main one",
        "part = main",
    ),
    "short river": Case(
        drawn(river=field(0, geometry=line((0, 0), (60, 0)))),
        "river 'Invented'",
        "60 m long",
        "CRS is the true one",
    ),
    "upstream by the DEM": Case(
        drawn(river=shape(0, lambda g: g.reverse())),
        "river 'Invented'",
        "drawn upstream: the DEM's heights rise 1.2 m",
        "Reverse the line",
    ),
    "upstream by levels": Case(
        drawn(river=shape(0, lambda g: g.reverse())),
        "river 'Invented'",
        "drawn upstream: the levels you noted rise 1.2 m",
        "Reverse the line",
    ),
    "upstream by banks": Case(
        drawn(river=shape(0, lambda g: g.reverse())),
        "banks",
        "3 of 3 banks lie on the other side",
        "drawn upstream: reverse it (so do the heights",
    ),
    "sides swapped": Case(
        drawn(
            banks=lambda given: [
                {**row, "side": {"left": "right", "right": "left"}.get(row["side"], "island")}
                for row in given
            ]
        ),
        "banks",
        "3 of 3 banks lie on the other side",
        "left and right are swapped",
    ),
    "side channel upstream": Case(
        drawn(river=shape(1, lambda g: g.reverse())),
        "river 'back channel'",
        "drawn upstream",
        "Reverse the line",
    ),
    "no slope": Case(
        lambda folder: make(
            folder,
            toml=with_line(TOML, "slope = 0.002", ""),
            made={**rows(), "levels": []},
            dem=False,
        ),
        "[river]",
        "how steep",
        "Add slope or fall",
    ),
    # banks
    "wrong side": Case(
        drawn(banks=field(1, side="right")),
        "banks 'alder flat'",
        "says right but lies on river left",
        "Correct its side",
    ),
    "one side only": Case(
        drawn(banks=without(2)),
        "banks",
        "no bank on river right",
        "Draw the right bank",
    ),
    "over the line": Case(
        drawn(banks=shape(1, lambda g: translate(g, 0, -25))),
        "banks 'alder flat'",
        "covers 300 m of the river line",
        "from the water's edge",
    ),
    "over each other": Case(
        drawn(banks=shape(1, lambda g: translate(g, -50, 0))),
        "banks 'upper bar'",
        "overlaps banks 'alder flat'",
        "Cut one out",
    ),
    "far too wide": Case(
        drawn(
            banks=lambda given: [
                {**given[0], "geometry": box(0, 400, 600, 500)},
                {**given[2], "geometry": box(0, -500, 600, -400)},
            ]
        ),
        "banks",
        "800 m wide",
        "feet taken for metres",
    ),
    # words and numbers
    "unknown cover": Case(
        drawn(banks=field(0, cover="gravle")),
        "banks 'upper bar'",
        "cover is 'gravle'",
        "'gravel'? Use one of: gravel, sand, grass, brush, trees, rock, cutbank, built",
    ),
    "no cover": Case(
        drawn(banks=field(0, cover=None)),
        "banks 'upper bar'",
        "cover is not given",
        "Use one of: gravel",
    ),
    "unknown side": Case(
        drawn(banks=field(0, side="L")),
        "banks 'upper bar'",
        "side is 'L'",
        "left, right, island",
    ),
    "unknown kind": Case(
        drawn(hazards=field(0, kind="sweeper")),
        "hazards",
        "kind is 'sweeper'",
        "strainer, ledge, undercut, soft bottom, cold inflow, other",
    ),
    "unknown part": Case(drawn(river=field(1, part="sidee")), "river", "part is 'sidee'", "'side'"),
    "rise in feet": Case(
        drawn(banks=field(0, rise=100.0)),
        "banks 'upper bar'",
        "rise: 100.0 is 100 m",
        'Meant in ft? Then write it with its unit, like "100 ft"',
    ),
    "edge without flow": Case(
        drawn(edges=field(0, flow=None)),
        "edges",
        "flow is not given",
        "Fill it in",
    ),
    "speed without flow": Case(
        drawn(speeds=field(0, flow=None)),
        "speeds",
        "flow is not",
        "Fill it in",
    ),
    "fast water": Case(
        drawn(speeds=field(0, speed=30.0)), "speeds", "speed: 30.0", "Wants 0 to 8 m/s"
    ),
    # spots
    "nothing sounded": Case(
        drawn(soundings=field(0, depth=None)),
        "soundings 'S1'",
        "neither depth nor bed",
        "Fill in depth",
    ),
    "depth without flow": Case(
        drawn(soundings=field(0, flow=None)),
        "soundings 'S1'",
        "a depth but no flow",
        "flow when",
    ),
    "deep sounding": Case(
        drawn(soundings=field(0, depth=40.0)), "soundings", "40.0 is 40 m", "40 ft"
    ),
    "dry sounding": Case(
        drawn(soundings=field(0, geometry=at(100, 400))),
        "soundings 'S1'",
        "400 m from the river line, on dry land",
        "Move it into the water",
    ),
    "level in feet": Case(
        drawn(levels=field(0, level=328.0)),
        "levels",
        "level is 328 m where the DEM says 100 m; it looks like feet taken for metres",
        "with their unit behind",
    ),
    "bed above ground": Case(
        drawn(soundings=field(1, bed=120.0)),
        "soundings 'S2'",
        "bed is 120 m where the DEM says",
        "DEM's datum",
    ),
    "far access": Case(
        drawn(access=field(0, geometry=at(30_000, 0))),
        "access",
        "29,400 m from the river",
        "CRS of its file",
    ),
    "far layer": Case(
        drawn(
            trees=lambda _: [{"geometry": at(5_000 + 10 * i, 0), "height": 3.0} for i in range(5)]
        ),
        "trees",
        "5 of 5 features lie 4,400 m or more from the river",
        "CRS of its file",
    ),
    "same run name": Case(
        drawn(runs=field(1, name=" bar  RUN ")),
        "runs",
        "is also that of runs 'Bar run' (feature 1",
        "Name the two apart",
    ),
    "nameless run": Case(
        drawn(runs=field(0, name="")), "runs (feature 1", "no name", "Give the run"
    ),
}

"""Odd values: cells, names, texts of TOML."""

from __future__ import annotations

CELLS = (
    *(None, "", " ", "x" * 5_000, "left", "3.2", "-5", "1e30", "1e-320", "nan", "inf", "-inf"),
    *(
        "12 ft",
        "5 ft 10 in",
        "9" * 400,
        "1,2,3",
        "é☃𝄞",
        "\u202eright",
        "a\x00b",
        "a\x1bb",
        "\ud800",
    ),
    *("=1+1", "'; DROP TABLE river; --", "<script>", "../../etc/passwd", "depth = 3; flow = x"),
    *("2001-02-30", "0000-00-00", "true", "[]", "{}", "%s%n", "gravel\n", "TREES", "soft_bottom"),
)
"""Cells of a table."""

NAMES = (
    *("", "x", "flow", "Flow (cfs)", "heigth", "geometry", "fid", "type", "x" * 300, "é", "a b"),
    *("select", 'quo"te', "name", "part", "ogc_fid", "__index_level_0__"),
)
"""Names of columns and layers."""

VALUES = (
    *('""', '"x"', "true", "-1", "0", "1e400", "-1e400", "nan", "inf", "-inf", "1e-320", "[]"),
    *("[[]]", "{}", "{a = 1}", "2001-02-03", "2001-02-03T04:05:06Z", "12:00:00", '"9e999 ft"'),
    *(
        '"' + "x" * 5_000 + '"',
        "1" + "0" * 400,
        "1" + "0" * 5_000,
        '[1, "x"]',
        "[nan, 1]",
        "[0, 0]",
    ),
    *('"../../x"', '"/vsicurl/http://127.0.0.1:9/x"', '"**/*"', '"*"', '"\\u0000"', "[" * 300),
    *("[5, 1]", "[1, 2, 3, 4, 5, 6, 7, 8, 9]", '"1 ft"', '"-1 m"', '"1.8 parsec"', "0x10", "1_0"),
    *(
        "[[1, 2], [3, 4]]",
        '[[900, "5 ft"], [900, "5 ft"]]',
        '["a", "a"]',
        '"EPSG:0"',
        '"EPSG:4326"',
    ),
    *('"America/Vancouver"', '"America"', '"/etc/passwd"', "1e5", "1000000", "0.5", "1"),
)
"""Values of TOML, some of which are none."""

"""A metric folder shows no feet, yards or cfs anywhere; a locale with a decimal comma no points."""

from __future__ import annotations

import base64
import re
import zlib
from dataclasses import replace

import pytest

from reachmap.base.words import UnitSystem
from reachmap.outputs.write import write_all
from tests.outputs.made_product import made_product

US = r"(?:ft|cfs|yds?|in/s|inch(?:es)?|lbs?|°F|ft/s|ft2/s|mph|miles?)"
SHOWN = re.compile(rf"(?<![\w.])\d[\d.,]*\s?{US}(?![\w/])|\b(?:feet|yards|inches|pounds|°F)\b")
DECIMAL = re.compile(r"(?<![\w.,])\d+\.\d+ (?:m|m/s|m³/s|cm)(?![\w/])")
TYPED = ("40 ft of line", "10 ft of T-11", "10 ft</span> of T-11", "at 900 cfs", "taken as 10 ft")
"""What stands in the made build as an angler's own words."""

READ = (".html", ".gpx", ".kml", ".csv", ".json", ".qml")
PACKED = re.compile(r'"([A-Za-z0-9+/=]{200,})"')


def written(folder):
    """Yield the name and text of what was written, packed parts of pages unpacked."""
    for path in sorted(folder.rglob("*")):
        if path.suffix not in READ or path.name == "report.json":
            continue
        text = path.read_text(encoding="utf-8")
        if path.suffix == ".html":
            for packed in PACKED.findall(text):
                told = unpacked(packed)
                for typed in TYPED:
                    told = told.replace(typed, "")
                yield path.name, told
            text = re.sub(r"<style.*?</style>", "", text, flags=re.S)
            text = re.sub(r'(?s)"gauge":\{"near".*?\}\]', "", text)  # units one may type
            text = re.sub(r"(?s)<select id=\"gauge-unit\".*?</select>", "", text)
            text = re.sub(r"<script>.*?</script>", "", text, flags=re.S)  # code, not data
            text = PACKED.sub("", text)
        for told in TYPED:
            text = text.replace(told, "")
        yield path.name, text


def unpacked(packed):
    """Return a packed part of a page as text; nothing for a raster."""
    try:
        raw = zlib.decompress(base64.b64decode(packed), -15)
        return raw.decode("utf-8")
    except (ValueError, zlib.error):
        return ""


def found(folder, pattern):
    """Return what a pattern finds, with the file and the text around it."""
    return [
        f"{name}: ...{text[max(hit.start() - 60, 0) : hit.end() + 20]}"
        for name, text in written(folder)
        for hit in pattern.finditer(text)
    ]


@pytest.fixture(scope="module")
def metric(tmp_path_factory):
    folder = tmp_path_factory.mktemp("metric") / "written"
    write_all(made_product(units=UnitSystem.METRIC), folder)
    return folder


def test_nothing_that_is_written_for_a_metric_folder_shows_feet(metric):
    assert found(metric, SHOWN) == []


def test_the_search_finds_them_where_they_are(tmp_path):
    write_all(made_product(units=UnitSystem.US), tmp_path / "written")
    hits = found(tmp_path / "written", SHOWN)
    assert {hit.partition(":")[0].rpartition(".")[2] for hit in hits} >= {"html", "gpx", "kml"}


def test_a_locale_with_a_decimal_comma_shows_no_decimal_point(tmp_path, metric):
    product = made_product(units=UnitSystem.METRIC)
    plan = replace(product.markup.plan, locale="de_DE")
    german = replace(product, markup=replace(product.markup, plan=plan))
    write_all(german, tmp_path / "written")
    assert found(metric, DECIMAL)
    assert found(tmp_path / "written", DECIMAL) == []
    page = (tmp_path / "written" / "maps" / "index.html").read_text(encoding="utf-8")
    assert '"locale":"de-DE"' in page

"""For whom and by which rule water was graded: the words, and that every output carries them."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import gpxpy
import pytest
from lxml import etree
from lxml import html as lxml_html

from reachmap.base.words import UnitSystem
from reachmap.outputs.choices import PLAIN
from reachmap.outputs.days_page import days_page
from reachmap.outputs.days_page.write import shared_look
from reachmap.outputs.handheld import write_gpx, write_kml
from reachmap.outputs.sheet import write_sheets
from reachmap.outputs.webmap import write_maps
from reachmap.outputs.write import write_all, write_some
from reachmap.planner.facts_json import facts_from, facts_text
from reachmap.text.wading_terms import MARGINS_OFF, RULE_NOT_KNOWN, limits_of, terms_of
from tests.outputs.made_product import STRICT, TERMS, made_product
from tests.outputs.webmap.test_page import book_of
from tests.planner.made import made_facts
from tests.planner.test_days import days_of

GRADED = (
    "Graded for 5 ft 10 in, 139 lb (weight assumed: light build): no deeper than 2.9 ft, no "
    "quicker than 2.6 ft/s, depth x speed no more than 3.6 ft2/s (poor conditions). 'Easy' means a "
    "chance of less than 1 in 50 of being beyond a limit, 'careful' less than 1 in 10."
)
OFF = (
    "MARGINS SWITCHED OFF BY YOU: mass 250 kg is beyond what the rules were tested for; spread of "
    "the beds."
)
EASY = (
    "Nothing is graded easy: the bed is a guess. It would take: a terrain model flown at low water."
)
FIXED = re.compile("doubt included|with the doubt in it", re.IGNORECASE)


def terms(units=UnitSystem.US, **changed):
    return terms_of({"wading_terms": TERMS | changed}, units)


def test_person_limits_rule_and_chances_stand_in_one_line():
    assert terms().graded == GRADED
    assert terms(UnitSystem.METRIC).graded.startswith(
        "Graded for 1.78 m, 63 kg (weight assumed: light build): no deeper than 0.89 m, no quicker "
        "than 0.80 m/s, depth x speed no more than 0.33 m2/s (poor conditions)."
    )
    assert "139 lb: no deeper" in terms(mass_given=True).graded
    assert "for 6 ft 0 in" in terms(height_m=1.828).graded  # not 5 ft 12 in


def test_a_chance_is_never_said_to_be_less_than_it_is():
    # 0.03 is less than 1 in 33, not less than 1 in 34; more than a half is told in a hundred
    told = terms(easy_chance=0.03, careful_chance=0.7).graded
    assert "less than 1 in 33 of" in told
    assert "'careful' less than 70 in 100" in told
    assert "treat both as unknown" in terms(easy_chance=None).graded


def test_switched_off_margins_come_first_and_are_marked():
    told = terms(**STRICT)
    assert told.first == (OFF, GRADED, EASY)
    assert terms().first == (GRADED,)
    assert terms(margins_off=[""]).margins_off == f"{MARGINS_OFF}: not named."
    assert terms(margins_off="all of them").margins_off == f"{MARGINS_OFF}: all of them."
    many = terms(margins_off=[f"margin number {i}" for i in range(90)]).margins_off
    assert len(many) < 460
    assert re.search(r"and \d+ more\.$", many)


@pytest.mark.parametrize("missing", ["height_m", "mass_kg", "limit_depth_m", "limit_speed_m_s",
                                     "limit_product_m2_s", "rule"])  # fmt: skip
@pytest.mark.parametrize("value", [None, float("nan"), True, 0.0])
def test_a_fact_that_is_missing_leaves_the_rule_unknown(missing, value):
    assert terms(**{missing: value}).graded == RULE_NOT_KNOWN


def test_limits_are_told_for_the_map_with_the_person_they_rest_on():
    told = limits_of({"wading_terms": TERMS}, UnitSystem.US)
    assert (told["depth"], told["speed"], told["product"]) == (0.89, 0.8, 0.33)
    # 0.89 m, 0.8 m/s and 0.33 m2/s over 0.3048 m, and its square
    assert told["words"] == {"depth": "2.9 ft", "speed": "2.6 ft/s", "product": "3.6 ft2/s"}
    assert told["by"] == "poor conditions, for 5 ft 10 in, 139 lb (assumed)"
    weighed = limits_of({"wading_terms": TERMS | {"mass_given": True}}, UnitSystem.METRIC)
    assert weighed["by"] == "poor conditions, for 1.78 m, 63 kg"
    assert limits_of({"wading_terms": TERMS | {"limit_depth_m": None}}, UnitSystem.US) is None
    assert limits_of({}, UnitSystem.US) is None


def test_an_older_product_says_that_the_rule_is_not_known():
    for report in ({}, {"wading_terms": None}, {"wading_terms": "poor"}):
        assert terms_of(report, UnitSystem.US).lines == (RULE_NOT_KNOWN,)
    assert "rule not known: treat every grade as unknown" in RULE_NOT_KNOWN


def test_steps_and_ledges_about_which_nothing_is_graded_are_told():
    def told(**facts):
        return [line for line in terms(**facts).more if "quick water" in line]

    assert told() == told(steps=0, ledges=0, steps_below_m=60.0) == []
    # 60.96 m are 200 ft
    assert told(steps=4, ledges=1, steps_below_m=60.96) == [
        "Nothing is graded at 4 steps and 1 drawn ledge in the river, nor for 200 ft below: where "
        "the quick water runs there is not known."
    ]
    assert "at 1 step in the river" in told(steps=1, ledges=0, steps_below_m=60.0)[0]


def test_easy_needs_leave_and_says_what_would_give_it():
    assert terms().easy == ""
    assert terms(easy_allowed=False).easy == "Nothing is graded easy: the bed is a guess."
    assert terms(easy_allowed=None).easy != ""  # not told is not allowed
    assert terms(easy_allowed=False, easy_needs="soundings").easy.endswith("take: soundings.")


def test_rules_evidence_and_an_old_gauge_are_said():
    told = " ".join(terms(gauge="stale").more)
    assert "rule of ten, published limits" in told
    assert "DEM and soundings" in told
    assert "read it again" in told
    assert "guessed" in " ".join(terms(gauge="guessed").more)
    assert "gauge" not in " ".join(terms(gauge="read").more)


def text_of(page: str) -> str:
    """Return what one reads on a page, scripts and styles left out."""
    tree = lxml_html.fromstring(page)
    etree.strip_elements(tree, "script", "style", with_tail=False)
    return " ".join(tree.text_content().split())


def columns_of(path: Path, query: str) -> str:
    with closing(sqlite3.connect(path)) as database:
        return " ".join(str(one) for row in database.execute(query) for one in row)


def rendered(product, folder: Path) -> dict[str, str]:
    """Return the words of every kind of output."""
    found = {}
    for path in write_maps(product, folder / "maps"):
        page = path.read_text(encoding="utf-8")
        found[f"map {path.stem}"] = text_of(page)
        found[f"still {path.stem}"] = " ".join(
            lxml_html.fromstring(page).xpath("//section[@class='still']")[0].text_content().split()
        )
        data, _ = book_of(page)
        found[f"run cards {path.stem}"] = " ".join(data["terms"])
    for path in write_sheets(product, _made(folder / "sheets")):
        found[f"sheet {path.stem}"] = text_of(path.read_text(encoding="utf-8"))
    facts = facts_from(facts_text(made_facts(wading_terms=product.report.get("wading_terms"))))
    days = days_of(facts)
    found["days"] = text_of(days_page(days, shared_look(days, UnitSystem.US)))
    for path in write_gpx(product, _made(folder / "gpx")):
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        found[f"gpx {path.stem}"] = document.description
        runs = [point for point in document.waypoints if point.symbol == "run"]
        assert runs
        for point in runs:
            found[f"gpx run {path.stem} {point.name}"] = point.description
        for track in document.tracks:
            if track.comment == "outer limit of easy wading":
                found[f"gpx wade line {path.stem} {track.name}"] = track.description
    for path in write_kml(product, _made(folder / "kml")):
        root = etree.parse(str(path))
        found[f"kml {path.stem}"] = root.findtext(".//{*}Document/{*}description")
    report = write_all(product, folder / "all")
    stored = json.loads((folder / "all" / "report.json").read_text(encoding="utf-8"))
    found["report returned"] = " ".join(report["grading"])
    found["report"] = " ".join(stored["grading"])
    write_some(product, folder / "all", ["sheets"], PLAIN)
    stored = json.loads((folder / "all" / "report.json").read_text(encoding="utf-8"))
    found["report after sheets alone"] = " ".join(stored["grading"])
    for layer in ("wading", "stations", "bars", "water", "runs"):
        found[f"gis {layer}"] = columns_of(
            folder / "all" / "gis" / "results.gpkg",
            f"SELECT description FROM gpkg_contents WHERE table_name = '{layer}'",
        )
    found["gis columns"] = columns_of(
        folder / "all" / "gis" / "results.gpkg",
        "SELECT description FROM gpkg_data_columns",
    )
    return found


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True)
    return folder


@pytest.mark.slow
def test_every_kind_of_output_says_for_whom_by_which_rule_and_what_is_switched_off(tmp_path):
    product = made_product()
    strict = replace(product, report={**product.report, "wading_terms": STRICT})
    found = rendered(strict, tmp_path)
    kinds = {name.split()[0] for name in found}
    assert kinds == {"map", "still", "run", "sheet", "days", "gpx", "kml", "report", "gis"}
    assert {"map index", "map 2400cfs", "gpx all", "kml all"} <= set(found)
    for name, words in found.items():
        assert not FIXED.search(words), name
        if name == "gis columns":
            continue
        for line in (GRADED, OFF, EASY):
            assert line in words, (name, line)


@pytest.mark.slow
def test_every_kind_of_output_of_an_older_product_says_that_the_rule_is_not_known(tmp_path):
    product = made_product()
    report = {name: told for name, told in product.report.items() if name != "wading_terms"}
    for name, words in rendered(replace(product, report=report), tmp_path).items():
        assert RULE_NOT_KNOWN in words or name == "gis columns", name
        assert MARGINS_OFF not in words


@pytest.mark.slow
def test_an_unknown_rule_stands_among_the_notices_of_each_page(tmp_path):
    product = made_product()
    report = {name: told for name, told in product.report.items() if name != "wading_terms"}
    for made, wanted in ((replace(product, report=report), [RULE_NOT_KNOWN]), (product, [])):
        for path in write_maps(made, tmp_path):
            page = lxml_html.fromstring(path.read_text(encoding="utf-8"))
            notices = page.xpath("//section[@class='notices']//*[contains(@class,'margins')]")
            assert [notice.text_content() for notice in notices] == wanted


@pytest.mark.slow
def test_the_mark_is_conspicuous_on_page_and_sheet_and_in_each_water_of_the_gpx(tmp_path):
    product = made_product()
    strict = replace(product, report={**product.report, "wading_terms": STRICT})
    for path in write_maps(strict, tmp_path / "maps"):
        page = lxml_html.fromstring(path.read_text(encoding="utf-8"))
        (notice,) = page.xpath("//section[@class='notices']//*[contains(@class,'notice-margins')]")
        assert notice.text_content() == OFF
    for path in write_sheets(strict, _made(tmp_path / "sheets")):
        page = lxml_html.fromstring(path.read_text(encoding="utf-8"))
        assert page.xpath("//p[@class='off']/text()") == [OFF]
        # it stands above everything but the heading
        order = [child.get("class") or child.tag for child in page.xpath("//main/*")[0]]
        assert order[:2] == ["h1", "off"]
    for path in write_gpx(strict, _made(tmp_path / "gpx")):
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        assert document.description.startswith(OFF)
        waters = [point for point in document.waypoints if point.symbol == "water"]
        assert waters
        assert all(OFF in point.description for point in waters)


@pytest.mark.parametrize(("told", "wanted"), [(STRICT, [OFF]), (TERMS, []), (None, [])])
def test_the_mark_stands_among_the_notices_of_the_page_of_days(told, wanted):
    days = days_of(made_facts(wading_terms=told))
    page = lxml_html.fromstring(days_page(days, shared_look(days, UnitSystem.US)))
    notices = page.xpath("//section[@class='notices']/p[contains(@class,'warn')]/strong")
    assert [notice.text_content() for notice in notices] == wanted


def test_no_text_of_the_outputs_or_the_planner_claims_a_margin_by_a_fixed_phrase():
    root = Path(__file__).resolve().parents[2] / "reachmap"
    files = sorted((root / "base").glob("schema*.py"))
    files += [path for name in ("outputs", "planner", "text") for path in (root / name).rglob("*")]
    for path in files:
        if path.suffix in {".py", ".js", ".html", ".css"} and "vendor" not in path.parts:
            assert not FIXED.search(path.read_text(encoding="utf-8")), path


def test_a_river_that_is_not_graded_says_why():
    told = terms(not_graded="it runs in several threads")
    assert "Nothing is graded here: it runs in several threads." in told.easy
    assert told.easy in told.first
    assert "Nothing is graded here" not in terms().easy

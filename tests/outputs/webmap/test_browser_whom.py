"""Who fishes, chosen on the page: its list is the library's, for everyone and at every flow."""

from __future__ import annotations

import itertools
import json

import pytest
from playwright.sync_api import expect

from reachmap.angler.short_list import listed
from reachmap.base.words import Side
from reachmap.markup.plan_parts import Outing
from reachmap.outputs.webmap import write_maps
from reachmap.text.whom import bank_of, whom_words
from tests.outputs.made_product import made_product
from tests.outputs.made_whom import RULES, with_whom
from tests.outputs.webmap.steps import SIZES, settle

pytestmark = [pytest.mark.browser, pytest.mark.slow]

BANKS = (
    {"bank": None, "crossing": False},
    {"bank": None, "crossing": True},
    {"bank": Side.LEFT, "crossing": False},
    {"bank": Side.RIGHT, "crossing": False},
)
HOURS = (1.0, 3.5, 6.0, 12.0)


@pytest.fixture(scope="module")
def many():
    return with_whom(made_product(length=2300.0, cell=4.0))


@pytest.fixture(scope="module")
def page_of(many, tmp_path_factory):
    return write_maps(many, tmp_path_factory.mktemp("whom"))[0]


def everyone():
    for boat, bank, hours in itertools.product((False, True), BANKS, HOURS):
        yield Outing(boat=boat, hours=hours, **bank)


def plain(outing):
    return {"boat": outing.boat, "bank": bank_of(outing), "hours": outing.hours}


def library_lists(product, outing):
    """Return names of the runs the library lists for somebody, by label of the flow."""
    bank = outing.bank
    [mine] = [
        one for one in product.whom() if (one.outing.boat, one.outing.bank) == (outing.boat, bank)
    ]
    return {
        label: [str(mine.table["run"].iloc[one.row]) for one in listed(found, outing, RULES)]
        for label, found in mine.choices.items()
    }


def names_shown(page):
    """Return the runs of the list by their numbers; those by boat stand apart on the page."""
    rows = page.eval_on_selector_all(
        "#run-list .is-today",
        "rows => rows.map(r => [Number(r.querySelector('.num').innerText), "
        "r.querySelector('.run-title').innerText])",
    )
    assert sorted(number for number, _ in rows) == list(range(1, len(rows) + 1))
    return [name for _, name in sorted(rows)]


def test_the_page_lists_what_the_library_lists_for_everyone_at_every_flow(
    many, page_of, browser_page
):
    page = browser_page(page_of).page
    lengths = set()
    for outing in everyone():
        wanted = library_lists(many, outing)
        found = page.evaluate(
            "one => Object.fromEntries(reach.data.flows.map((flow, i) => "
            "[flow.label, reach.listedFor(one, i).map(run => reach.runs()[run].name)]))",
            plain(outing),
        )
        assert found == {label: wanted.get(label, []) for label in many.labels}, outing
        lengths |= {len(one) for one in found.values()}
    assert lengths >= {1, 3, 4, 5}, "the choices do not tell the rule's parts apart"


@SIZES
def test_list_map_and_reasons_follow_a_choice_and_a_reload_keeps_it(
    many, page_of, browser_page, size
):
    watched = browser_page(page_of, size)
    page = watched.page
    own = names_shown(page)
    assert page.locator("#whom-told").inner_text() == ""
    page.click("#whom-button")
    page.check("[name=whom-way][value=boat]")
    page.check("[name=whom-bank][value=right]")
    page.fill("#whom-hours", "4")
    page.press("#whom-hours", "Tab")
    settle(page)
    mine = Outing(boat=True, bank=Side.RIGHT, hours=4.0)
    label = page.evaluate("reach.data.flows[reach.state.flow].label")
    wanted = library_lists(many, mine)[label]
    assert names_shown(page) == wanted != own
    # the numbers on the map are those of the list, of runs that have water at this flow
    at = page.evaluate(
        "Object.fromEntries(reach.runs().map(run => [run.name, run.at[reach.state.flow]]))"
    )
    there = [name for name in wanted if at[name]["place"]]
    assert len(there) > 1
    assert page.locator(".pin .pin-name").all_text_contents() == there
    numbers = [str(at[name]["pick"]) for name in there]
    assert page.locator(".pin .num").all_text_contents() == numbers
    assert whom_words(mine) in page.locator("#whom-told").inner_text()
    assert whom_words(Outing()) in page.locator("#whom-told").inner_text()
    page.click("#run-list summary >> text=Water to look at")
    expect(page.locator("text=from the other bank only").first).to_be_attached()
    page.reload()
    page.wait_for_selector("html[data-reach=ready]", state="attached")
    assert names_shown(page) == wanted
    page.click("#whom-told button")
    settle(page)
    assert names_shown(page) == own
    assert page.evaluate("localStorage.length") == 0
    assert not watched.messages


def test_minutes_and_odds_are_those_of_who_fishes(many, page_of, browser_page):
    page = browser_page(page_of).page
    shown = {}
    for bank in ("left", "right"):
        page.evaluate("0")
        if not page.locator("#whom-form").is_visible():
            page.click("#whom-button")
        page.check(f"[name=whom-bank][value={bank}]")
        settle(page)
        [mine] = [
            one for one in many.whom() if (one.outing.boat, one.outing.bank) == (False, Side(bank))
        ]
        table = mine.table.set_index(["run", "flow_label"])
        label = page.evaluate("reach.data.flows[reach.state.flow].label")
        for run in page.evaluate("reach.runs().map(one => one.name)"):
            odds = table.loc[(run, label), "odds"]
            told = page.evaluate(
                "run => reach.runs().find(one => one.name === run).at[reach.state.flow].curve", run
            )
            assert (told or [None])[0] == (None if odds != odds else round(odds)), (run, bank)
        shown[bank] = page.locator("#run-list .is-today .run-what").all_inner_texts()
    assert shown["left"] != shown["right"]


def test_by_boat_there_is_no_better_bank_and_hours_out_of_bounds_are_not_taken(
    page_of, browser_page
):
    page = browser_page(page_of).page
    page.click("#whom-button")
    page.check("[name=whom-way][value=boat]")
    expect(page.locator("[name=whom-bank][value='']")).to_have_count(0)
    expect(page.locator("[name=whom-bank][value=both]")).to_be_checked()
    for wrong in ("0", "40", ""):
        page.fill("#whom-hours", wrong)
        page.press("#whom-hours", "Tab")
        assert page.input_value("#whom-hours") == "6"
    page.check("[name=whom-way][value=foot]")
    expect(page.locator("[name=whom-bank][value='']")).to_be_checked()
    assert page.evaluate("reach.whom()") is None


@pytest.mark.parametrize(
    "kept", ["{", "null", json.dumps({"boat": "yes", "bank": "", "hours": 6}),
             json.dumps({"boat": True, "bank": "north", "hours": 6}),
             json.dumps({"boat": True, "bank": "", "hours": 600})]
)  # fmt: skip
def test_what_is_kept_and_is_no_choice_is_passed_over(page_of, browser_page, kept):
    watched = browser_page(page_of)
    page = watched.page
    key = page.evaluate("'reachmap-whom:' + reach.data.reach")
    page.evaluate("([key, kept]) => localStorage.setItem(key, kept)", [key, kept])
    page.reload()
    page.wait_for_selector("html[data-reach=ready]", state="attached")
    assert page.evaluate("reach.whom()") is None
    assert not watched.messages


def test_a_page_that_knows_of_nobody_else_offers_no_choice(maps, browser_page):
    page = browser_page(maps / "index.html").page
    assert page.locator("#whom-button").count() == 0
    assert page.locator("#run-list .is-today").count() > 0

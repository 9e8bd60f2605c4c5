"""Sheets measured in a real browser: type, borders, pages."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from reachmap.base.words import UnitSystem
from reachmap.outputs.sheet import write_sheets
from reachmap.outputs.sheet.paper import PAPERS, TYPE_PX
from tests.browser import running_browser, watched_page
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import STRICT
from tests.outputs.sheet.made_walk import listed, walked_product, with_table

pytestmark = pytest.mark.browser

LONG = "Where the Old Cottonwood Went Over in the Second Flood of the Year"

MEASURE = """() => {
  const over = [], small = [], sides = [...document.querySelectorAll('.side')];
  const beyond = (e, box) => {
    const r = e.getBoundingClientRect(), b = box.getBoundingClientRect();
    const after = r.right > b.right + 1 || r.bottom > b.bottom + 1;
    return after || r.left < b.left - 1 || r.top < b.top - 1;
  };
  for (const side of sides)
    for (const e of side.querySelectorAll('*')) {
      if (e.closest('svg') && e.tagName !== 'svg' && e.tagName !== 'text') continue;
      const holders = [side, e.closest('article'), e.tagName === 'text' ? e.closest('svg') : null];
      for (const box of holders) if (box && box !== e && beyond(e, box)) over.push(e.outerHTML);
    }
  for (const e of document.querySelectorAll('main *')) {
    const written = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!written || e.tagName === 'title') continue;
    const size = parseFloat(getComputedStyle(e).fontSize);
    small.push(size * (e.tagName === 'text' ? Math.abs(e.getScreenCTM().a) || 1 : 1));
  }
  return {over, smallest: Math.min(...small), sides: sides.length};
}"""


def measured(product, folder, paper, label):
    """Return what the browser measures of a flow's sheet in print, and the pages of its PDF."""
    write_sheets(product, folder, labels=(label,), paper=paper)
    path = folder / f"{label}.html"
    with running_browser() as browser, watched_page(browser) as watched:
        watched.page.goto(path.as_uri())
        watched.page.emulate_media(media="print")
        found = watched.page.evaluate(MEASURE)
        made = watched.page.pdf(prefer_css_page_size=True, print_background=True)
    assert watched.requests == [path.as_uri()]
    assert watched.messages == []
    return found, len(re.findall(rb"/Type\s*/Page[^s]", made))


def long_names():
    """Return a product whose reach and runs have long names, alike but for their ends."""
    product = walked_product()
    names = {name: f"{LONG} {number}" for number, name in enumerate(product.layers["runs"]["run"])}
    layers = {
        name: frame.assign(run=frame["run"].map(lambda one: names.get(str(one), one)))
        if "run" in frame
        else frame
        for name, frame in product.layers.items()
    }
    plan = replace(product.markup.plan, name=LONG)
    runs = product.runs.assign(run=product.runs["run"].map(lambda one: names[str(one)]))
    cards, back = product.cards, {new: old for old, new in names.items()}
    return replace(
        product,
        layers=layers,
        runs=runs,
        markup=replace(product.markup, plan=plan),
        cards=lambda run, label: cards(back[run], label),
    )


def with_margins_off():
    """Return a product with forty margins switched off and long reasons."""
    made = with_doubt(walked_product(length=2600.0))
    off = [f"margin number {number} in words of its own" for number in range(40)]
    told = STRICT | {"margins_off": off, "rule": "r" * 60, "easy_needs": "needs " * 30}
    return replace(made, report={**made.report, "wading_terms": told})


def with_address():
    """Return a product with five runs whose maps have a place of their own on the net."""
    product = walked_product(length=2600.0)
    address = "https://river.example.org/home/" + "water/" * 20
    plan = replace(product.markup.plan, site_address=address)
    return replace(product, markup=replace(product.markup, plan=plan))


CASES = {
    "as it is": walked_product,
    "an address": with_address,
    "five runs": lambda: walked_product(length=2600.0),
    "long names": long_names,
    "metric": lambda: walked_product(units=UnitSystem.METRIC),
    "no runs": lambda: with_table(
        walked_product(), pick=0, by_boat=False, in_shape=False, shut="no room"
    ),
    "by boat": lambda: with_table(walked_product(), by_boat=True),
    "margins off": with_margins_off,
    "preview": lambda: walked_product(preview=True),
}


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("case", list(CASES))
def test_every_sheet_fits_its_sides_in_nine_point_type(case, paper, tmp_path):
    product = CASES[case]()
    label = product.labels[1]
    found, pages = measured(product, tmp_path, paper, label)
    assert found["over"] == []
    assert TYPE_PX == 12.0  # 9 pt of 1/72 in at 96 px an inch
    assert found["smallest"] >= TYPE_PX - 0.01
    assert pages == found["sides"]
    runs = len(listed(product, label))
    assert pages <= 2 or case == "margins off"
    assert (runs == 0) is (case == "no runs")


def test_the_made_cases_are_what_they_are_called():
    assert len(listed(CASES["five runs"](), "2400cfs")) == 5
    assert listed(CASES["by boat"](), "2400cfs")["by_boat"].all()

"""How sure, where to sound, channels, bars and the log, as one uses them in a real Chromium."""

import pytest

from reachmap.outputs.webmap import write_maps
from tests.axe import findings
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_log import SECRET, with_log
from tests.outputs.webmap.steps import SIZES, settle, spot, tap

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="session")
def full_maps(product, tmp_path_factory):
    folder = tmp_path_factory.mktemp("full-maps")
    write_maps(with_log(with_doubt(product)), folder)
    return folder


@SIZES
def test_a_tap_tells_the_doubt_of_the_depth(browser_page, full_maps, product, size):
    watched = browser_page(full_maps / "index.html", size)
    page = watched.page
    place, depth, _ = spot(product, 1, lambda depth, _: depth > 1.6)
    tap(page, place, size)
    said = page.locator(".reading-now").inner_text()
    assert "depth and speed here are a guess" in said
    # twice 15 % of the depth, rounded up to the next step
    assert depth > 1.6
    assert "give or take 1.6 ft (0.5 m)" in said or "give or take 2.6 ft (0.8 m)" in said
    place, _, _ = spot(product, 1, lambda depth, _: (depth > 0.4) & (depth < 0.5))
    tap(page, place, size)
    said = page.locator(".reading-now").inner_text()
    assert "well supported" in said
    assert "give or take" in said
    assert watched.messages == []


@SIZES
def test_guesses_are_faded_where_the_ensemble_differs(browser_page, full_maps, product, size):
    page = browser_page(full_maps / "index.html", size).page
    place, _, _ = spot(product, 1, lambda depth, _: depth > 1.7)
    page.evaluate(f"reach.map.setView([{place[1]}, {place[0]}], 20, {{animate: false}})")

    def colours():
        return page.evaluate(
            """(place) => {const s = reach.sheet, v = s.view(), c = s._container; s.draw();
            const p = reach.map.latLngToLayerPoint(place).subtract(s._bounds.min);
            const px = c.getContext('2d').getImageData((p.x - 9) * v.ratio, (p.y - 9) * v.ratio,
              18 * v.ratio, 18 * v.ratio).data;
            return [...px].join();}""",
            [place[1], place[0]],
        )

    assert page.evaluate("reach.state.on.has('guess')")
    hatched = colours()
    page.evaluate("reach.state.on.delete('guess')")
    assert colours() != hatched


@SIZES
def test_places_worth_a_note_are_listed_and_lead_to_the_map(browser_page, full_maps, size):
    watched = browser_page(full_maps / "index.html", size)
    page = watched.page
    page.click("#tab-about")
    assert page.locator("[data-ask]").count() == 10
    assert "10 places where a note would help most" in page.locator("#page-about").inner_text()
    page.click("[aria-controls=fold-asks]")
    page.click("[data-ask=A10]")
    settle(page)
    assert page.locator(".card-head h2").inner_text() == "A10: note the edge here"
    assert page.evaluate("reach.state.on.has('ask')")
    assert page.evaluate("reach.map.getBounds().contains(reach.map.getCenter())")
    page.locator("#page-card .plate-button").click()
    assert page.locator("#page-about").is_visible()
    assert watched.messages == []


@SIZES
def test_the_preset_how_sure_shows_guesses_edge_and_places(browser_page, full_maps, size):
    page = browser_page(full_maps / "index.html", size).page
    page.click("#tab-layers")
    page.get_by_role("button", name="How sure").click()
    on = set(page.evaluate("[...reach.state.on]"))
    assert {"guess", "edge_band", "ask", "unknown_water", "hazard"} <= on
    assert "inside_bend" not in on


@SIZES
def test_side_channels_and_bars_open_their_cards(browser_page, full_maps, size):
    watched = browser_page(full_maps / "index.html", size, address="#flow=4000cfs")
    page = watched.page
    for kind, words in (("side_channel", "Wakes at"), ("bar", "Way back is cut off at")):
        place = page.evaluate(
            f"""(() => {{reach.state.on.add('{kind}');
            const f = reach.features().find(f => f.kind === '{kind}' && f.flow === 2);
            const p = L.Projection.SphericalMercator.unproject(L.point(
              reach.data.origin[0] + f.x * reach.data.unit,
              reach.data.origin[1] + f.y * reach.data.unit));
            return [p.lng, p.lat];}})()"""
        )
        tap(page, place, size)
        names = page.locator(".reading .link").all_inner_texts()
        wanted = {"side_channel": "Side channel", "bar": "Bar I1"}[kind]
        page.locator(".reading .link", has_text=wanted).first.click()
        settle(page)
        assert any(name.startswith(wanted) for name in names)
        assert words in page.locator("#page-card").inner_text()
        page.locator("#page-card .plate-button").click()
    assert watched.messages == []


@SIZES
def test_the_log_is_on_the_map_and_in_the_runs_card(browser_page, full_maps, size):
    watched = browser_page(full_maps / "index.html", size)
    page = watched.page
    page.locator("[aria-controls=fold-table]").click()
    page.locator('.cell[data-run="0"][data-flow="1"]').click()
    settle(page)
    assert "Your log: fished 3 times" in page.locator("#page-card").inner_text()
    page.evaluate(
        """(() => {const f = reach.features().find(f => f.kind === 'trip');
        const p = L.Projection.SphericalMercator.unproject(L.point(
          reach.data.origin[0] + f.x * reach.data.unit,
          reach.data.origin[1] + f.y * reach.data.unit));
        window.spot = p; reach.map.fire('click', {latlng: p});})()"""
    )
    page.wait_for_selector(".reading")
    page.locator(".reading .link", has_text="Trip, 2031-01-19").click()
    settle(page)
    assert SECRET in page.locator("#page-card").inner_text()
    assert watched.messages == []


@SIZES
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_a_full_page(browser_page, full_maps, size, scheme):
    page = browser_page(full_maps / "index.html", size, color_scheme=scheme, bypass_csp=True).page
    for open_first in ("#tab-layers", "#tab-about", "[aria-controls=fold-asks]", "[data-ask=A1]"):
        page.locator(open_first).first.click()
        page.wait_for_timeout(150)
        assert (open_first, findings(page)) == (open_first, [])
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, summary')].filter(e => e.offsetParent)
        .map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().height])
        .filter(([, h]) => h < 43.9)"""
    )
    assert small == []

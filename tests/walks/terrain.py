"""The second walk: a terrain model in the folder, drafted, looked at, accepted, built."""

from tests.draft.terrains import valley
from tests.draft.test_store import tile
from tests.walks.person import build_command, say_facts


def walk(person):
    person.types("new", "home-valley")
    tile(person.home / "home-valley" / "valley tile 7.tif", valley(length=800.0))
    with person.draws("home-valley") as sheet:
        page = sheet.page
        page.click("#draft-make")
        page.wait_for_selector("[data-draft-look=banks]", timeout=120_000)
        person.shot("draft", page)
        for layer in ("river", "levels", "edges", "banks"):
            accept(person, sheet, layer)
        assert sheet.state("state.drafted.length") == 0
        say_facts(sheet, name="Home Valley", traced_flow="900", flows="600, 900, 1400")
        assert sheet.state("state.faults") == []
        build_command(sheet)
    return person.builds_and_looks("home-valley", "Home Valley")


def accept(person, sheet, layer):
    """Look at each piece of a kind, say a bank's cover where the terrain does not tell, accept."""
    page = sheet.page
    of_kind = f"state.drafted.filter((one) => one.layer === '{layer}')"
    count = sheet.state(f"{of_kind}.length")
    if count:
        page.click(f"[data-draft-look={layer}]")
    for left in reversed(range(count)):
        page.wait_for_selector("[data-keep=draft-accept]")
        page.wait_for_timeout(80)
        cover = page.locator("input[name=draft-cover]")
        if cover.count() and not page.locator("input[name=draft-cover]:checked").count():
            page.locator("input[name=draft-cover][value=grass]").check(force=True)
            page.wait_for_timeout(80)
            person.shot("draft-bank", page)
        page.click("[data-keep=draft-accept]")
        page.wait_for_timeout(80)
        assert sheet.state(f"{of_kind}.length") == left
    sheet.settle()

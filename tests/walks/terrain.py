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
        accept_lines(sheet)
        accept_banks(person, sheet)
        say_facts(sheet, name="Home Valley", traced_flow="900", flows="600, 900, 1400")
        assert sheet.state("state.faults") == []
        build_command(sheet)
    return person.builds_and_looks("home-valley", "Home Valley")


def accept_lines(sheet):
    """Look at each line and crest and accept it."""
    page = sheet.page
    for layer in ("river", "levels", "edges"):
        if page.locator(f"[data-draft-look={layer}]").count():
            page.click(f"[data-draft-look={layer}]")
            while page.locator("[data-keep=draft-accept]").count():
                page.click("[data-keep=draft-accept]")
                page.wait_for_timeout(80)


def accept_banks(person, sheet):
    """Look at each bank, say its cover where the terrain does not tell, and accept it."""
    page = sheet.page
    page.click("[data-draft-look=banks]")
    for _ in range(200):
        if not page.locator("[data-keep=draft-accept]").count():
            break
        page.wait_for_timeout(60)
        if not page.locator("input[name=draft-cover]:checked").count():
            page.locator("input[name=draft-cover][value=grass]").check(force=True)
            person.shot("draft-bank", page)
        page.click("[data-keep=draft-accept]")
        page.wait_for_timeout(80)
    sheet.settle()
    page.wait_for_timeout(900)
    assert sheet.state("state.drafted.length") == 0

"""axe-core 4.14.1 (npm, MPL-2.0), the outside judge of how a page is for everyone."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

SCRIPT = Path(__file__).parent / "outputs" / "webmap" / "vendor" / "axe.min.js"

LEAST_PASSES = 15
"""Rules that pass on any page worth the name: with fewer, axe has looked at nothing."""


def findings(page: Page) -> list[tuple[str, str, str]]:
    """Return what all of axe's rules find on a page as it stands: rule, element, what is wrong.

    The page's policy must not stand in the way (`bypass_csp`).
    """
    page.evaluate(SCRIPT.read_text(encoding="utf-8") + ";0")
    result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert len(result["passes"]) > LEAST_PASSES
    return [
        (one["id"], one["nodes"][0]["html"][:160], one["nodes"][0]["failureSummary"][:300])
        for one in result["violations"]
    ]

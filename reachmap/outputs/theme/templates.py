"""Templates of the pages that are read from top to bottom: one frame, filled by each page."""

from __future__ import annotations

from functools import cache

import jinja2


@cache
def page_template(package: str, name: str) -> jinja2.Template:
    """Return a page's template; everything that is put in is escaped unless marked.

    Parameters
    ----------
    package
        Dotted name of the package that holds the page.
    name
        File name of the template there; it may extend `document.html` of the theme.
    """
    folders = [jinja2.PackageLoader(one, "") for one in (package, "reachmap.outputs.theme")]
    environment = jinja2.Environment(
        loader=jinja2.ChoiceLoader(folders), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template(name)

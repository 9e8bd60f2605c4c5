"""Jinja environment and templates of document pages, which extend a common frame."""

from __future__ import annotations

from functools import cache

import jinja2

from reachmap.base.language import language, tr, tr_count


@cache
def page_template(package: str, name: str) -> jinja2.Template:
    """Return a page's template; all values are escaped unless marked as markup.

    Parameters
    ----------
    package
        Dotted name of the package that holds the page.
    name
        File name of the template there; it may extend `document.html` of the theme.
    """
    folders = [jinja2.PackageLoader(one, "") for one in (package, "reachmap.outputs.theme")]
    return page_environment(jinja2.ChoiceLoader(folders)).get_template(name)


def page_environment(loader: jinja2.BaseLoader | None = None) -> jinja2.Environment:
    """Return the Jinja environment of pages: autoescaped, undefined names are errors.

    A caution that depends on a name must not appear or vanish because the name was changed.
    """
    made = jinja2.Environment(
        loader=loader,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    made.globals.update(tr=tr, tr_count=tr_count, language=language)
    return made

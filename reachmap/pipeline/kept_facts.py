"""Facts of a build stored next to it: read from there, else made from the build's product."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from reachmap.base.cache import is_good, keep_file
from reachmap.base.progress import Progress
from reachmap.pipeline.stamp import Options

if TYPE_CHECKING:
    from reachmap.markup.model import Markup
    from reachmap.markup.plan_parts import Outing
    from reachmap.outputs.product import Product

Facts = TypeVar("Facts")


@dataclass(frozen=True)
class BuildOnDemand:
    """A build that facts are made from; drawing and product are read once, on first use.

    Parameters
    ----------
    folder, out
        The reach folder and its written folder.
    options
        Of the build.
    progress, workers
        As for `build_reach`.
    """

    folder: Path
    out: Path
    options: Options
    progress: Progress
    workers: int

    @cached_property
    def reach(self) -> Markup:
        """Return the drawing."""
        from reachmap.markup import read_markup  # here, since a stored answer needs none of it

        self.progress("reading the drawing", 0, 1)
        return read_markup(self.folder)

    @cached_property
    def product(self) -> Product:
        """Return the mapped reach, built first where the last build is not up to date."""
        return self._product(self.reach)

    def product_for(self, outing: Outing) -> Product:
        """Return the mapped reach with score, places and lists of those who fish."""
        plan = self.reach.plan
        if (outing.boat, outing.bank) == (plan.outing.boat, plan.outing.bank):
            return self.product
        return self._product(replace(self.reach, plan=replace(plan, outing=outing)))

    def _product(self, reach: Markup) -> Product:
        """Return a mapped reach; the folder is built first where it is not up to date."""
        from reachmap.pipeline.order import build_reach, make_product
        from reachmap.pipeline.stamp import current_report

        out, options = self.out, self.options
        if current_report(self.folder, out, options) is None:
            build_reach(self.reach, out, options, progress=self.progress, workers=self.workers)
        return make_product(reach, out, options, progress=self.progress, workers=self.workers)


def kept_facts(
    path: Path,
    read: Callable[[str], Facts | None],
    write: Callable[[Facts], str],
    make: Callable[[], Facts],
) -> Facts:
    """Return the facts that a file holds; made and kept there where it holds none.

    Parameters
    ----------
    path
        The file, its key in its name.
    read, write
        From text to facts, None for text of another version, and back.
    make
        Makes them anew.
    """
    if is_good(path):
        os.utime(path)
        facts = read(path.read_text(encoding="utf-8"))
        if facts is not None:
            return facts
    facts = make()
    text = write(facts)
    keep_file(path, lambda aside: aside.write_text(text, encoding="utf-8"), Path.read_bytes)
    return facts

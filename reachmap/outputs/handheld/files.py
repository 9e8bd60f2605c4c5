"""Writes the files for a GPS or a phone, in any format: one for each flow and one of all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.language import tr
from reachmap.outputs.handheld.content import (
    DESCRIPTION_LENGTH,
    FileContent,
    Things,
    flow_spots,
    flow_title,
    flow_trails,
    lasting_spots,
)
from reachmap.outputs.handheld.day_route import day_route
from reachmap.outputs.product import Product
from reachmap.text import cautions
from reachmap.text.angler_text import clean_text
from reachmap.text.map_notes import short_between
from reachmap.text.wading_terms import terms_of


def write_files(
    product: Product,
    folder: Path,
    ending: str,
    text_of: Callable[[FileContent], str],
    *,
    long_names: bool,
    labels: tuple[str, ...] | None,
) -> list[Path]:
    """Write one file for each flow and one of all, each atomically; return the paths.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.<ending>` and `all.<ending>` go.
    ending
        Of the files' names, without its dot.
    text_of
        Returns a file's text in the format.
    long_names
        Whether names are in words instead of at most six characters.
    labels
        Flows to write; all, and the file of all, if not given.
    """
    lasting = tuple(lasting_spots(product, long_names=long_names))
    contents: dict[str, FileContent] = {}
    parts: list[tuple[str, Things]] = []
    for label in labels or product.labels:
        title = flow_title(product, label)
        things: Things = (
            *flow_spots(product, label, long_names=long_names),
            *flow_trails(product, label, long_names=long_names),
            *day_route(product, label, long_names=long_names),
        )
        between = short_between(product.between_at(label), product.markup.plan.units)
        about = _about(product, title, between)
        contents[label] = FileContent(*about, (*lasting, *things), flow=title)
        parts.append((title, things))
    if labels is None:
        contents["all"] = FileContent(*_about(product, tr("all flows")), lasting, tuple(parts))
    return [
        _store(text_of(content), folder / f"{name}.{ending}") for name, content in contents.items()
    ]


def _about(product: Product, subject: str, between: str = "") -> tuple[str, str]:
    """Return title and description of a file: grading, cautions, sources."""
    title = clean_text(f"{product.markup.plan.name}: {subject}", 200)
    terms = terms_of(product.report, product.markup.plan.units)
    caution = tr(cautions.IN_FILES)
    caution += tr(cautions.PREVIEW_IN_FILES) if product.preview else ""
    sentences = [*terms.first, caution, *([between] if between else []), *terms.more]
    return title, clean_text(" ".join(sentences), DESCRIPTION_LENGTH)


def _store(text: str, path: Path) -> Path:
    """Write a file atomically."""
    return write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8"))

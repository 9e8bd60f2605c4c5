"""The pocket sheet: one page for each flow, to print, fold and put in a wader pocket."""

from __future__ import annotations

from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.page import sheet_page

__all__ = ["sheet_page", "write_sheets"]


def write_sheets(
    product: Product,
    folder: Path,
    *,
    labels: tuple[str, ...] | None = None,
    paper: str = "",
    pdf: bool = False,
) -> list[Path]:
    """Write one HTML sheet for each flow, optionally with a PDF.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.html` and `<label>.pdf` go.
    labels
        Flows to write; all if not given.
    paper
        A key of `PAPERS`; empty for the one that goes with the folder's units.
    pdf
        Whether to make PDFs too.

    Raises
    ------
    MarkupError
        If PDFs are wanted and the optional library is not installed.
    """
    if pdf and find_spec("weasyprint") is None:
        fix = "pip install 'reachmap[pdf]', or print the HTML sheet from your browser"
        raise MarkupError([Fault("--pdf", "the library that makes PDFs is not installed", fix)])
    pages = {label: sheet_page(product, label, paper=paper) for label in labels or product.labels}
    written = [
        write_aside(folder / f"{label}.html", partial(_write_text, page=page))
        for label, page in pages.items()
    ]
    if pdf:
        written += [
            write_aside(folder / f"{label}.pdf", partial(_write_pdf, page=page))
            for label, page in pages.items()
        ]
    return written


def _write_text(path: Path, *, page: str) -> None:
    """Write a page as it is."""
    path.write_text(page, encoding="utf-8")


def _write_pdf(path: Path, *, page: str) -> None:
    """Write a page as PDF; the library is optional, so it is loaded here only."""
    import_module("weasyprint").HTML(string=page).write_pdf(path)

"""The pocket sheet: one page a flow, to print, fold and put in a wader pocket."""

from __future__ import annotations

from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.page import sheet_page

__all__ = ["sheet_page", "write_sheets"]


def write_sheets(product: Product, folder: Path) -> list[Path]:
    """Write one HTML sheet a flow, and a PDF beside it where the optional library is installed.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.html` and `<label>.pdf` go.
    """
    pages = {label: sheet_page(product, label) for label in product.labels}
    written = [
        write_aside(folder / f"{label}.html", partial(_write_text, page=page))
        for label, page in pages.items()
    ]
    if find_spec("weasyprint") is not None:
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

"""The pocket sheet: one page a flow, to print, fold and put in a wader pocket."""

from __future__ import annotations

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
        write_aside(
            folder / f"{label}.html",
            lambda aside, page=page: aside.write_text(page, encoding="utf-8"),
        )
        for label, page in pages.items()
    ]
    if find_spec("weasyprint") is None:
        return written
    from weasyprint import HTML

    return written + [
        write_aside(
            folder / f"{label}.pdf", lambda aside, page=page: HTML(string=page).write_pdf(aside)
        )
        for label, page in pages.items()
    ]

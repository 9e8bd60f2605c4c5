"""QR code of a URL: SVG for paper, text for a terminal."""

from __future__ import annotations

import io

import segno

QUIET = 4
"""Blank modules on each side (ISO/IEC 18004: four; from memory)."""


def qr_svg(address: str, *, side_mm: float = 20.0) -> str:
    """Return a QR code of a URL as an SVG element, black on white, without an XML declaration.

    Error correction is M, or better where the code does not grow: wet paper smudges.

    Parameters
    ----------
    address
        URL to open; not empty.
    side_mm
        Side on paper, quiet zone included [mm], above 0.

    Raises
    ------
    ValueError
        If the address is empty or too long for a code.
    """
    code = _code(address)
    modules = code.symbol_size(scale=1, border=QUIET)[0]
    stream = io.BytesIO()
    code.save(
        stream,
        kind="svg",
        scale=side_mm / modules,
        unit="mm",
        border=QUIET,
        dark="#000",
        light="#fff",
        xmldecl=False,
        svgclass=None,
        lineclass=None,
        nl=False,
        title=f"QR code of {address}",
    )
    return stream.getvalue().decode("utf-8")


def qr_text(address: str) -> str:
    """Return a QR code of a URL for a terminal: two rows of modules per line.

    Raises
    ------
    ValueError
        As for `qr_svg`.
    """
    stream = io.StringIO()
    _code(address).terminal(out=stream, border=QUIET, compact=True)
    return stream.getvalue()


def _code(address: str) -> segno.QRCode:
    """Return the code."""
    if not address:
        msg = "a QR code wants an address"
        raise ValueError(msg)
    return segno.make_qr(address, error="m", boost_error=True)

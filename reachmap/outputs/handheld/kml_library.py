"""fastkml, imported without its warning that lxml is missing: nothing is written indented."""

from __future__ import annotations

import warnings

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message="Package `lxml` missing")
    import fastkml
    from fastkml.styles import LineStyle, Style

__all__ = ["LineStyle", "Style", "fastkml"]

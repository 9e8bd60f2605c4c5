"""fastkml, imported without its warning that lxml is missing: nothing is written indented."""

from __future__ import annotations

import warnings

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message="Package `lxml` missing")
    import fastkml
    from fastkml import styles
    from fastkml.data import Data, ExtendedData
    from fastkml.styles import BalloonStyle, LabelStyle, LineStyle, Style
    from fastkml.views import LookAt


class IconStyle(styles.IconStyle):
    """Colour and size of a place without a picture of its own, which KML 2.2 allows.

    The library takes one without a picture for empty; a picture would need an address, and the file
    asks for nothing. The element is named after the class.
    """

    def __bool__(self) -> bool:
        """Return that there is something to write."""
        return True


__all__ = [
    "BalloonStyle",
    "Data",
    "ExtendedData",
    "IconStyle",
    "LabelStyle",
    "LineStyle",
    "LookAt",
    "Style",
    "fastkml",
]

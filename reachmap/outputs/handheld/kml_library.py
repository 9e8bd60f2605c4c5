"""Import of fastkml without its warning that lxml is missing, which only affects indentation."""

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
    """Icon style with colour and size but no picture, which KML 2.2 allows.

    The library treats one without a picture as empty; a picture would need a URL, and the file must
    work without a network. The element is named after the class.
    """

    def __bool__(self) -> bool:
        """Return True, so that the element is written."""
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

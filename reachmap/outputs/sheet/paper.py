"""Paper formats of a sheet, and type sizes legible in rain."""

from __future__ import annotations

from dataclasses import dataclass

from reachmap.base.words import UnitSystem

PX_PER_INCH = 96.0

TYPE_PX = 12.0
"""Smallest type [px]: 9 point. Nothing on a sheet, including its maps, is smaller."""

LINE_PX = 14.6
"""Line spacing of that type [px]."""

FACES = 'Arial,"Liberation Sans",Helvetica,"DejaVu Sans",sans-serif'
"""Font families in order of preference."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A page: name in CSS, width and height [in], margin [in]."""

    name: str
    width: float
    height: float
    margin: float = 0.25

    @property
    def inner(self) -> tuple[float, float]:
        """Return the printable width and height [px]."""
        return (
            (self.width - 2 * self.margin) * PX_PER_INCH,
            (self.height - 2 * self.margin) * PX_PER_INCH,
        )


PAPERS = {
    "half-letter": Paper("5.5in 8.5in", 5.5, 8.5),
    "a5": Paper("A5", 148 / 25.4, 210 / 25.4),
    "letter": Paper("letter", 8.5, 11.0),
    "a4": Paper("A4", 210 / 25.4, 297 / 25.4),
}
"""Half letter and letter; A5 and A4 (ISO 216: 148 mm by 210 mm, 210 mm by 297 mm)."""

USUAL = {UnitSystem.US: "half-letter", UnitSystem.METRIC: "a5"}
"""Default paper by the folder's units."""

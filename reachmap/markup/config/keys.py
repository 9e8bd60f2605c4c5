"""The base of a section of reach.toml, and the kinds of keys that most sections have."""

from __future__ import annotations

from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

from reachmap.markup.config.kinds import Kind, Number, Row, Text
from reachmap.markup.layers import FLOW_LIMITS, Quantity


class Keys(BaseModel):
    """A section of reach.toml.

    In a new folder's file `about` is the comment after its name, `commented` makes it a comment,
    and `more` is a further block of it, in US and in metric units.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    about: ClassVar[str] = ""
    commented: ClassVar[bool] = False
    more: ClassVar[tuple[str, str]] = ("", "")

    @classmethod
    def kinds(cls) -> dict[str, tuple[Kind, Any]]:
        """Return kind and default of each key; the default of a required key is None."""
        return {
            field.alias or name: (kind, None if field.is_required() else field.default)
            for name, field in cls.model_fields.items()
            for kind in field.metadata
            if isinstance(kind, Kind)
        }


def length_key(low: float, high: float, meaning: str = "", *example: str, **more: Any) -> Number:
    """Return a length [m]."""
    return Number(meaning, example, low=low, high=high, **more)


def flow_key(meaning: str = "", *example: str, low: float = FLOW_LIMITS[0], **more: Any) -> Number:
    """Return a flow [m3/s]."""
    return length_key(low, FLOW_LIMITS[1], meaning, *example, quantity=Quantity.FLOW, **more)


def ratio_key(low: float, high: float, meaning: str, example: str, **more: Any) -> Number:
    """Return a plain number."""
    return Number(meaning, example, low=low, high=high, quantity=None, **more)


def missing_key(key: str, what: str = "...") -> tuple[str, str]:
    """Return the fault and remedy of a missing key."""
    return f"{key} is missing", f"Add {key} = {what}"


def texts_key(of: Text, meaning: str, example: str | tuple[str, str], **more: Any) -> Row:
    """Return a text or a list of texts."""
    fix = 'Write it like ["one", "two"]'
    return Row(meaning, example, of=(of,), what="a list of texts", fix=fix, alone=True, **more)

"""Access to untrusted JSON of gauge files: a value of an unexpected type counts as missing."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from reachmap.gauge.parts import Parts


def loaded(file: str, text: str, parts: Parts) -> Any:
    """Return the value of a JSON text; None, and a fault, where it cannot be parsed."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        parts.fault(file, "it is not whole JSON", "Fetch it again")
        return None


def mapping(value: object) -> Mapping[str, Any]:
    """Return a JSON object; an empty one for anything else."""
    return value if isinstance(value, dict) else {}


def mappings(value: object) -> list[Mapping[str, Any]]:
    """Return the objects in a JSON list; [] for anything else."""
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def first(value: object) -> Mapping[str, Any]:
    """Return the first object of a JSON list; an empty one where there is none."""
    return next(iter(mappings(value)), {})


def words(value: object) -> str:
    """Return a JSON value as text; "" for none and for what is no single value."""
    return "" if value is None or isinstance(value, (dict, list)) else str(value).strip()

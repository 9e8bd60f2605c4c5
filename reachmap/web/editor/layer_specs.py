"""Layer schemas as JSON for the page: names, geometries, fields, allowed words and units."""

from __future__ import annotations

from typing import Any

from reachmap.base.units import DISTANCE, FACTORS, FLOW, LENGTH
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS, LayerField, LayerSpec
from reachmap.markup.quantities import unit_of


def layers_json(units: UnitSystem) -> list[dict[str, Any]]:
    """Return every layer with its fields."""
    return [_layer(spec, units) for spec in LAYER_FIELDS.values()]


def units_json(units: UnitSystem) -> dict[str, Any]:
    """Return the folder's units of length, distance and flow, and how long the two are [m]."""
    length, distance = LENGTH[units], DISTANCE[units]
    return {
        "system": str(units),
        "length": length,
        "distance": distance,
        "flow": FLOW[units],
        "length_m": FACTORS[length],
        "distance_m": FACTORS[distance],
    }


def _layer(spec: LayerSpec, units: UnitSystem) -> dict[str, Any]:
    """Return one layer."""
    return {
        "name": spec.name,
        "shapes": list(spec.shapes),
        "meaning": spec.meaning,
        "required": spec.required,
        "fields": [_field(field, units) for field in spec.fields],
    }


def _field(field: LayerField, units: UnitSystem) -> dict[str, Any]:
    """Return one field."""
    words = [] if field.words is None else [[str(word), word.meaning] for word in field.words]
    return {
        "name": field.name,
        "quantity": str(field.quantity),
        "number": field.quantity in NUMBERS,
        "unit": unit_of(field.quantity, units) if field.quantity in NUMBERS else "",
        "meaning": field.meaning,
        "words": words,
        "default": "" if field.default is None else str(field.default),
        "required": field.required,
    }

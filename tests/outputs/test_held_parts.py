"""What the writers hold between builds is made of nothing but the parts it is held by."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from reachmap.base.grid import Grid
from reachmap.base.held import holding
from reachmap.outputs.product import PARTS, WATERS
from reachmap.outputs.webmap import MapPlan, MapSettings, _tiles
from reachmap.outputs.webmap.budget import plan_maps
from reachmap.outputs.webmap.coverage import covered_shares
from reachmap.outputs.webmap.layers import Group, groups, thin_for
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.still import still_maker
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product

PLAIN = {"labels", "preview", "once", "held"}
DRAWN = ("rivers", "banks", "soundings", "access", "hazards", "crs", "dems")
ROW_NAMES = {"run", "instead"}


class Seen:
    """A product of which only some parts can be read; anything else of it is an error."""

    def __init__(self, product, parts):
        self.product, self.parts = product, parts

    def __getattr__(self, name):
        if name in PLAIN:
            return getattr(self.product, name)
        if name in {"ground", "flows", "doubt"} and name in self.parts:
            return getattr(self.product, name)
        if name == "layers":
            return {key: self._bare(key) for key in self.product.layers if self._has(key)}
        if name == "markup" and {"words", "drawing"} & set(self.parts):
            return self._markup()
        msg = f"{name} is read, which is none of {self.parts}"
        raise AssertionError(msg)

    def _has(self, layer):
        if layer == "asks":
            return "asks" in self.parts
        return "layers" in self.parts or (layer in WATERS and "waters" in self.parts)

    def _bare(self, layer):
        frame = self.product.layers[layer]
        if "names" in self.parts:
            return frame
        return frame.drop(columns=[one for one in ROW_NAMES if one in frame])

    def _markup(self):
        markup, found = self.product.markup, {}
        if "words" in self.parts:
            found["plan"] = SimpleNamespace(units=markup.plan.units, locale=markup.plan.locale)
        if "drawing" in self.parts:
            found |= {name: getattr(markup, name) for name in DRAWN}
        return SimpleNamespace(**found)


@pytest.fixture(scope="module")
def product():
    return with_doubt(made_product())


@pytest.mark.parametrize("group", [one for one in groups() if one.parts], ids=lambda g: g.name)
def test_features_of_a_group_are_made_of_its_parts_alone(product, group: Group):
    thin = thin_for(product, 0.2)
    whole = list(group.make(product, thin))
    seen = list(group.make(Seen(product, {*group.parts, "ground"}), thin))
    assert len(seen) == len(whole) > 0
    for one, other in zip(seen, whole, strict=True):
        assert (one.card, one.label, one.mark) == (other.card, other.label, other.mark)
        assert all(np.array_equal(a, b) for a, b in zip(one.rings, other.rings, strict=True))


def test_the_still_is_made_of_its_parts_alone(product):
    page = PageGrid.over(Grid.of(product.ground))
    parts = []

    class Asked(Seen):
        def __getattr__(self, name):
            if name == "once":
                return lambda _, asked, make, __: parts.append(asked) or make()
            return super().__getattr__(name)

    seen = Asked(product, {"ground", "flows", "waters", "layers", "drawing", "words"})
    assert still_maker(seen, page)(0).data == still_maker(product, page)(0).data
    assert set(parts[0]) == seen.parts


def made():
    """Return a made product with water that casts cover."""
    product = made_product()
    covered = product.layers["water"][["flow_label", "geometry"]]
    return replace(product, layers={**product.layers, "covered": covered})


def keyed(product, **other):
    """Return the product with a key for each part."""
    keys = {part: f"key of {part}" for part in PARTS} | other
    object.__setattr__(product, "keys", keys)
    product.held.clear()
    return product


def tiles_of(product):
    """Return the coded rasters of a product."""
    page, settings = PageGrid.over(Grid.of(product.ground)), MapSettings()
    return _tiles(product, page, MapPlan(1, 1, 0.2, 0), settings)


USERS = {
    "map plan": (
        lambda product: plan_maps(product, MapSettings()),
        {"ground", "flows", "doubt", "layers", "asks", "words"},
    ),
    "shares": (covered_shares, {"layers"}),
    "tiles": (tiles_of, {"ground", "flows", "doubt"}),
    "grade tiles": (tiles_of, {"ground", "flows", "layers"}),
    "still": (
        lambda product: still_maker(product, PageGrid.over(Grid.of(product.ground)))(0),
        {"ground", "flows", "waters", "layers", "drawing", "words"},
    ),
}
"""What is held, what makes it, and the parts of which a change makes it anew."""


@pytest.mark.parametrize("name", USERS)
def test_a_change_of_any_of_its_parts_makes_a_held_result_anew_and_no_other_change(name):
    make, parts = USERS[name]
    product = made()
    with holding() as mine:
        make(keyed(product))
        mine.drop_unused()
        for part in PARTS:
            make(keyed(product, **{part: "changed"}))
            assert (name in mine.made) is (part in parts), part
            mine.made.clear()


def test_nothing_is_held_of_a_product_without_keys():
    product = made()
    with holding() as mine:
        plan_maps(product, MapSettings())
        assert not mine.results


def test_what_a_build_did_not_ask_for_is_dropped():
    product = made()
    with holding() as mine:
        covered_shares(keyed(product))
        assert mine.results
        mine.drop_unused()
        assert mine.results
        mine.drop_unused()
        assert not mine.results

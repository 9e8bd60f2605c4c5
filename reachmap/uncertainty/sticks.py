"""Survey suggestions: where timing a stick would narrow a roughness most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.packed import known_cells, values_at
from reachmap.base.patches import nearest_cells
from reachmap.ground import GroundSettings
from reachmap.ground.cover_classes import CHANNEL, CLASS_CODES
from reachmap.ground.fit_settings import FitSettings

OPEN = "channel"
"""Name of the channel's own class, beside those of `CLASS_CODES`."""


@dataclass(frozen=True, slots=True)
class StickSettings:
    """Where a stick can be timed, and how speed follows roughness."""

    throw_m: float = 15.0
    """Farthest from dry ground that a stick is thrown and watched [m]; our choice, 8-25."""
    least_depth_m: float = 0.3
    least_speed_m_s: float = 0.2
    """Thinner water catches a stick, slower water is not worth timing; our choice, 0.2-0.5 and
    0.1-0.3."""
    apart_widths: float = 2.0
    """Least distance between two sticks on one class, in widths of the river: roughness varies from
    place to place. Our choice, 1-3."""
    channel_power: float = 0.6
    """Speed of the channel goes with its roughness to minus this at one flow, since a rougher river
    runs deeper: v ~ Q^0.4 n^-0.6 of a wide channel by Manning's formula. Growth beside it, at the
    slope the channel sets, to minus 1."""


@dataclass(frozen=True, slots=True)
class Stick:
    """One place where timing a stick would help.

    Parameters
    ----------
    cell
        Flat number of the cell.
    flow
        Discharge at which it is timed [m3/s].
    cover
        Class of cover whose roughness it narrows: `OPEN`, or a name of `CLASS_CODES`.
    gain
        Variance of speed, over all water that matters, that it removes given those before it
        [m2/s2 times weight].
    """

    cell: int
    flow: float
    cover: str
    gain: float


@dataclass(slots=True)
class _Class:
    """Water of one class of cover: where a stick can be timed, and what knowing it is worth.

    `sd` is the standard deviation of the logarithm of its roughness, `power` that of roughness in
    speed, `worth` the sum of p (1 - p) (dv / d ln n)^2 over its water.
    """

    name: str
    sd: float
    power: float
    worth: float = 0.0
    cells: list[IntArray] = field(default_factory=list)
    flows: list[FloatArray] = field(default_factory=list)
    speeds: list[FloatArray] = field(default_factory=list)


def suggest_sticks(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    uncertainty: xr.Dataset,
    roughness_sd: Mapping[str, float],
    settings: GroundSettings,
    count: int = 10,
    rules: StickSettings | None = None,
) -> tuple[list[Stick], float]:
    """Return where timing sticks would help most, the best first, and the variance there is.

    A class is worth the variance of its log roughness times the water of it where a note can change
    the answer: the sum over cells and flows of p (1 - p) (dv / d ln n)^2. Greedy: each next stick
    is on the class whose variance left by the ones before it reduces most, at the place and flow
    with the most information: the largest slope of speed over its standard error.

    Parameters
    ----------
    ground, flowing, uncertainty
        Datasets of the stages.
    roughness_sd
        Standard deviation of the logarithm of the roughness of each class, by name.
    settings
        Of the ground stage.
    count
        How many.
    rules
        Where a stick can be timed.

    Returns
    -------
    tuple
        The sticks, and the variance of speed over all water that matters [m2/s2 times weight].
    """
    rules = rules or StickSettings()
    classes = _classes(ground, flowing, uncertainty, roughness_sd, rules)
    whole = sum(one.worth * one.sd**2 for one in classes)
    places = {one.name: _Places.of(one, ground, settings.fitting) for one in classes if one.cells}
    width = Centreline.of(ground).median_width
    taken: list[Stick] = []
    while len(taken) < count:
        offers = [
            (one.worth * one.sd**2 * (1 - left), -number, left, one)
            for number, one in enumerate(classes)
            if one.name in places and (left := places[one.name].left(one.sd)) < 1
        ]
        if not offers:
            break
        gain, _, left, best = max(offers, key=lambda offer: offer[:2])
        if gain <= 0:
            break
        cell, flow = places[best.name].take(rules.apart_widths * width)
        best.sd *= float(np.sqrt(left))
        taken.append(Stick(cell, flow, best.name, gain))
    return taken, whole


@dataclass(slots=True)
class _Places:
    """Places of one class where a stick can be timed, with its information there; shape (n,)."""

    cells: IntArray
    flows: FloatArray
    information: FloatArray
    x: FloatArray
    y: FloatArray

    @classmethod
    def of(cls, water: _Class, ground: xr.Dataset, rules: FitSettings) -> _Places:
        """Return the places of a class; information is slope over standard error, squared."""
        cells = np.concatenate(water.cells)
        speed = np.concatenate(water.speeds)
        own = rules.speed_error_m_s + rules.speed_error_share * speed
        error = np.hypot(own, rules.model_speed_share * speed)
        row, col = np.divmod(cells, ground.sizes["x"])
        x, y = ground["x"].to_numpy()[col], ground["y"].to_numpy()[row]
        information = (water.power * speed / error) ** 2
        return cls(cells, np.concatenate(water.flows), information, x, y)

    def left(self, sd: float) -> float:
        """Return the share of a class's variance that its best stick leaves; 1 without a place."""
        if not self.information.size:
            return 1.0
        # Bayes for a normal prior: the precision 1 / sd^2 grows by the stick's information.
        return float(1 / (1 + sd**2 * self.information.max()))

    def take(self, apart: float) -> tuple[int, float]:
        """Return the best place and its flow; what lies nearer than `apart` [m] goes with it."""
        best = int(np.argmax(self.information))
        found = int(self.cells[best]), float(self.flows[best])
        far = np.hypot(self.x - self.x[best], self.y - self.y[best]) >= apart
        for name in ("cells", "flows", "information", "x", "y"):
            setattr(self, name, getattr(self, name)[far])
        return found


def _classes(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    uncertainty: xr.Dataset,
    roughness_sd: Mapping[str, float],
    rules: StickSettings,
) -> list[_Class]:
    """Return the classes of cover with their water, one flow looked at after the other."""
    codes = {OPEN: CHANNEL, **CLASS_CODES}
    classes = [
        _Class(name, roughness_sd[name], rules.channel_power if name == OPEN else 1.0)
        for name in codes
        if name in roughness_sd
    ]
    for index, flow in enumerate(flowing["flow"].to_numpy()):
        water, odds = flowing.isel(flow=index), uncertainty.isel(flow=index)
        cells, depth = known_cells(water["depth"])
        speed = np.hypot(*(values_at(water[f"{one}_speed"], cells) for one in ("east", "north")))
        chance = np.nan_to_num(values_at(odds["suits_chance"], cells)).astype(np.float64)
        moves = chance * (1 - chance) * np.nan_to_num(speed) ** 2
        cover = values_at(ground["cover"], cells)
        can = (depth >= rules.least_depth_m) & (speed >= rules.least_speed_m_s)
        can[can] = _near_dry(ground, cells, can, rules.throw_m)
        for one in classes:
            mine = cover == codes[one.name]
            one.worth += one.power**2 * float(moves[mine].sum())
            here = mine & can
            one.cells.append(cells[here])
            one.speeds.append(speed[here].astype(np.float64))
            one.flows.append(np.full(int(here.sum()), float(flow)))
    return classes


def _near_dry(ground: xr.Dataset, wet: IntArray, some: np.ndarray, throw_m: float) -> np.ndarray:
    """Return which of `some` of the wet cells lie within a throw of dry, known ground."""
    shape = (ground.sizes["y"], ground.sizes["x"])
    dry = np.isfinite(ground["bed"].to_numpy())
    dry.ravel()[wet] = False
    reach = throw_m / float(ground.attrs["cell"])
    rows, cols = (one.astype(np.int32) for one in np.divmod(wet[some], shape[1]))
    return np.asarray(nearest_cells(dry, rows, cols, ceil(reach))[0] <= reach)

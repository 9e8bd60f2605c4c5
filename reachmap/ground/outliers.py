"""Outlier detection for soundings: which are set aside, by name and reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.bed import Bed
from reachmap.ground.layout import Layout
from reachmap.ground.levels import Levels
from reachmap.ground.rises import rises_at
from reachmap.ground.settings import JudgeSettings
from reachmap.ground.used import Fact, Kind, Why
from reachmap.markup.model import BY_PHONE, Sounding


@dataclass(frozen=True, slots=True)
class Accepted:
    """The soundings that can be used.

    Parameters
    ----------
    index
        Which of those given.
    cell
        Number of each one's cell.
    bed
        Height of the bed at it [m].
    facts
        Of each one given: used, or why it was set aside.
    """

    index: np.ndarray
    cell: np.ndarray
    bed: FloatArray
    facts: tuple[Fact, ...]


@dataclass(slots=True)
class _Pile:
    """Soundings under judgement: arrays side by side."""

    facts: list[Fact]
    cell: np.ndarray
    bed: FloatArray
    level: FloatArray
    by_depth: np.ndarray

    @property
    def open(self) -> np.ndarray:
        """Return which are not set aside."""
        return np.array([one.why is Why.USED for one in self.facts], dtype=bool)

    def refuse(self, which: np.ndarray, why: Why, values: FloatArray) -> None:
        """Set aside those in `which` still open; `values` are the numbers that the reason names."""
        for index in np.flatnonzero(which & self.open):
            self.facts[index] = replace(self.facts[index], why=why, value=float(values[index]))


def without_outliers(
    soundings: Sequence[Sounding],
    layout: Layout,
    bed: Bed,
    levels: Levels,
    settings: JudgeSettings,
    *,
    absolute: bool,
    trusted: bool = False,
) -> Accepted:
    """Return the soundings as bed heights, without those that cannot be true.

    Parameters
    ----------
    soundings
        As the angler gave them.
    layout, bed
        The drawing and the bed before soundings.
    levels
        Of the water by flow.
    settings
        What is set aside.
    absolute
        Whether heights are of a datum, so that a bed given as a height can be used.
    trusted
        Whether the angler declared their depths right, however deep.
    """
    pile = _piled(soundings, layout, bed, levels, absolute=absolute)
    _refuse_on_dry_ground(pile, bed, settings)
    _refuse_other_datum(pile, bed, settings)
    if not trusted:
        _refuse_too_deep(pile, layout, bed, settings)
    good = pile.open
    return Accepted(np.flatnonzero(good), pile.cell[good], pile.bed[good], tuple(pile.facts))


def _piled(
    soundings: Sequence[Sounding], layout: Layout, bed: Bed, levels: Levels, *, absolute: bool
) -> _Pile:
    """Return the soundings with their cells, levels and bed heights; the unusable set aside."""
    x = np.array([one.place.x for one in soundings])
    y = np.array([one.place.y for one in soundings])
    cell = layout.corridor.at(x, y)
    level, height = np.full((2, len(soundings)), np.nan)
    facts = [fact_of(one, number) for number, one in enumerate(soundings, start=1)]
    risen: list[int] = []
    for index, (one, at) in enumerate(zip(soundings, cell, strict=True)):
        why = Why.USED
        if at < 0 or not layout.along[at]:
            why = Why.OUTSIDE
        elif np.isfinite(one.bed_m):
            height[index] = one.bed_m
            why = Why.USED if absolute else Why.NO_DATUM
        elif not np.isfinite(one.flow) or not np.isfinite(one.depth_m):
            why = Why.NO_FLOW
        else:
            risen.append(index)
        facts[index] = replace(facts[index], why=why)
    flow, depth = (
        np.array([getattr(one, name) for one in soundings], dtype=np.float64)[risen]
        for name in ("flow", "depth_m")
    )
    at = cell[risen]
    level[risen] = bed.low_level[at] + rises_at(levels, flow, layout.main_station[at])
    height[risen] = level[risen] - depth
    by_depth = np.array([not np.isfinite(one.bed_m) for one in soundings])
    return _Pile(facts, cell, height, level, by_depth)


def fact_of(sounding: Sounding, number: int) -> Fact:
    """Return a sounding as a fact, used so far; `number` names it where it has no name."""
    edge = sounding.origin in BY_PHONE and sounding.depth_m == 0
    name = sounding.name or ("" if sounding.origin in BY_PHONE else str(number))
    kind = Kind.EDGE if edge else Kind.SOUNDING
    return Fact(kind, sounding.origin, name, sounding.readings, sounding.date)


def _refuse_on_dry_ground(pile: _Pile, bed: Bed, settings: JudgeSettings) -> None:
    """Set aside soundings on ground above their water, or that a DEM saw dry and elsewhere."""
    ground = np.where(bed.under[pile.cell], np.nan, bed.height[pile.cell])
    above = ground - pile.level
    pile.refuse(pile.by_depth & (above > settings.dry_m), Why.DRY_GROUND, above)
    off = pile.bed - ground
    far = bed.from_dem[pile.cell] & (np.abs(off) > settings.disagree_m)
    pile.refuse(far, Why.DEM_GROUND, off)


def _refuse_other_datum(pile: _Pile, bed: Bed, settings: JudgeSettings) -> None:
    """Set aside bed heights that stand far from the water's."""
    off = bed.low_level[pile.cell] - pile.bed
    far = ~pile.by_depth & ((off < -settings.datum_m) | (off > 4 * settings.datum_m))
    pile.refuse(far, Why.OTHER_DATUM, -off)


def _refuse_too_deep(pile: _Pile, layout: Layout, bed: Bed, settings: JudgeSettings) -> None:
    """Set aside soundings many times deeper than the flow allows and than all others."""
    wet = pile.open & bed.under[pile.cell]
    if not wet.any():
        return
    deepest = np.ones(len(pile.bed))
    for number, (channel, form) in enumerate(zip(layout.channels, bed.forms, strict=True)):
        mine = layout.owner[pile.cell] == number
        station = layout.station[pile.cell[mine]]
        deepest[mine] = np.interp(station, channel.line.station, form.depth.max(axis=1))
    times = (bed.low_level[pile.cell] - pile.bed) / np.maximum(deepest, 0.2)
    middle = float(np.median(times[wet]))
    if wet.sum() >= settings.few and middle > settings.all_too_deep:
        share = float(np.mean(times[wet] > settings.all_too_deep / 2))
        if share > 0.5:
            shared = np.full(times.shape, middle)
            pile.refuse(wet & pile.by_depth, Why.ALL_TOO_DEEP, shared)
            return
    # Only one deeper than the section allows can be too deep, so the others need no look.
    for index in np.flatnonzero(wet & (times > settings.too_deep)):
        others = np.delete(times, index)[np.delete(wet, index)]
        usual = max(float(np.percentile(others, 75)), 1.0) if others.size else 1.0
        if times[index] > settings.too_deep * usual:
            alone = np.arange(times.size) == index
            pile.refuse(alone, Why.TOO_DEEP, times)

"""Judging soundings: which can be believed, which are set aside, by name and with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.bed import Bed
from reachmap.ground.layout import Layout
from reachmap.ground.levels import Levels
from reachmap.ground.settings import JudgeSettings
from reachmap.markup.model import Sounding


@dataclass(frozen=True, slots=True)
class Judged:
    """The soundings that can be used.

    Parameters
    ----------
    cell
        Number of each one's cell.
    bed
        Height of the bed at it [m].
    notes
        What was set aside, by name.
    """

    cell: np.ndarray
    bed: FloatArray
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Pile:
    """Soundings under judgement: arrays side by side, `why` "" where nothing speaks against one."""

    names: list[str]
    cell: np.ndarray
    bed: FloatArray
    level: FloatArray
    by_depth: np.ndarray
    why: list[str]

    @property
    def open(self) -> np.ndarray:
        """Return which are not set aside."""
        return np.array([not reason for reason in self.why], dtype=bool)

    def refuse(self, which: np.ndarray, reasons: Sequence[str]) -> None:
        """Set aside those in `which` that are still open."""
        for index in np.flatnonzero(which & self.open):
            self.why[index] = reasons[int(index)]


def judge(
    soundings: Sequence[Sounding],
    layout: Layout,
    bed: Bed,
    levels: Levels,
    settings: JudgeSettings,
    *,
    absolute: bool,
    trusted: bool = False,
) -> Judged:
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
    notes = [
        f"Sounding {name} was set aside: {reason}."
        for name, reason in zip(pile.names, pile.why, strict=True)
        if reason
    ]
    good = pile.open
    return Judged(pile.cell[good], pile.bed[good], tuple(notes))


def _piled(
    soundings: Sequence[Sounding], layout: Layout, bed: Bed, levels: Levels, *, absolute: bool
) -> _Pile:
    """Return the soundings with their cells, levels and bed heights; the unusable set aside."""
    x = np.array([one.place.x for one in soundings])
    y = np.array([one.place.y for one in soundings])
    cell = layout.corridor.at(x, y)
    level, height = np.full((2, len(soundings)), np.nan)
    why = [""] * len(soundings)
    rises: dict[float, FloatArray] = {}
    for index, (one, at) in enumerate(zip(soundings, cell, strict=True)):
        if at < 0 or not layout.along[at]:
            why[index] = "it lies outside the drawn reach"
        elif np.isfinite(one.bed_m):
            height[index] = one.bed_m
            if not absolute:
                why[index] = "it gives a height, and without a DEM heights here are local"
        elif not np.isfinite(one.flow) or not np.isfinite(one.depth_m):
            why[index] = "it says no depth, or not at which flow"
        else:
            if one.flow not in rises:
                rises[one.flow] = levels.rise(one.flow, layout.main_station)
            level[index] = bed.low_level[at] + rises[one.flow][at]
            height[index] = level[index] - one.depth_m
    by_depth = np.array([not np.isfinite(one.bed_m) for one in soundings])
    names = [one.name or str(number) for number, one in enumerate(soundings, start=1)]
    return _Pile(names, cell, height, level, by_depth, why)


def _refuse_on_dry_ground(pile: _Pile, bed: Bed, settings: JudgeSettings) -> None:
    """Set aside soundings on ground above their water, or that a DEM saw dry and elsewhere."""
    ground = np.where(bed.under[pile.cell], np.nan, bed.height[pile.cell])
    above = ground - pile.level
    reasons = [
        f"the ground there stands {rise:.1f} m above the water of its flow" for rise in above
    ]
    pile.refuse(pile.by_depth & (above > settings.dry_m), reasons)
    off = pile.bed - ground
    reasons = [f"its bed lies {miss:+.1f} m from the DEM's dry ground" for miss in off]
    pile.refuse(bed.from_dem[pile.cell] & (np.abs(off) > settings.disagree_m), reasons)


def _refuse_other_datum(pile: _Pile, bed: Bed, settings: JudgeSettings) -> None:
    """Set aside bed heights that stand far from the water's."""
    off = bed.low_level[pile.cell] - pile.bed
    far = ~pile.by_depth & ((off < -settings.datum_m) | (off > 4 * settings.datum_m))
    reasons = [
        f"its height is {-miss:+.1f} m from the low water: another datum, or feet?" for miss in off
    ]
    pile.refuse(far, reasons)


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
            reason = (
                f"the soundings run about {middle:.1f} times as deep as the flow allows: "
                "feet given as metres, or a wrong flow?"
            )
            pile.refuse(wet & pile.by_depth, [reason] * len(pile.bed))
            return
    for index in np.flatnonzero(wet):
        others = np.delete(times, index)[np.delete(wet, index)]
        usual = max(float(np.percentile(others, 75)), 1.0) if others.size else 1.0
        if times[index] > settings.too_deep * usual:
            pile.why[index] = (
                f"it is {times[index]:.0f} times as deep as its section carries; a wrong decimal?"
            )

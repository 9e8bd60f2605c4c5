"""Candidate swing water: cells claimed by each rule in order of rank, cut into pieces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.patches import cells_of
from reachmap.base.words import Side, WaterKind
from reachmap.markup.model import SeasonLimits
from reachmap.water._kernels import ISLAND
from reachmap.water.bends import Bend
from reachmap.water.field import WaterField
from reachmap.water.seams import Seam
from reachmap.water.settings import WaterSettings
from reachmap.water.soft_odds import soft_odds
from reachmap.water.stretches import Sections, cuts_of, parts_between
from reachmap.water.tailouts import Tailout
from reachmap.water.zones import Zone, pieces, tidied


@dataclass(frozen=True, slots=True)
class Features:
    """Bends, seams, tailouts and channels found before any water is claimed.

    `owner` is the channel of each cell, -1 dry; `codes` the channels' codes in that order, "main"
    for all of the main way; `sections` are those of the main line.
    """

    bends: list[Bend]
    seams: list[Seam]
    tailouts: list[Tailout]
    owner: IntArray
    codes: list[str]
    sections: Sections


def soft_water(odds: FloatArray, line: float) -> BoolArray:
    """Return the cells that suit the season's fish with odds of `line` or more; no unknown one."""
    with np.errstate(invalid="ignore"):
        return np.asarray(odds >= line)


def inside_tags(
    field: WaterField, bends: list[Bend], inner_share: float, tail_widths: float
) -> IntArray:
    """Return the number of the bend whose inside each cell lies in, 0 for none.

    Inside: nearer the inner edge of the cell's channel than `inner_share` of its width, from the
    bend's start to `tail_widths` below its end.
    """
    tags = np.zeros(field.wet.shape, dtype=np.int32)
    for bend in bends:
        end = bend.station_end_m + tail_widths * bend.width_m
        rows, cols = field.between(bend.station_m, end)
        gap = field.gap_left if bend.inside is Side.LEFT else field.gap_right
        inner = gap.of_cells(rows, cols) <= inner_share * field.section.of_cells(rows, cols)
        tags[rows[inner], cols[inner]] = bend.number
    return tags


def tailout_tags(
    field: WaterField, features: Features, odds: FloatArray, share_low: float
) -> IntArray:
    """Return the number of the tailout each cell lies in (1 is the first), 0 for none.

    The stations between a tailout's start and lip, in its own channel. A tailout of which less than
    `share_low` is expected to suit - the mean of its cells' odds, unknown ones 0 - has no water of
    its own: it is drowned, and only its edges are left.
    """
    tags = np.zeros(field.wet.shape, dtype=np.int32)
    for number, tailout in enumerate(features.tailouts, start=1):
        thalweg = tailout.thalweg
        start, end = thalweg.station[tailout.start], thalweg.station[tailout.lip]
        rows, cols = field.between(min(start, end), max(start, end))
        own = [i for i, code in enumerate(features.codes) if code == thalweg.channel]
        mine = np.isin(features.owner[rows, cols], own)
        rows, cols = rows[mine], cols[mine]
        if rows.size and np.nan_to_num(odds[rows, cols]).mean() >= share_low:
            tags[rows, cols] = number
    return tags


def seam_tags(
    field: WaterField, seams: list[Seam], slow_layers: float, fast_layers: float
) -> IntArray:
    """Return the number of the seam each cell lies beside (1 is the first), 0 for none.

    A seam's own water is its line with the soft side: on the slower side as far as `slow_layers`
    times its thickness, on the quicker `fast_layers` times.
    """
    tags = np.zeros(field.wet.shape, dtype=np.int32)
    if not seams:
        return tags
    points = np.concatenate([seam.points for seam in seams])
    which = np.repeat(np.arange(len(seams)), [len(seam.points) for seam in seams])
    inner = np.concatenate([np.gradient(seam.points, axis=0) for seam in seams])
    wet = np.column_stack(cells_of(field.wet))
    place = field.grid.points(wet[:, 0], wet[:, 1])
    thick = np.array([seam.thickness_m for seam in seams])
    reach = max(slow_layers, fast_layers) * float(thick.max())
    found = [np.asarray(a) for a in cKDTree(points).query(place, distance_upper_bound=reach)]
    close = np.isfinite(found[0])
    far, near = found[0][close], found[1][close]
    rows, cols = wet[close].T
    to = place[close] - points[near]
    left = inner[near, 0] * to[:, 1] - inner[near, 1] * to[:, 0] > 0
    slow_left = np.array([seam.slow_side is Side.LEFT for seam in seams])[which[near]]
    layers = np.where(left == slow_left, slow_layers, fast_layers)
    keep = far <= layers * thick[which[near]]
    tags[rows[keep], cols[keep]] = which[near[keep]] + 1
    return tags


def edge_tags(field: WaterField, limits: SeasonLimits) -> IntArray:
    """Return 1 on the left and 2 on the right half where the main current is too quick, else 0."""
    tags = half_tags(field)
    with np.errstate(invalid="ignore"):
        pushed = field.quickest.values > limits.speed_high_m_s
    tags[cells_of(field.wet)] *= pushed
    return tags


def away_from_ends(field: WaterField, widths: float) -> BoolArray:
    """Return the wet cells farther than so many river widths from where the mapped water ends.

    How the water enters and leaves is assumed there.
    """
    rows, cols = field.between(-np.inf, np.inf)
    inside = np.zeros(field.wet.shape, dtype=bool)
    if rows.size:
        station, spare = field.station[rows, cols], widths * field.width
        keep = (station >= station.min() + spare) & (station <= station.max() - spare)
        inside[rows[keep], cols[keep]] = True
    return inside


def half_tags(field: WaterField) -> IntArray:
    """Return 1 in the left and 2 in the right half of the water across the flow, 0 where dry."""
    tags = np.zeros(field.wet.shape, dtype=np.int32)
    left = field.gap_left.values < field.gap_right.values
    tags[cells_of(field.wet)] = np.where(left, 1, 2)
    return tags


def claims(
    field: WaterField, features: Features, limits: SeasonLimits, settings: WaterSettings
) -> Iterator[Zone]:
    """Yield the candidates, best claim first: no cell belongs to two.

    Seams from a junction come first, then tailouts, inside bends, other seams and soft edges; what
    else lies within the limits is even water, halved by the nearer bank. Nothing is claimed where
    the mapped water begins or ends. Pieces are cut where one section of the main line passes into
    the next, unless that would leave less than `cut_spare_m` of one.
    """
    free = away_from_ends(field, settings.score.ends_widths)
    sections, spare = features.sections, settings.score.cut_spare_m
    for kind, tags, odds in _ranked(field, features, limits, settings):
        taken = np.zeros_like(free)
        for place, mask in _tagged(
            tags,
            soft_water(odds, settings.suits.line) & free,
            settings.score.area_low_m2 / field.grid.cell**2,
        ):
            station = field.station[place]
            for part in parts_between(station, mask, cuts_of(station[mask], sections, spare)):
                taken[place] |= part
                side = side_of(field, place, part, settings.score.island_share)
                yield Zone(kind, place, part, side, odds, sections.at(station[part]))
        free &= ~taken


def unclaimed(
    field: WaterField, zones: Iterable[Zone], limits: SeasonLimits, settings: WaterSettings
) -> Iterator[Zone]:
    """Yield what suits and lies in no candidate: strips too thin for the cells to hold one.

    Crumbs smaller than a piece of water may be, and water at the ends of the map, are left out.
    """
    odds = soft_odds(field, limits, settings.suits)
    rest = soft_water(odds, settings.suits.line) & away_from_ends(field, settings.score.ends_widths)
    for zone in zones:
        rest[zone.place] &= ~zone.mask
    for place, mask in pieces(rest, settings.score.area_low_m2 / field.grid.cell**2):
        side = side_of(field, place, mask, settings.score.island_share)
        yield Zone(WaterKind.EVEN_RUN, place, mask, side, odds)


def _ranked(
    field: WaterField, features: Features, limits: SeasonLimits, settings: WaterSettings
) -> Iterator[tuple[WaterKind, IntArray, FloatArray]]:
    """Yield kinds of candidates, best claim first: their cells by number, and the odds that decide.

    One raster of numbers after the other, so that no more than one is held.
    """
    soft = soft_odds(field, limits, settings.suits)
    eddy = soft_odds(field, limits, settings.suits, slow_share=settings.seams.slow_share)
    bends, seam = settings.bends, settings.seams
    bands = seam.slow_layers, seam.fast_layers
    from_junction = [s for s in features.seams if s.from_junction]
    others = [s for s in features.seams if not s.from_junction]
    yield WaterKind.SEAM, seam_tags(field, from_junction, *bands), eddy
    share = settings.tailouts.soft_share_low
    yield WaterKind.TAILOUT, tailout_tags(field, features, soft, share), soft
    inside = inside_tags(field, features.bends, bends.inner_share, bends.tail_widths)
    yield WaterKind.INSIDE_BEND, inside, soft
    del inside
    yield WaterKind.SEAM, seam_tags(field, others, *bands), eddy
    yield WaterKind.SOFT_EDGE, edge_tags(field, limits), soft
    yield WaterKind.EVEN_RUN, half_tags(field), soft


def _tagged(
    tags: IntArray, allowed: BoolArray, cells_low: float
) -> Iterator[tuple[tuple[slice, slice], BoolArray]]:
    """Yield the connected, tidied pieces of each tag."""
    wanted = np.where(allowed, tags, 0)
    windows: list[Any] = ndimage.find_objects(wanted)
    for number, window in enumerate(windows, start=1):
        if window is None:
            continue
        mine = tidied(wanted[window] == number, allowed[window])
        for place, mask in pieces(mine, cells_low):
            rows = slice(window[0].start + place[0].start, window[0].start + place[0].stop)
            cols = slice(window[1].start + place[1].start, window[1].start + place[1].stop)
            yield (rows, cols), mask


def side_of(
    field: WaterField, place: tuple[slice, slice], mask: BoolArray, island_share: float
) -> Side:
    """Return the bank a piece lies against: the nearer one, for most of its cells."""
    gaps = (gap.window(*place)[mask] for gap in (field.gap_left, field.gap_right))
    left = np.less(*gaps)
    ends = np.where(left, field.end_left[place][mask], field.end_right[place][mask])
    if (ends == ISLAND).mean() > island_share:
        return Side.ISLAND
    return Side.LEFT if left.mean() >= 0.5 else Side.RIGHT

"""Ensemble of beds and roughnesses that the evidence allows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.ndimage import map_coordinates

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.packed import PackedRaster, known_cells, values_at
from reachmap.base.resistance import Stones
from reachmap.base.words import COVER_CODES
from reachmap.ground.build_ground import low_line
from reachmap.ground.cover_classes import CHANNEL, NOTHING, by_cover
from reachmap.ground.settings import GroundSettings
from reachmap.ground.sources import is_dem_ground, sounded_share
from reachmap.markup.model import Markup


def members(
    ground: xr.Dataset,
    markup: Markup,
    settings: GroundSettings,
    seed: int,
    count: int = 12,
    *,
    roughness_sd: float | None = None,
    cover_sd: Mapping[str, float] = NOTHING,
) -> Members:
    """Return beds and roughnesses consistent with the evidence.

    Each member draws: the channel's roughness and the low flow, which together move the depth of
    the form as the closing of the discharge does (depth ~ (Q n)^0.6, over stones a lower power);
    what else all sections have in common; a share of depth of each section; a local field along and
    across; small errors of the DEM's dry ground and of drawn banks; and the roughness of each class
    of cover. Where soundings or a fit narrowed one of these, so much less is drawn.

    Parameters
    ----------
    ground
        The stage's result.
    markup
        The drawing; a given flow of the DEM's day makes the low flow surer.
    settings
        Of the stage.
    seed
        Any whole number; the same gives the same members.
    count
        How many.
    roughness_sd
        Standard deviation of the logarithm of the channel's roughness where notes were fitted;
        None: that of the settings.
    cover_sd
        The same of classes of cover by name; those not named have the settings'.

    Returns
    -------
    Members
        Drawn one after the other, as (bed, roughness), packed rasters.
    """
    errors = _bed_errors(ground, settings)
    sure_flow = np.isfinite(markup.plan.dem.flow) or ground.attrs["vertical"] != "dem"
    rules = settings.spread
    rough = rules.roughness_doubt if roughness_sd is None else roughness_sd
    spread = (rough, rules.flow_doubt if sure_flow else rules.unsaid_flow * rules.flow_doubt)
    return Members(ground, errors, settings, spread, cover_sd, seed, count)


@dataclass(frozen=True, slots=True)
class Members:
    """Members of an ensemble, each drawn when it is needed; the same however often.

    Parameters
    ----------
    ground, settings, cover_sd, seed, count
        As for `members`.
    errors
        Standard deviations of the bed at its cells.
    closing
        Standard deviations of the logarithms of the channel's roughness and of the low flow.
    """

    ground: xr.Dataset
    errors: _BedErrors
    settings: GroundSettings
    closing: tuple[float, float]
    cover_sd: Mapping[str, float]
    seed: int
    count: int

    def __len__(self) -> int:
        """Return how many there are."""
        return self.count

    def __iter__(self) -> Iterator[tuple[PackedRaster, PackedRaster]]:
        """Return bed [m] and roughness [s/m^(1/3)] of each in turn."""
        rng = np.random.default_rng(self.seed)
        cells, (rough_cells, rough) = self.errors.cells, known_cells(self.ground["roughness"])
        shape = (self.ground.sizes["y"], self.ground.sizes["x"])
        bed = values_at(self.ground["bed"], cells)
        codes = values_at(self.ground["cover"], rough_cells).astype(np.int32)
        usual = self.settings.spread.cover_doubt
        sd = by_cover(codes, 0.0, self.cover_sd, usual)
        for _ in range(self.count):
            change, factor = _member(self.ground, self.errors, self.settings, self.closing, rng)
            each = rng.standard_normal(max(COVER_CODES.values()) + 1)[codes]
            growth = np.where(codes == CHANNEL, factor, np.exp(sd * each))
            yield (
                PackedRaster(shape, np.array(np.nan), cells, bed + change),
                PackedRaster(shape, np.array(np.nan), rough_cells, rough * growth),
            )


@dataclass(frozen=True, slots=True)
class _BedErrors:
    """Where the bed may be off and by how much; flat lists over the known cells."""

    cells: IntArray
    form: BoolArray
    depth: FloatArray
    contrast: FloatArray
    left: FloatArray
    bank: FloatArray
    station: FloatArray
    offset: FloatArray


def _bed_errors(ground: xr.Dataset, settings: GroundSettings) -> _BedErrors:
    """Return the standard deviations of the bed at its known cells, and what they depend on.

    `contrast` is depth over mean depth less one; `left` the share of a form's standard deviation
    that soundings left; `bank` the standard deviation of ground that is no form [m].
    """
    cells, bed = known_cells(ground["bed"])
    station, offset, sure = (
        values_at(ground[name], cells).astype(np.float64)
        for name in ("station", "offset", "confidence")
    )
    low = np.interp(station, *low_line(ground))
    depth = np.maximum(low - bed, 0.0)
    dem = is_dem_ground(sure)
    form = (depth >= 0.9 * settings.least_depth_m) & ~dem
    gained = sounded_share(sure, str(ground.attrs["vertical"]))
    bank = np.where(dem, settings.spread.dem_doubt_m, settings.spread.bank_doubt * (1 - sure))
    mean = float(depth[form].mean()) if form.any() else 1.0
    contrast = depth / max(mean, 1e-3) - 1
    return _BedErrors(cells, form, depth, contrast, np.sqrt(1 - gained), bank, station, offset)


def _member(
    ground: xr.Dataset,
    errors: _BedErrors,
    settings: GroundSettings,
    closing: tuple[float, float],
    rng: np.random.Generator,
) -> tuple[FloatArray, float]:
    """Return one member: change of the known bed [m] and factor of the roughness.

    `closing` are the standard deviations of the logarithms of roughness and low flow.
    """
    line = Centreline.of(ground)
    width = line.median_width
    rough, flow = rng.normal(0, closing[0]), rng.normal(0, closing[1])
    # Q goes with depth times speed: the power of depth is 5/3 by Manning's formula.
    power = 1 / (1 + Stones.of(ground).speed_power)
    closed = power * (rough + flow)
    # The reach's variance less what roughness and flow explain of it, so that neither counts twice.
    explained = power**2 * (closing[0] ** 2 + closing[1] ** 2)
    rest = max(settings.reach_doubt**2 - explained, 0.0) ** 0.5
    reach = rng.normal(0, rest)
    section = _along(line.foot, settings.section_range_widths * width, errors.station, rng)
    local = _field(
        errors,
        (settings.range_along_widths * width, settings.range_across_widths * width),
        rng,
    )
    pools = settings.pool_doubt * rng.standard_normal() * errors.contrast
    shape = errors.depth * (reach + settings.section_doubt * section + pools)
    # What the closing explains follows the drawn roughness and flow; the form's own error is the
    # larger where the soundings' misfit shows so. What a drawing leaves open beyond that is gone by
    # the share that soundings took of the variance.
    usual = float(ground.attrs.get("bed_doubt", 1.0))
    sounded = float(ground.attrs.get("bed_doubt_sounded", usual))
    own = sounded + (usual - sounded) * errors.left**2
    off = errors.depth * closed + own * (shape + settings.local_doubt_m * local)
    deeper = np.maximum(errors.depth + off * errors.left, settings.least_depth_m)
    change = np.where(errors.form, errors.depth - deeper, 0.0)
    common = rng.normal(0, settings.spread.dem_doubt_m / 2)
    banks = _along(line.foot, settings.spread.bank_range_widths * width, errors.station, rng)
    change += np.where(errors.form, 0.0, common + errors.bank * banks)
    return change, float(np.exp(rough))


def _along(
    length: float, reach: float, station: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Return at stations a random course along the river: mean 0, deviation 1, exp(-d/reach)."""
    step = reach / 8
    count = int(length / step) + 3
    keep = np.exp(-step / reach)
    steps = rng.standard_normal(count)
    course = np.empty(count)
    course[0] = steps[0]
    for number in range(1, count):
        # Autoregression of first order: its covariance is exp(-d / reach), its deviation 1
        # throughout.
        course[number] = keep * course[number - 1] + np.sqrt(1 - keep**2) * steps[number]
    return np.interp(station, np.arange(count) * step - step, course)


def _field(errors: _BedErrors, ranges: tuple[float, float], rng: np.random.Generator) -> FloatArray:
    """Return at the cells a random field of the covariance exp(-hypot(ds/along, dn/across)).

    Drawn on a grid of a third of the ranges by the spectrum of the covariance (circulant
    embedding), then read at the cells.
    """
    steps = (ranges[0] / 3, ranges[1] / 3)
    lows = (float(errors.station.min()), float(errors.offset.min()))
    highs = (float(errors.station.max()), float(errors.offset.max()))
    shape = tuple(
        int((high - low) / step) + 16 for low, high, step in zip(lows, highs, steps, strict=True)
    )
    # Distances around a ring, so that the transform of the covariance is the power of each wave; 16
    # cells of rim, five ranges, part the head of the river from its foot.
    rows = np.minimum(np.arange(shape[0]), shape[0] - np.arange(shape[0]))[:, None] / 3
    cols = np.minimum(np.arange(shape[1]), shape[1] - np.arange(shape[1]))[None, :] / 3
    power = np.maximum(np.fft.fft2(np.exp(-np.hypot(rows, cols))).real, 0)
    noise = np.fft.fft2(rng.standard_normal(shape))
    field = np.fft.ifft2(noise * np.sqrt(power)).real
    places = [
        (place - low) / step + 1
        for place, low, step in zip((errors.station, errors.offset), lows, steps, strict=True)
    ]
    read = map_coordinates(field, places, order=1, mode="nearest")
    return np.asarray(read / max(float(field.std()), 1e-9))

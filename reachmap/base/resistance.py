"""Resistance of the bed: Manning's n, greater in water that is shallow over stones.

With the variable-power law of Ferguson (2007), for a depth h over stones of size D,

    V / u* = a1 a2 (h/D) / sqrt(a1^2 + a2^2 (h/D)^(5/3)),   u* = sqrt(g h S),  a1 = 6.5, a2 = 2.5,

Manning's n follows from V = h^(2/3) sqrt(S) / n:

    n^2(h) = m^2 (1 + (a1/a2)^2 (D/h)^(5/3)),

m being the n of deep water. There speed goes as depth^(2/3), in shallow water as depth^(3/2). Here
n is given at a depth h0, so that m^2 = n^2 / (1 + (a1/a2)^2 (D/h0)^(5/3)), and D = 0 is Manning's
formula. (The law itself has m = D^(1/6) / (a1 sqrt(g)); here n comes from the drawing or a fit.)

Sources: Ferguson (2007), Flow resistance equations for gravel- and boulder-bed streams, Water
Resour. Res. 43, W05427: abstract read (dro.dur.ac.uk/4448), the equation and its constants as in
the published source of the model sedFlow, which names them equation 10a of Rickenmann and Recking
(2011).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.packed import values_at
from reachmap.base.words import COVER_CODES, Cover

SHALLOW_SHARE: Final = (6.5 / 2.5) ** 2
"""(a1/a2)^2: n^2 at a depth of one stone, over that in deep water, less 1."""
SUBMERGENCE_LOW: Final = 0.1
"""The law was compared with streams down to a depth of this many stones (Ferguson 2007, abstract);
in thinner water n is held."""
EXCESS_MOST: Final = SHALLOW_SHARE * SUBMERGENCE_LOW ** (-5 / 3)
"""Largest share by which n^2 exceeds that of deep water."""


@dataclass(frozen=True, slots=True)
class Stones:
    """Stones of a bed: their size, and the depth at which Manning's n is given.

    Parameters
    ----------
    size_m
        Size that 84 of 100 stones do not reach [m], >= 0; 0: Manning's formula at every depth.
    depth_m
        Depth at which the roughness holds [m], > 0 where there is a size.
    """

    size_m: float = 0.0
    depth_m: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a size below 0, and a size without a depth."""
        if not self.size_m >= 0 or (self.size_m > 0 and not self.depth_m > 0):
            msg = f"stones of {self.size_m!r} m at a depth of {self.depth_m!r} m"
            raise ValueError(msg)

    @property
    def term(self) -> float:
        """Return what over depth^(5/3) is the excess of n^2 in shallow water [m^(5/3)]."""
        return float(SHALLOW_SHARE * self.size_m ** (5 / 3))

    @property
    def excess(self) -> float:
        """Return the share by which n^2 exceeds that of deep water where n is given."""
        return float(shallow_excess(self.term, self.depth_m)) if self.size_m > 0 else 0.0

    @property
    def speed_power(self) -> float:
        """Return the power of depth that speed goes with, at the depth where n is given."""
        return 2 / 3 + 5 / 6 * self.excess / (1 + self.excess)

    def deep(self, roughness: float) -> float:
        """Return Manning's n of deep water from that at `depth_m` [s/m^(1/3)]."""
        return float(roughness / np.sqrt(1 + self.excess))

    def carried(self, depth: FloatArray, roughness: float) -> FloatArray:
        """Return what a metre of width carries at slope 1 [m2/s], of a roughness at `depth_m`."""
        return unit_conveyance(depth, self.deep(roughness), self.term)

    def of_cells(
        self, roughness: FloatArray, cover: np.ndarray
    ) -> tuple[FloatArray, FloatArray | None]:
        """Return Manning's n of deep water and the stones' term of cells, by the code of cover.

        Stones lie where the cover is gravel: other cover keeps its n at every depth. The term is
        None where there are no stones at all.
        """
        if self.size_m == 0:
            return roughness, None
        stony = cover == COVER_CODES[Cover.GRAVEL]
        return (
            np.where(stony, roughness / np.sqrt(1 + self.excess), roughness),
            np.where(stony, self.term, 0.0),
        )

    @classmethod
    def of(cls, ground: xr.Dataset) -> Stones:
        """Return the stones of a ground; none where its attributes hold none."""
        size = float(ground.attrs.get("stone_size", 0.0))
        return cls(size, float(ground.attrs["stone_depth"])) if size > 0 else cls()


def shallow_excess(term: FloatArray | float, depth: FloatArray | float) -> FloatArray:
    """Return the share by which n^2 exceeds that of deep water; 0 where `term` is.

    Parameters
    ----------
    term
        Of the stones [m^(5/3)].
    depth
        Of the water [m]; none counts as thin.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        excess = np.asarray(term, np.float64) / np.maximum(depth, 0.0) ** (5 / 3)
    return np.asarray(np.where(np.asarray(term) > 0, np.minimum(excess, EXCESS_MOST), 0.0))


def unit_conveyance(
    depth: FloatArray, deep_roughness: FloatArray | float, term: FloatArray | float | None
) -> FloatArray:
    """Return what a metre of width carries at slope 1, depth^(5/3)/n [m2/s] (Manning 1891).

    Parameters
    ----------
    depth
        Of the water [m], >= 0.
    deep_roughness
        Manning's n in deep water [s/m^(1/3)].
    term
        Of the stones [m^(5/3)]; 0 or None: n is the same at every depth.
    """
    carried = depth ** (5 / 3) / deep_roughness
    if term is None or not np.any(term):
        return np.asarray(carried)
    return np.asarray(carried / np.sqrt(1 + shallow_excess(term, depth)))


def resistance_at(ground: xr.Dataset, cells: IntArray) -> tuple[FloatArray, FloatArray | None]:
    """Return Manning's n of deep water and the stones' term at cells of a ground.

    Parameters
    ----------
    ground
        The ground stage's Dataset; without stones its cover is not read.
    cells
        Indices into the raveled raster.
    """
    roughness = values_at(ground["roughness"], cells).astype(np.float64)
    stones = Stones.of(ground)
    if stones.size_m == 0:
        return roughness, None
    return stones.of_cells(roughness, values_at(ground["cover"], cells))

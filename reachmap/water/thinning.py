"""Thinning of a mask to lines one cell wide, by the parallel algorithm of Guo and Hall (1989)."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, IntArray

AROUND = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
"""Steps (row, column) to the neighbours P2 to P9, clockwise from above, as the paper numbers them.
"""


def thinned(mask: BoolArray) -> BoolArray:
    """Return the mask thinned to lines; its pieces and holes stay as many as they were.

    Parameters
    ----------
    mask
        Cells (rows, cols) to thin.

    Returns
    -------
    BoolArray
        Of the same shape, within `mask`.

    Notes
    -----
    A cell of the mask is taken away in a pass where it joins nothing that is not joined without it
    (C = 1: going round its neighbours P2 to P9, one run of them is in the mask), it is no end of a
    line (2 <= N <= 3 of the neighbours taken in pairs), and it lies on the side that the pass works
    from: (P2 or P3 or not P5) and P4 is false in the first, (P6 or P7 or not P9) and P8 in the
    second. All of a pass at once, until neither takes any.

    References
    ----------
    Guo and Hall (1989), Parallel thinning with two-subiteration algorithms, Commun. ACM 32,
    359-373: algorithm A1, from memory; the tests hold the result cell by cell to that of
    scikit-image's `thin`.
    """
    padded = np.pad(np.asarray(mask, dtype=bool), 1)
    flat = padded.ravel()
    steps = np.array([row * padded.shape[1] + col for row, col in AROUND])
    at: IntArray = np.flatnonzero(flat).astype(np.int64)
    taken = True
    while taken:
        taken = False
        for table in TABLES:
            code = np.zeros(at.size, dtype=np.uint8)
            for bit, step in enumerate(steps):
                code |= flat[at + step].astype(np.uint8) << np.uint8(bit)
            gone = table[code]
            if gone.any():
                flat[at[gone]] = False
                at = at[~gone]
                taken = True
    return np.asarray(padded[1:-1, 1:-1])


def _tables() -> tuple[BoolArray, BoolArray]:
    """Return for each of the two passes whether a cell goes, by the code of its neighbours."""
    codes = np.arange(256)
    p2, p3, p4, p5, p6, p7, p8, p9 = (((codes >> bit) & 1) == 1 for bit in range(8))
    pairs = ((p2, p3, p4), (p4, p5, p6), (p6, p7, p8), (p8, p9, p2))
    joins = sum(((~a & (b | c)).astype(int) for a, b, c in pairs), np.zeros(256, dtype=int))
    one = sum((a | b).astype(int) for a, b in ((p9, p2), (p3, p4), (p5, p6), (p7, p8)))
    other = sum((a | b).astype(int) for a, b in ((p2, p3), (p4, p5), (p6, p7), (p8, p9)))
    ends = np.minimum(one, other)
    edge = (joins == 1) & (ends >= 2) & (ends <= 3)
    return edge & ~((p2 | p3 | ~p5) & p4), edge & ~((p6 | p7 | ~p9) & p8)


TABLES = _tables()

"""The part of a picture that shows detail, where the rest is dark or out of focus."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

FloatArray = NDArray[np.float64]
TILES = 16
"""Tiles along the shorter side of the picture."""
WIDE = 4
"""Width over which detail is told from light, in tiles over so many."""
FAINT = 0.5
"""Detail under that share of the strongest isn't seen [1]."""
LEAST = 0.3
"""Least share of a side that must be left: a smaller part is not told from a thing on an empty ground [1]."""


def seen_part(brightness: FloatArray) -> tuple[tuple[slice, slice], tuple[str, ...]]:
    """Find the rows and columns in which a picture shows detail.

    The standard deviation of what is left after taking off the means over a few points is looked at in square
    tiles; a column of tiles counts by its upper quartile, and so does a row. The longest run of columns with
    at least half of the strongest is kept where some fall below, less a tile at its cut end, and then rows
    alike. Nothing is cut off where all of the picture shows detail, or hardly any.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness from 0 to 1 [-].

    Returns
    -------
    tuple of tuple of slice, and tuple of str
        Rows and columns of the part; a warning in words where it is not the whole.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> x = np.arange(640) * np.ones((480, 1))
    >>> lines = 0.5 + 0.3 * np.sin(x / 3.0)
    >>> seen_part(lines)[1]
    ()
    >>> seen_part(np.where(x < 320, lines, 0.1))[0]
    (slice(0, 480, None), slice(0, 300, None))
    """
    rows, columns = brightness.shape
    side = max(min(rows, columns) // TILES, 4)
    fine = brightness - uniform_filter(brightness, 2 * (side // WIDE) + 1)
    high, wide = rows // side, columns // side
    tiles = fine[: high * side, : wide * side].reshape(high, side, wide, side).std(axis=(1, 3))
    across = _run(np.quantile(tiles, 0.75, axis=0), side, columns)
    kept = tiles[:, across[0] // side : max(across[1] // side, across[0] // side + 1)]
    down = _run(np.quantile(kept, 0.75, axis=1), side, rows)
    part = slice(*down), slice(*across)
    if down == (0, rows) and across == (0, columns):
        return part, ()
    told = f"read from columns {across[0]} to {across[1]} and rows {down[0]} to {down[1]}"
    return part, (f"{told}: the rest is dark or out of focus",)


def _run(detail: FloatArray, side: int, whole: int) -> tuple[int, int]:
    """Give the ends of the longest run of tiles with detail; all where that is nearly all, or little."""
    strong = detail >= FAINT * float(np.quantile(detail, 0.9))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], strong.astype(int), [0]]))).reshape(-1, 2)
    first, after = max(edges.tolist(), key=lambda ends: ends[1] - ends[0], default=[0, detail.size])
    if after - first < LEAST * detail.size or after - first >= detail.size - 1:
        return 0, whole
    # The tile at the border is seen in part only, and the light changes in it.
    return (first + 1) * side if first else 0, whole if after == detail.size else (after - 1) * side

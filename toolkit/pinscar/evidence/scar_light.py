"""Brightness made ready: what of a picture is seen, and its logarithm without the fall of light."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    binary_opening,
    gaussian_filter,
    gaussian_filter1d,
    label,
    median_filter,
    uniform_filter,
)

from pinscar.evidence.recorder import robust_sd
from pinscar.evidence.scar_rim import GREY_LEVEL, block_means

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
BLACK = 0.25
"""Brightness under this share of the median may be a black surround."""


def seen_part(brightness: FloatArray) -> BoolArray:
    """Tell what is picture from the black surround of an eyepiece or a tube.

    Black are the places much darker than the median that hang together with a corner of the picture, or with
    a good part of a side.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        From 0 to 1 [-].

    Returns
    -------
    array of bool, shape (rows, columns)
        Whether a place is seen.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> y, x = np.mgrid[:90, :120]
    >>> seen = seen_part(np.where(np.hypot(x - 60, y - 45) < 44, 0.5, 0.02))
    >>> bool(seen[45, 60]), bool(seen[2, 2])
    (True, False)
    """
    thin = gaussian_filter(brightness[::2, ::2], 1.0)
    limit = BLACK * float(np.median(thin[thin > 4 * GREY_LEVEL])) if (thin > 4 * GREY_LEVEL).any() else 0.0
    dark, number = label(thin < max(limit, 4 * GREY_LEVEL))
    if number == 0:
        return np.ones(brightness.shape, dtype=bool)
    corners = {int(dark[row, column]) for row in (0, -1) for column in (0, -1)}
    for side in (dark[0], dark[-1], dark[:, 0], dark[:, -1]):
        counts = np.bincount(side, minlength=number + 1)
        corners |= {int(one) for one in np.flatnonzero(counts > 0.4 * side.size)}
    black = np.isin(dark, list(corners - {0}))
    if black.mean() < 0.002:
        return np.ones(brightness.shape, dtype=bool)
    # The rim of the surround is soft: what lies within a hundredth of the picture of it tells nothing either.
    wide = max(2, round(0.006 * max(brightness.shape)))
    black = binary_dilation(black, iterations=wide)
    grown = np.repeat(np.repeat(black, 2, axis=0), 2, axis=1)
    return np.asarray(~grown[: brightness.shape[0], : brightness.shape[1]])


BLOWN = 0.97
"""Brightness from which a place is blown out and tells nothing of the surface."""
BROAD = 6
"""Half of the least width of what is taken for a lamp's glare [points]."""
CLIP = 4.0
"""Brightness farther than this from its neighbourhood, in robust standard deviations, is dirt or glare."""


THIN = 6
"""Every how many points the neighbourhood's middle is taken."""


def even_logarithm(brightness: FloatArray, seen: BoolArray | None = None) -> FloatArray:
    """Take the logarithm of brightness, the slow fall of light taken off and dirt and glare clipped.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        From 0 to 1 [-].
    seen : array of bool, shape (rows, columns), optional
        As `seen_part` gives it; the rest is filled from around it.

    Returns
    -------
    array, shape (rows, columns)
        What the features of a scar are made of.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> falling = np.exp(-np.arange(90) / 60) * np.ones((80, 1))
    >>> bool(np.ptp(even_logarithm(0.9 * falling)) < 1e-9)
    True
    """
    there = np.ones(brightness.shape, dtype=bool) if seen is None else seen
    light = brightness if there.all() else _filled(brightness, ~there)
    blown = light >= BLOWN
    if blown.any():
        # A narrow bright band is a lip or a facet, often the rim's own; the glare of a lamp is broad.
        blown = binary_dilation(binary_opening(blown, iterations=BROAD), iterations=8)
        light = _filled(light, blown) if blown.mean() < 0.5 else light
    return _clipped(np.log(np.maximum(light, 0.02)), there)


FILLED_BY = (40.0, 20.0, 10.0)
"""Standard deviations of the bells by which a gap is filled, each over the one before [points]."""
SPARSE = 4
"""Side of the squares in which that is done [points]."""


def _filled(brightness: FloatArray, gap: BoolArray) -> FloatArray:
    """Fill a gap with the brightness around it, near its rim from nearer."""
    there = (~gap).astype(float)
    rows, columns = brightness.shape
    seen, light = block_means(there, SPARSE), block_means(brightness * there, SPARSE)
    filled = np.full(seen.shape, float(np.median(light[seen > 0] / seen[seen > 0])))
    for width in FILLED_BY:
        weight, total = (gaussian_filter(one, width / SPARSE, truncate=3) for one in (seen, light))
        filled = np.where(weight > 1e-3, total / np.maximum(weight, 1e-6), filled)
    wide = uniform_filter(np.repeat(np.repeat(filled, SPARSE, axis=0), SPARSE, axis=1), SPARSE)
    return np.asarray(np.where(gap, wide[:rows, :columns], brightness))


def _clipped(logarithm: FloatArray, there: BoolArray) -> FloatArray:
    """Take off a smooth fall of light; replace what sticks out far by its neighbourhood's middle."""
    flat = logarithm - _surface(logarithm, there)
    thin = median_filter(flat[::THIN, ::THIN].astype(np.float32), 7).astype(float)
    down, right = (_spread_out(*sides) for sides in zip(thin.shape, flat.shape, strict=True))
    middle = down @ thin @ right.T
    away = flat - middle
    bound = CLIP * robust_sd(away[::2, ::2][there[::2, ::2]])
    np.clip(away, -bound, bound, out=away)
    away += middle
    return np.asarray(away, dtype=float)


def _spread_out(few: int, many: int) -> FloatArray:
    """Matrix that repeats each of few places to `THIN` points and smooths them, along one side."""
    repeated = np.repeat(np.eye(few), THIN, axis=0)[:many]
    return np.asarray(gaussian_filter1d(repeated, 4, axis=0, truncate=3))


def _surface(logarithm: FloatArray, there: BoolArray) -> FloatArray:
    """Fit a surface of second degree, with little heed to what lies far from it."""
    rows, columns = logarithm.shape
    y, x = np.linspace(-1, 1, rows)[:, None], np.linspace(-1, 1, columns)[None]
    thin_y, thin_x = np.broadcast_arrays(y[::4], x[:, ::4])
    inside = there[::4, ::4]
    across, down = thin_x[inside], thin_y[inside]
    thin = np.stack([np.ones(across.size), across, down, across**2, across * down, down**2])
    values = logarithm[::4, ::4][inside]
    keep = np.ones(values.size, dtype=bool)
    for _ in range(4):
        part = thin * keep
        found = np.linalg.lstsq(part @ part.T, part @ values, rcond=None)[0]
        off = values - found @ thin
        off -= np.median(off)
        keep = np.abs(off) < 2.5 * robust_sd(off) + 1e-9
    c = [float(one) for one in found]
    powers = np.array([[c[0], c[1], c[3]], [c[2], c[4], 0.0], [c[5], 0.0, 0.0]])
    return np.asarray(np.vander(y[:, 0], 3, increasing=True) @ powers @ np.vander(x[0], 3, increasing=True).T)

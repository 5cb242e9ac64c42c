"""How bright the bare paper of a card is at each place, under and between its stains."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, gaussian_filter, percentile_filter, zoom
from skimage.transform import downscale_local_mean

from pinscar.evidence.robust import robust_sd

FloatArray = NDArray[np.float64]
COARSE, COARSER = 4, 12
"""Points of the card that make one point of the coarse maps."""
WIDE = (1 / 20, 1 / 20, 1 / 32, 1 / 50)
"""Distances that the fit looks over, one a round, as shares of the card's longer side."""
SPREAD = 3
"""Coarse points around a stain that are left out with it: its soft edge isn't bare paper."""


def paper_brightness(card: FloatArray, darker: float) -> FloatArray:
    """Fit the brightness of bare paper place by place, stains left out.

    At each place a plane is fitted to the paper around it, weighted by a bell curve, and again without what
    is darker than it; a plane, so that slanting light is followed up to the card's rim.

    Parameters
    ----------
    card : array, shape (rows, columns)
        The card laid flat, brightness from 0 to 1.
    darker : float
        Share of its light that a place must lose to be a stain [1].

    Returns
    -------
    array, shape (rows, columns)
        Brightness of the paper.

    References
    ----------
    Local linear regression: textbook; leaving stains out: own.

    Examples
    --------
    >>> card = np.tile(np.linspace(0.6, 0.9, 240), (160, 1))
    >>> stained = card.copy()
    >>> stained[60:90, 100:130] *= 0.6
    >>> bool(np.abs(paper_brightness(stained, 0.06) - card).max() < 0.004)
    True
    """
    small = downscale_local_mean(card, (COARSE, COARSE))
    # Blur mixes bench into the card's rim.
    rim = np.pad(np.ones((small.shape[0] - 4, small.shape[1] - 4), dtype=bool), 2)
    bare = rim & (small > (1 - darker) * _first_guess(card, small.shape))
    for wide in WIDE:
        paper = _planes(small, bare, wide * max(small.shape))
        lost = 1 - small / np.maximum(paper, 1e-6)
        noise = robust_sd(lost - np.median(lost))
        bare = rim & ~binary_dilation(lost > max(0.75 * darker, 3 * noise), iterations=SPREAD)
    return _enlarged(_planes(small, bare, WIDE[-1] * max(small.shape)), card.shape)


def _first_guess(card: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Show what the lighter places nearby look like."""
    tiny = downscale_local_mean(card, (COARSER, COARSER))
    around = percentile_filter(tiny, 60, size=max(5, max(tiny.shape) // 8), mode="reflect")
    return _resized(gaussian_filter(around, max(tiny.shape) / 60), shape)


def _planes(values: FloatArray, kept: NDArray[np.bool_], wide: float) -> FloatArray:
    """Give the local plane's height at each place; a wider look where little is kept."""
    near, near_weight = _plane(values, kept, wide)
    far, _ = _plane(values, kept, 4 * wide)
    trust = np.clip(near_weight / 0.1, 0, 1)
    return np.asarray(trust * near + (1 - trust) * far, dtype=np.float64)


def _plane(values: FloatArray, kept: NDArray[np.bool_], wide: float) -> tuple[FloatArray, FloatArray]:
    y, x = (axis.astype(float) / wide for axis in np.mgrid[: values.shape[0], : values.shape[1]])
    w = kept.astype(float)

    def mean(array: FloatArray) -> FloatArray:
        return np.asarray(gaussian_filter(array, wide, mode="constant", truncate=3.0), dtype=np.float64)

    total = np.maximum(mean(w), 1e-9)
    mx, my, mv = (mean(w * axis) / total for axis in (x, y, values))
    xx, xy, yy = (
        mean(w * x * x) / total - mx**2,
        mean(w * x * y) / total - mx * my,
        mean(w * y * y) / total - my**2,
    )
    xv, yv = mean(w * x * values) / total - mx * mv, mean(w * y * values) / total - my * mv
    # Where little is kept the slope is not known: a small term draws it to none.
    xx, yy = xx + 0.02, yy + 0.02
    determinant = np.maximum(xx * yy - xy**2, 1e-9)
    slope_x, slope_y = (yy * xv - xy * yv) / determinant, (xx * yv - xy * xv) / determinant
    return mv + slope_x * (x - mx) + slope_y * (y - my), total


def _enlarged(coarse: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    return _resized(coarse, (coarse.shape[0] * COARSE, coarse.shape[1] * COARSE))[: shape[0], : shape[1]]


def _resized(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    factors = [want / have for want, have in zip(shape, values.shape, strict=True)]
    return np.asarray(zoom(values, factors, order=1, mode="nearest", grid_mode=True), dtype=np.float64)

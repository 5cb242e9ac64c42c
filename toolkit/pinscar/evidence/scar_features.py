"""What tells a scar from ground pin: brightness, and the direction and strength of its scratches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, gaussian_filter, median_filter

from pinscar.evidence.robust import robust_sd
from pinscar.evidence.wide_blur import wide_blurs

FloatArray = NDArray[np.float64]
BLOWN = 0.97
"""Brightness from which a place is blown out and tells nothing of the surface."""
CLIP = 4.0
"""Brightness farther than this from its neighbourhood, in robust standard deviations, is dirt or glare."""


def even_logarithm(brightness: FloatArray) -> FloatArray:
    """Take the logarithm of brightness, the slow fall of light taken off and dirt and glare clipped.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        From 0 to 1.

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
    return _clipped(np.log(np.maximum(_without_glare(brightness), 0.02)))


def scar_features(logarithm: FloatArray, fine: float) -> FloatArray:
    """Compute the features that change at the outline of a scar.

    Three layers: the logarithm of brightness, smoothed; and the two components of the direction of
    scratches, (Jyy - Jxx) / (Jxx + Jyy + n) and 2 Jxy / (Jxx + Jyy + n) from the structure tensor J, where n
    keeps places without scratches from telling anything. Ground pin and scar are scratched across each
    other, so these change even where brightness doesn't.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it.
    fine : float
        Standard deviation of the smoothing of brightness [points]; direction is smoothed over four times
        this.

    Returns
    -------
    array, shape (3, rows, columns)
        The layers, each scaled to a robust standard deviation of 1.

    References
    ----------
    Structure tensor: J. Bigün, G. H. Granlund, Proc. 1st Int. Conf. on Computer Vision, 1987. The choice of
    layers: own.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> scar_features(even_logarithm(rng.random((80, 90))), 2.0).shape
    (3, 80, 90)
    """
    smooth = gaussian_filter(logarithm, fine / 2)
    gy, gx = np.gradient(gaussian_filter(logarithm, max(fine / 2, 1.0)))
    wide = 4 * fine
    # A scratch is weak beside dirt: bounded steps keep one speck from deciding a whole neighbourhood.
    size = np.hypot(gx, gy)
    bound = 3 * float(np.median(size)) + 1e-9
    gx, gy = (
        gx * np.minimum(1, bound / np.maximum(size, 1e-12)),
        gy * np.minimum(1, bound / np.maximum(size, 1e-12)),
    )
    jxx, jyy, jxy = (wide_blurs(product, (wide,))[0] for product in (gx * gx, gy * gy, gx * gy))
    total = jxx + jyy + 0.3 * float(np.median(jxx + jyy)) + 1e-12
    layers = np.stack([gaussian_filter(smooth, fine / 2), (jyy - jxx) / total, 2 * jxy / total])
    spreads = np.array([_spread(layer) for layer in layers])
    return np.asarray(layers / spreads[:, None, None], dtype=np.float64)


def _without_glare(brightness: FloatArray) -> FloatArray:
    """Fill blown-out places, and the rim of their halo, with the brightness around them."""
    blown = binary_dilation(brightness >= BLOWN, iterations=8)
    if not 0 < blown.mean() < 0.5:
        return brightness
    there = (~blown).astype(float)
    filled = brightness
    widths = (40.0, 20.0, 10.0)
    weights, totals = wide_blurs(there, widths), wide_blurs(brightness * there, widths)
    for weight, total in zip(weights, totals, strict=True):
        around = total / np.maximum(weight, 1e-6)
        filled = np.where(blown & (weight > 1e-3), around, filled)
    return np.asarray(filled, dtype=float)


def _clipped(logarithm: FloatArray) -> FloatArray:
    """Take off a smooth fall of light; replace what sticks out far by its neighbourhood's middle."""
    flat = logarithm - _surface(logarithm)
    middle = np.repeat(np.repeat(median_filter(flat[::4, ::4], 9), 4, axis=0), 4, axis=1)
    middle = gaussian_filter(middle[: flat.shape[0], : flat.shape[1]], 4)
    away = flat - middle
    bound = CLIP * robust_sd(away)
    return np.asarray(middle + np.clip(away, -bound, bound), dtype=float)


def _surface(logarithm: FloatArray) -> FloatArray:
    """Fit a surface of second degree, with little heed to what lies far from it."""
    rows, columns = logarithm.shape
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    thin = terms[::4, ::4].reshape(-1, 6)
    values = logarithm[::4, ::4].ravel()
    keep = np.ones(values.size, dtype=bool)
    for _ in range(4):
        found = np.linalg.lstsq(thin[keep], values[keep], rcond=None)[0]
        away = values - thin @ found
        off = away - np.median(away)
        keep = np.abs(off) < 2.5 * robust_sd(off) + 1e-9
    return np.asarray(terms @ found, dtype=float)


def _spread(layer: FloatArray) -> float:
    return robust_sd(layer - np.median(layer)) + 1e-9

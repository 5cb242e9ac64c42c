"""Smoothing over many points by the cosine transform: the same sums as point by point, in less time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dctn, idctn

FloatArray = NDArray[np.float64]
REACH = 4.0
"""Standard deviations at which the bell is cut off."""


def wide_blurs(picture: FloatArray, widths: tuple[float, ...]) -> list[FloatArray]:
    """Smooth a picture by bells of several widths.

    The picture goes on beyond its border as its own mirror image. Such a sum is a product of cosine
    transforms, so the time does not grow with the width.

    Parameters
    ----------
    picture : array, shape (rows, columns)
        Any layer of a picture.
    widths : tuple of float
        Standard deviations of the bells [points].

    Returns
    -------
    list of array, shape (rows, columns)
        The smoothed picture for each width; up to rounding what `scipy.ndimage.gaussian_filter` gives.

    References
    ----------
    Symmetric convolution by cosine transforms: S. A. Martucci, IEEE Trans. Signal Process. 42, 1994.

    Examples
    --------
    >>> from scipy.ndimage import gaussian_filter
    >>> picture = np.random.default_rng(1).random((70, 91))
    >>> bool(np.allclose(wide_blurs(picture, (12.0,))[0], gaussian_filter(picture, 12.0), atol=1e-12))
    True
    """
    transformed = dctn(picture, norm="ortho")
    rows, columns = picture.shape
    return [
        np.asarray(
            idctn(transformed * np.outer(_response(width, rows), _response(width, columns)), norm="ortho")
        )
        for width in widths
    ]


def _response(width: float, count: int) -> FloatArray:
    """Compute what a bell leaves of each cosine along a side of `count` points."""
    steps = np.arange(1, int(REACH * width + 0.5) + 1)
    bell = np.exp(-0.5 * (steps / width) ** 2)
    waves = np.cos(np.pi / count * np.outer(np.arange(count), steps))
    return np.asarray((1 + 2 * waves @ bell) / (1 + 2 * bell.sum()))

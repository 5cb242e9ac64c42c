"""Drops hardly larger than the blur: measured between the points, their softness told by all of them."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, zoom
from scipy.special import chndtr
from skimage.measure import label

FloatArray = NDArray[np.float64]
LEVELS = (0.35, 0.5, 0.75)
"""Shares of a drop's darkness at which its outline is followed."""
FINER = 5
"""Places a point at which a drop is looked at."""
FEWEST = 5
"""Drops from which on their softness is told."""
SOAKED = 0.2e-3
"""Most that oil soaks out at the edge of a small drop, as the standard deviation of a bell [m]."""
MODEL = 0.04
"""Relative standard uncertainty of the softness beyond the scatter of the drops: set on rendered drops."""
SMALLEST, LARGEST, RADII = 0.3, 6.0, 120
"""Radii over the softness that are computed."""


def outlines(lost: FloatArray, part: NDArray[np.bool_]) -> FloatArray:
    """Give the areas within the lines of some shares of a small drop's darkness.

    Parameters
    ----------
    lost : array, shape (rows, columns)
        Share of the paper's light that is lost, smoothed [1].
    part : array of bool, shape (rows, columns)
        Where the drop is.

    Returns
    -------
    array, shape (3,)
        Areas at 0.35, 0.5 and 0.75 of the darkness in the middle [points].

    References
    ----------
    Cubic splines between the points: scipy.

    Examples
    --------
    >>> y, x = np.mgrid[:30, :30]
    >>> bell = np.exp(-0.5 * ((x - 14.3) ** 2 + (y - 15.1) ** 2) / 2.0**2)
    >>> (outlines(bell, bell > 0.1) / (2.0 * np.pi * 2.0**2 * -np.log([0.35, 0.5, 0.75]))).round(1).tolist()
    [1.0, 1.0, 1.0]
    """
    own = np.pad(np.where(binary_dilation(part, iterations=2), lost, 0.0), 2)
    fine = zoom(own, FINER, order=3, mode="grid-constant", grid_mode=True)
    highest = float(fine.max())
    largest = [np.bincount(label(fine > level * highest).ravel())[1:].max() for level in LEVELS]
    return np.asarray(largest, dtype=np.float64) / FINER**2


def softness(areas: FloatArray, blur: float, point: float) -> tuple[float, float, float]:
    """Tell how soft small drops are, by how much smaller they are at a dark level than at a pale one.

    The larger a disc is over what softens it, the nearer are its lines of different darkness. So each drop
    tells its radius over the softness, and its size then gives both; the median of all drops is taken. It
    can't be less than the blur of the picture.

    Parameters
    ----------
    areas : array, shape (drops, 3)
        Areas within the lines of 0.35, 0.5 and 0.75 of the darkness [points].
    blur : float
        Blur of the smoothed card, as the standard deviation of a bell [points].
    point : float
        Size of a point [m].

    Returns
    -------
    tuple of float
        Softness, and its ends by two standard uncertainties, as standard deviations of bells [points]. With
        fewer than five drops, all between the blur and the most that oil soaks out.

    References
    ----------
    A blurred disc: as `pinscar.evidence.fling_drops.true_areas`. The standard error of a median: 1.25 times
    that of the mean.

    Examples
    --------
    >>> [round(one, 2) for one in softness(np.zeros((0, 3)), 1.5, 1e-4)]
    [2.0, 1.5, 2.5]
    """
    most = float(np.hypot(blur, SOAKED / point))
    if len(areas) < FEWEST:
        return 0.5 * (blur + most), blur, most
    radii, lines = _lines()
    nearness = areas[:, 2] / areas[:, 0]
    told = np.interp(nearness, (lines[:, 2] / lines[:, 0]) ** 2, radii)
    soft = np.sqrt(areas[:, 1] / np.pi) / np.interp(told, radii, lines[:, 1])
    quarters = np.quantile(soft, (0.25, 0.75))
    # The range between the quarters is 1.349 standard deviations of a bell.
    error = 1.25 * float(np.ptp(quarters)) / 1.349 / len(areas) ** 0.5
    middle = float(np.clip(np.median(soft), blur, most))
    away = 2.0 * float(np.hypot(error, MODEL * middle))
    return middle, max(middle - away, 0.9 * blur), middle + away


@cache  # the same for every card
def _lines() -> tuple[FloatArray, FloatArray]:
    """Radii of discs, and where they have each share of the darkness in their middle, over the softness."""
    radii = np.linspace(SMALLEST, LARGEST, RADII)
    away = np.linspace(0.0, LARGEST + 2.0, 1601)
    dark = chndtr(radii[:, None] ** 2, 2.0, away**2)
    lines = [[np.interp(level * row[0], row[::-1], away[::-1]) for level in LEVELS] for row in dark]
    return radii, np.array(lines, dtype=np.float64)

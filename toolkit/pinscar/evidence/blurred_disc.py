"""How much of a round drop a blurred picture takes away where its edge is put at half of its darkness."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chndtr

FloatArray = NDArray[np.float64]
LEAST, MOST, PARTS = 0.6, 8.0, 75
"""Radii over blur that are computed; beyond, the first term of the series is enough."""


def true_areas(areas: ArrayLike, blur: float) -> FloatArray:
    r"""Give the areas of discs from what lies within the line of half their darkness in a blurred picture.

    A disc of radius R, blurred by a bell of standard deviation s, has the darkness
    :math:`P(R^2/s^2; 2, r^2/s^2)` at the radius r, P being the distribution of the noncentral chi-square with
    two degrees of freedom. The radius where that is half of its middle is inverted. Where R is much more
    than s, the area lacks :math:`\pi s^2`, whatever the outline: the line moves in by half of s² times the
    curvature, and the curvature adds up to 2 pi around any piece without holes.

    Parameters
    ----------
    areas : array_like, shape (n,)
        Areas within the line of half darkness [any unit].
    blur : float
        Standard deviation of the blur [root of that unit].

    Returns
    -------
    array, shape (n,)
        Areas of the discs [same unit]. Below 0.6 blurs of radius all discs look alike, and that is taken.

    References
    ----------
    Noncentral chi-square as the mass of a two-dimensional bell within a circle: textbook. The sum of the
    curvature: theorem of turning tangents.

    Examples
    --------
    >>> true_areas([100.0, 10000.0], 2.0).round(1).tolist()
    [111.8, 10012.6]
    >>> true_areas([100.0], 0.0).tolist()
    [100.0]
    """
    seen = np.asarray(areas, dtype=np.float64)
    if blur <= 0.0:
        return seen.copy()
    radii, half = _half_dark()
    told = np.sqrt(seen / np.pi) / blur
    small = np.pi * (blur * np.interp(told, half, radii)) ** 2
    return np.asarray(np.where(told > half[-1], seen + np.pi * blur**2, small), dtype=np.float64)


@cache  # the same for every stain of every card
def _half_dark() -> tuple[FloatArray, FloatArray]:
    """Radii of discs and where their darkness is half of that in the middle, both over the blur."""
    radii = np.linspace(LEAST, MOST, PARTS)
    away = np.linspace(0.0, MOST + 1.0, 901)
    dark = chndtr(radii[:, None] ** 2, 2.0, away**2)
    half = [np.interp(0.5 * row[0], row[::-1], away[::-1]) for row in dark]
    return radii, np.array(half, dtype=np.float64)

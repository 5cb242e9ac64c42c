"""Sizes of drops: diameters by their share of the covered area, and counts in classes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
CLASSES = (0.0, 0.5e-3, 1e-3, 2e-3, 4e-3, np.inf)
"""Ends of the classes of diameter [m]."""


@dataclass(frozen=True, slots=True)
class SizeClass:
    """Drops of about one size.

    Parameters
    ----------
    low, high : float
        Diameters from and up to [m].
    count : int
        How many.
    area : float
        What they cover [m²].
    """

    low: float
    high: float
    count: int
    area: float


def diameters(areas: FloatArray) -> FloatArray:
    """Give the diameters of circles as large as the drops.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].

    Returns
    -------
    array, shape (n,)
        Diameters [m].

    References
    ----------
    Definition.

    Examples
    --------
    >>> diameters(np.array([np.pi])).round(6).tolist()
    [2.0]
    """
    return np.asarray(np.sqrt(4 * np.asarray(areas, dtype=float) / np.pi), dtype=np.float64)


def diameter_by_area(areas: FloatArray, share: float) -> float:
    """Give the diameter up to which drops make a share of the covered area.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].
    share : float
        Share from 0 to 1; 0.5 gives the area-weighted median.

    Returns
    -------
    float
        Diameter of the first drop, smallest first, with which the share is reached [m]; NaN without drops.

    References
    ----------
    Definition of a weighted quantile without interpolation.

    Examples
    --------
    >>> three = np.pi / 4 * np.array([1.0, 4.0, 9.0])
    >>> [round(diameter_by_area(three, share), 6) for share in (0.05, 0.3, 0.5)]
    [1.0, 2.0, 3.0]
    """
    ordered = np.sort(np.asarray(areas, dtype=float))
    if not ordered.size:
        return float("nan")
    reached = np.cumsum(ordered) / ordered.sum()
    return float(diameters(ordered)[min(int(np.searchsorted(reached, share - 1e-12)), ordered.size - 1)])


def size_classes(areas: FloatArray) -> tuple[SizeClass, ...]:
    """Count the drops in classes of diameter.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].

    Returns
    -------
    tuple of SizeClass
        One a class, from small to large, also where none is in it.

    References
    ----------
    Own choice of classes.

    Examples
    --------
    >>> [one.count for one in size_classes(np.pi / 4 * np.array([0.3e-3, 1.5e-3, 1.7e-3]) ** 2)]
    [1, 0, 2, 0, 0]
    """
    sizes, found = diameters(areas), []
    for low, high in pairwise(CLASSES):
        here = (sizes >= low) & (sizes < high)
        found.append(SizeClass(low, high, int(here.sum()), float(np.asarray(areas, dtype=float)[here].sum())))
    return tuple(found)

"""Pressure that a worn scar carries."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive


def mean_pressure(load: ArrayLike, area: ArrayLike) -> FloatArray:
    """Compute the mean pressure in a scar, ``p = F/A``.

    Where wear had stopped in the final load step this is the film pressure; where it was still running the
    film carries less.

    Parameters
    ----------
    load : array_like
        Load at the end of the run [N].
    area : array_like
        Scar area [m^2].

    Returns
    -------
    ndarray of float
        Mean pressure [Pa], broadcast shape.

    Raises
    ------
    ValueError
        The load is negative, or the area is not above zero.

    References
    ----------
    Common practice: load over area.

    Examples
    --------
    600 N on an oval scar of 4.0 by 2.2 mm:

    >>> import math
    >>> round(float(mean_pressure(600, math.pi / 4 * 4.0e-3 * 2.2e-3)) / 1e6, 2)
    86.81
    """
    return np.asarray(not_negative("load", load) / positive("area", area))


def oval_area(length: ArrayLike, width: ArrayLike) -> FloatArray:
    """Compute the area of an oval scar from its two measured axes, ``A = (pi/4) L W``.

    Parameters
    ----------
    length, width : array_like
        The two axes of the oval [m].

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape.

    Raises
    ------
    ValueError
        An axis is negative.

    References
    ----------
    Common practice: area of an ellipse. For a pin of 6 mm radius on a ring of 20 mm radius it
    is 0.03 % (length 2 mm) to 0.9 % (10 mm) under the exact projected area: a convention, not an error (own
    derivation, see `footprint_area`).

    Examples
    --------
    >>> round(float(oval_area(4.0e-3, 2.1844585e-3)) * 1e6, 6)
    6.862679
    """
    return np.asarray(0.25 * np.pi * not_negative("length", length) * not_negative("width", width))

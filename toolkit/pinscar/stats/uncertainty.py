"""Reading and load uncertainty carried through to scar area, pressure, wear volume and wear coefficient.

All results are relative standard uncertainties: on the log scale, where the runs are analysed, they stand
directly beside the between-run standard deviation.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.derivative import derivative

ArrayFunction = Callable[[NDArray[np.float64]], ArrayLike]


def relative_area_uncertainty(
    length: ArrayLike,
    width: ArrayLike,
    reading_uncertainty: ArrayLike,
    width_of_length: ArrayFunction | None = None,
    width_implied: ArrayLike = False,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the scar area A = (pi/4) L W.

    .. math:: (u_A/A)^2 = (u/L)^2 + (u/W)^2

    for two axes read independently. Where the width was not read but implied by the geometry from the length,
    it carries no error of its own and moves with the length:

    .. math:: u_A/A = \frac{u}{L} \left(1 + \frac{L}{W} \frac{dW}{dL}\right)

    Parameters
    ----------
    length : array_like
        Scar length L [m], shape (n,).
    width : array_like
        Scar width W [m], shape (n,).
    reading_uncertainty : array_like
        Standard uncertainty u of one reading of length or width [m], broadcast.
    width_of_length : callable, optional
        Implied width [m] of a length [m], elementwise; needed where a width is implied.
    width_implied : array_like of bool
        Where the width was implied by the length instead of read [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a width is implied and no `width_of_length` is given, or a length or width is not positive.

    References
    ----------
    JCGM 100:2008 (GUM), equations (12) and (16); the implied width is own derivation.

    Examples
    --------
    >>> float(relative_area_uncertainty(3e-3, 4e-3, 0.03e-3).round(9))
    0.0125
    >>> float(relative_area_uncertainty(3e-3, 4e-3, 0.03e-3, lambda l: l * 4 / 3, True).round(9))
    0.02
    """
    first, second, reading = np.broadcast_arrays(*(_positive(v, n) for v, n in (
        (length, "length"), (width, "width"), (reading_uncertainty, "reading_uncertainty"))))  # fmt: skip
    read = np.hypot(reading / first, reading / second)
    implied = np.broadcast_to(np.asarray(width_implied, dtype=bool), first.shape)
    if not bool(np.any(implied)):
        return np.asarray(read, dtype=np.float64)
    if width_of_length is None:
        raise ValueError("width_of_length is missing: it is needed where a width is implied by the length")
    exponent = 1.0 + first / second * derivative(width_of_length, first)
    return np.asarray(np.where(implied, np.abs(exponent) * reading / first, read), dtype=np.float64)


def relative_pressure_uncertainty(
    length: ArrayLike,
    width: ArrayLike,
    load_uncertainty: ArrayLike,
    reading_uncertainty: ArrayLike,
    width_of_length: ArrayFunction | None = None,
    width_implied: ArrayLike = False,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the mean scar pressure p = F/A, and so of the film pressure.

    .. math:: (u_p/p)^2 = (u_F/F)^2 + (u_A/A)^2

    Parameters
    ----------
    length : array_like
        Scar length [m], shape (n,).
    width : array_like
        Scar width [m], shape (n,).
    load_uncertainty : array_like
        Relative standard uncertainty of the load u_F/F [-], broadcast.
    reading_uncertainty : array_like
        Standard uncertainty of one reading of length or width [m], broadcast.
    width_of_length : callable, optional
        Implied width [m] of a length [m], elementwise; needed where a width is implied.
    width_implied : array_like of bool
        Where the width was implied by the length instead of read [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        As for the area, or where the load uncertainty is negative.

    References
    ----------
    JCGM 100:2008 (GUM), equation (12).

    Examples
    --------
    >>> float(relative_pressure_uncertainty(3e-3, 4e-3, 0.03, 0.096e-3).round(9))
    0.05
    """
    area = relative_area_uncertainty(length, width, reading_uncertainty, width_of_length, width_implied)
    return np.asarray(np.hypot(area, _not_negative(load_uncertainty, "load_uncertainty")), dtype=np.float64)


def relative_volume_uncertainty(
    length: ArrayLike, reading_uncertainty: ArrayLike, volume_of_length: ArrayFunction
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the wear volume V(L), from the reading of the length.

    .. math:: \frac{u_V}{V} = \left|\frac{dV}{dL}\right| \frac{u}{V}

    Parameters
    ----------
    length : array_like
        Scar length L [m], shape (n,).
    reading_uncertainty : array_like
        Standard uncertainty u of one reading of the length [m], broadcast.
    volume_of_length : callable
        Wear volume [m^3] of a length [m], elementwise; differentiated numerically.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a length or a reading uncertainty is not positive.

    References
    ----------
    JCGM 100:2008 (GUM), equation (11b), with the derivative by differences (5.1.3, note 2).

    Examples
    --------
    A volume that grows as L^4 has four times the relative uncertainty of the length.

    >>> float(relative_volume_uncertainty(2e-3, 0.02e-3, lambda length: length**4).round(9))
    0.04
    """
    at, reading = np.broadcast_arrays(
        _positive(length, "length"), _positive(reading_uncertainty, "reading_uncertainty")
    )
    volume = np.asarray(volume_of_length(at), dtype=np.float64)
    return np.asarray(np.abs(derivative(volume_of_length, at)) * reading / volume, dtype=np.float64)


def relative_wear_coefficient_uncertainty(
    length: ArrayLike,
    load_uncertainty: ArrayLike,
    reading_uncertainty: ArrayLike,
    volume_of_length: ArrayFunction,
    distance_uncertainty: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the wear coefficient k = V/(F s).

    .. math:: (u_k/k)^2 = (u_V/V)^2 + (u_F/F)^2 + (u_s/s)^2

    Parameters
    ----------
    length : array_like
        Scar length [m], shape (n,).
    load_uncertainty : array_like
        Relative standard uncertainty of the load [-], broadcast.
    reading_uncertainty : array_like
        Standard uncertainty of one reading of the length [m], broadcast.
    volume_of_length : callable
        Wear volume [m^3] of a length [m], elementwise; differentiated numerically.
    distance_uncertainty : array_like
        Relative standard uncertainty of the sliding distance (speed and time) [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a length or reading uncertainty is not positive, or another uncertainty is negative.

    References
    ----------
    JCGM 100:2008 (GUM), equation (12).

    Examples
    --------
    >>> float(relative_wear_coefficient_uncertainty(2e-3, 0.03, 0.02e-3, lambda length: length**4).round(9))
    0.05
    """
    volume = relative_volume_uncertainty(length, reading_uncertainty, volume_of_length)
    load = _not_negative(load_uncertainty, "load_uncertainty")
    distance = _not_negative(distance_uncertainty, "distance_uncertainty")
    return np.asarray(np.sqrt(volume**2 + load**2 + distance**2), dtype=np.float64)


def _positive(values: ArrayLike, name: str) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    # A run without a scar reading is NaN and stays NaN; only a number that cannot be is refused.
    if bool(np.any(array <= 0.0)):
        raise ValueError(f"{name} must be positive, found {float(np.nanmin(array))}")
    return array


def _not_negative(values: ArrayLike, name: str) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if bool(np.any(array < 0.0)):
        raise ValueError(f"{name} must be zero or more, found {float(np.nanmin(array))}")
    return array

"""Onset of plastic yield under an elastic contact."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive
from pinscar.contact.subsurface import largest_on_axis, largest_under_line, mises_stress, shear_stress

Criterion = Literal["tresca", "mises"]


def yield_pressure(
    yield_strength: ArrayLike,
    axis_ratio: ArrayLike,
    poisson_ratio: ArrayLike,
    criterion: Criterion = "tresca",
) -> FloatArray:
    """Compute the peak pressure at which an elliptic contact first yields, on its axis.

    Tresca: largest shear equals Y/2; von Mises: largest equivalent stress equals Y. For the circle the two
    agree on the axis: ``p0 = 1.6128 Y`` at nu 0.3 (Johnson prints 1.60).

    Parameters
    ----------
    yield_strength : array_like
        Yield strength Y of the softer body in tension [Pa].
    axis_ratio : array_like
        b/a of the contact [-], above 0 to 1.
    poisson_ratio : array_like
        Poisson's ratio of that body [-].
    criterion : {"tresca", "mises"}
        Yield criterion [-].

    Returns
    -------
    ndarray of float
        Peak pressure at first yield [Pa], broadcast shape.

    Raises
    ------
    ValueError
        A value lies outside its range, or the criterion is not known.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 6.1, eq. (6.8) and (6.9).

    Examples
    --------
    >>> round(float(yield_pressure(1.0, 1.0, 0.3)), 4)
    1.6128
    """
    strength = positive("yield_strength", yield_strength)
    if criterion == "tresca":
        return np.asarray(0.5 * strength / largest_on_axis(axis_ratio, poisson_ratio, shear_stress)[0])
    if criterion == "mises":
        return np.asarray(strength / largest_on_axis(axis_ratio, poisson_ratio, mises_stress)[0])
    raise ValueError(f"criterion must be 'tresca' or 'mises'; got {criterion!r}")


def line_yield_pressure(
    yield_strength: ArrayLike, poisson_ratio: ArrayLike, criterion: Criterion = "tresca"
) -> FloatArray:
    """Compute the peak pressure at which a line contact first yields, under its centre.

    Parameters
    ----------
    yield_strength : array_like
        Yield strength Y of the softer body in tension [Pa].
    poisson_ratio : array_like
        Poisson's ratio of that body [-].
    criterion : {"tresca", "mises"}
        Yield criterion [-].

    Returns
    -------
    ndarray of float
        Peak pressure at first yield [Pa], broadcast shape.

    Raises
    ------
    ValueError
        A value lies outside its range, or the criterion is not known.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 6.1, eq. (6.4) and (6.5): 1.67 Y (Tresca), 1.79 Y (von
    Mises).

    Examples
    --------
    >>> [round(float(line_yield_pressure(1.0, 0.3, criterion)), 2) for criterion in ("tresca", "mises")]
    [1.67, 1.79]
    """
    strength = positive("yield_strength", yield_strength)
    if criterion == "tresca":
        return np.asarray(0.5 * strength / largest_under_line(poisson_ratio, shear_stress)[0])
    if criterion == "mises":
        return np.asarray(strength / largest_under_line(poisson_ratio, mises_stress)[0])
    raise ValueError(f"criterion must be 'tresca' or 'mises'; got {criterion!r}")


def yield_strength_from_hardness(hardness: ArrayLike, constraint: float = 3.0) -> FloatArray:
    """Estimate the yield strength of a metal from its indentation hardness, ``Y = H/3``.

    A rule of thumb for metals that harden little, good enough for a flag, not for a design.

    Parameters
    ----------
    hardness : array_like
        Indentation hardness H as a pressure [Pa].
    constraint : float
        Ratio H/Y [-].

    Returns
    -------
    ndarray of float
        Yield strength in tension [Pa], same shape.

    Raises
    ------
    ValueError
        A value is not above zero.

    References
    ----------
    D. Tabor, The Hardness of Metals, 1951; K. L. Johnson, Contact Mechanics, 1985, section 6.3.

    Examples
    --------
    >>> float(yield_strength_from_hardness(7.5e9)) / 1e9
    2.5
    """
    return np.asarray(positive("hardness", hardness) / positive("constraint", constraint))

"""Viscosity index by ASTM D2270, procedures A and B, and its rounding rule."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive
from pinscar.contact.tables import read_table
from pinscar.contact.viscosity import walther_line_40_100

_MM2 = 1e-6
_LEAST = 2.0
_TABLE_END = 70.0


@cache
def _columns() -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    rows = [dict(row) for row in read_table("viscosity_index_d2270.csv")]
    kv100, low, high = (tuple(float(row[column]) for row in rows) for column in ("kv100", "l", "h"))
    return kv100, low, high


def reference_viscosities(
    kinematic_viscosity_100: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    r"""Compute L and H, the viscosities at 40 degC of the oils of index 0 and 100 with this one at 100 degC.

    From 2 to 70 mm^2/s by linear interpolation in the table of the standard (311 rows, in
    ``data/viscosity_index_d2270.csv``); above 70 mm^2/s, with Y in mm^2/s,

    .. math:: L = 0.8353 Y^2 + 14.67 Y - 216, \quad H = 0.1684 Y^2 + 11.85 Y - 97

    Parameters
    ----------
    kinematic_viscosity_100 : array_like
        Kinematic viscosity at 100 degC, Y [m^2/s], any shape.

    Returns
    -------
    tuple of ndarray
        L and H [m^2/s].

    Raises
    ------
    ValueError
        If a viscosity is under 2 mm^2/s, where the index is not defined.

    References
    ----------
    ASTM D2270, Table 1 and the equations for L and H above 70 mm^2/s; ISO 2909.

    Examples
    --------
    >>> low, high = reference_viscosities(8.86e-6)
    >>> f"{low * 1e6:.2f} {high * 1e6:.2f}"
    '119.94 69.48'
    """
    y = as_floats(kinematic_viscosity_100) / _MM2
    # A millionth of a millionth of room: 2e-6 / 1e-6 is not exactly 2 in binary.
    if np.any(y < _LEAST * (1 - 1e-12)):
        raise ValueError(
            "kinematic_viscosity_100 must be at least 2 mm^2/s for a viscosity index, "
            f"found {np.nanmin(y):g} mm^2/s"
        )
    kv100, table_low, table_high = _columns()
    low = np.where(y <= _TABLE_END, np.interp(y, kv100, table_low), (0.8353 * y + 14.67) * y - 216.0)
    high = np.where(y <= _TABLE_END, np.interp(y, kv100, table_high), (0.1684 * y + 11.85) * y - 97.0)
    return low * _MM2, high * _MM2


def procedure_a(kinematic_viscosity_40: ArrayLike, kinematic_viscosity_100: ArrayLike) -> FloatArray:
    r"""Compute the viscosity index by procedure A, which the standard gives for indices up to 100.

    .. math:: VI = 100 \, \frac{L - U}{L - H}

    Parameters
    ----------
    kinematic_viscosity_40 : array_like
        Kinematic viscosity at 40 degC, U [m^2/s], any shape.
    kinematic_viscosity_100 : array_like
        Kinematic viscosity at 100 degC [m^2/s].

    Returns
    -------
    ndarray
        Viscosity index [-], not rounded.

    Raises
    ------
    ValueError
        If a viscosity at 100 degC is under 2 mm^2/s.

    References
    ----------
    ASTM D2270, procedure A; ISO 2909.

    Examples
    --------
    >>> f"{procedure_a(73.30e-6, 8.86e-6):.4f}"
    '92.4296'
    """
    u = positive("kinematic_viscosity_40", kinematic_viscosity_40)
    low, high = reference_viscosities(kinematic_viscosity_100)
    return 100.0 * (low - u) / (low - high)


def procedure_b(kinematic_viscosity_40: ArrayLike, kinematic_viscosity_100: ArrayLike) -> FloatArray:
    r"""Compute the viscosity index by procedure B, which the standard gives for indices of 100 and over.

    .. math:: VI = \frac{10^N - 1}{0.00715} + 100, \quad N = \frac{\log H - \log U}{\log Y}

    Parameters
    ----------
    kinematic_viscosity_40 : array_like
        Kinematic viscosity at 40 degC, U [m^2/s], any shape.
    kinematic_viscosity_100 : array_like
        Kinematic viscosity at 100 degC, Y [m^2/s].

    Returns
    -------
    ndarray
        Viscosity index [-], not rounded.

    Raises
    ------
    ValueError
        If a viscosity at 100 degC is under 2 mm^2/s.

    References
    ----------
    ASTM D2270, procedure B; ISO 2909.

    Examples
    --------
    >>> f"{procedure_b(22.83e-6, 5.05e-6):.2f}"
    '156.42'
    """
    u = positive("kinematic_viscosity_40", kinematic_viscosity_40)
    _, high = reference_viscosities(kinematic_viscosity_100)
    y = as_floats(kinematic_viscosity_100) / _MM2
    exponent = np.log(high / u) / np.log(y)
    return (10.0**exponent - 1.0) / 0.00715 + 100.0


def viscosity_index(kinematic_viscosity_40: ArrayLike, kinematic_viscosity_100: ArrayLike) -> FloatArray:
    """Compute the viscosity index, by procedure A up to 100 and by procedure B above.

    Parameters
    ----------
    kinematic_viscosity_40 : array_like
        Kinematic viscosity at 40 degC [m^2/s], any shape.
    kinematic_viscosity_100 : array_like
        Kinematic viscosity at 100 degC [m^2/s].

    Returns
    -------
    ndarray
        Viscosity index [-], not rounded; see `reported_viscosity_index` for the rounding.

    Raises
    ------
    ValueError
        If a viscosity at 100 degC is under 2 mm^2/s, or `walther_line_40_100` refuses the pair: the viscosity
        does not fall from 40 to 100 degC.

    References
    ----------
    ASTM D2270, choice of procedure; ISO 2909.

    Examples
    --------
    >>> [f"{vi:.2f}" for vi in viscosity_index([73.30e-6, 53.47e-6], [8.86e-6, 7.80e-6])]
    ['92.43', '111.31']
    """
    walther_line_40_100(kinematic_viscosity_40, kinematic_viscosity_100)
    a = procedure_a(kinematic_viscosity_40, kinematic_viscosity_100)
    b = procedure_b(kinematic_viscosity_40, kinematic_viscosity_100)
    return np.where(a <= 100.0, a, b)


def reported_viscosity_index(index: ArrayLike) -> FloatArray:
    """Round a viscosity index to the whole number that is reported; a tie goes to the even number.

    Parameters
    ----------
    index : array_like
        Viscosity index [-], any shape.

    Returns
    -------
    ndarray
        Whole numbers as floats [-], so that a missing index stays missing.

    References
    ----------
    ASTM D2270, rounding of the result.

    Examples
    --------
    >>> reported_viscosity_index([92.4296, 156.42, 89.5, 90.5]).tolist()
    [92.0, 156.0, 90.0, 90.0]
    """
    return np.rint(as_floats(index))

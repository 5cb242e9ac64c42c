"""Hertz contacts: exact elliptic point contact and line contact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive
from pinscar.contact.ellipticity import ellipse_shape


@dataclass(frozen=True, slots=True)
class EllipticContact:
    """Elastic contact over an ellipse.

    Parameters
    ----------
    semi_major, semi_minor : ndarray of float
        Long and short half-axis a and b [m].
    peak_pressure, mean_pressure : ndarray of float
        Pressure at the centre, and load over area [Pa].
    approach : ndarray of float
        How far distant points of the bodies come together [m].
    """

    semi_major: FloatArray
    semi_minor: FloatArray
    peak_pressure: FloatArray
    mean_pressure: FloatArray
    approach: FloatArray


@dataclass(frozen=True, slots=True)
class LineContact:
    """Elastic contact along a line.

    The approach is left out: it depends on the whole shape of the bodies, not on the contact alone
    (Johnson, 1985, section 5.6).

    Parameters
    ----------
    half_width : ndarray of float
        Half-width b [m].
    peak_pressure, mean_pressure : ndarray of float
        Pressure on the centre line, and load over area [Pa].
    """

    half_width: FloatArray
    peak_pressure: FloatArray
    mean_pressure: FloatArray


def elliptic_contact(
    load: ArrayLike, curvature_a: ArrayLike, curvature_b: ArrayLike, reduced_modulus: ArrayLike
) -> EllipticContact:
    """Solve the elastic point contact of two bodies exactly (Hertz).

    ``a^3 = 3 F (K - E)/(2 pi E* e^2 A)``, ``p0 = 3 F/(2 pi a b)``, mean pressure ``2 p0/3``, approach
    ``3 F K/(2 pi E* a)``; the axis ratio b/a follows from B/A alone (`ellipse_shape`).

    Parameters
    ----------
    load : array_like
        Load F [N].
    curvature_a, curvature_b : array_like
        Semi-curvatures of the gap ``A x^2 + B y^2``, 0 < A <= B [1/m] (`relative_curvatures`).
    reduced_modulus : array_like
        Reduced modulus E* [Pa] (`reduced_modulus`).

    Returns
    -------
    EllipticContact
        Half-axes, pressures and approach, broadcast shape. The long axis lies along x, where A curves.

    Raises
    ------
    ValueError
        An argument is not above zero, or A exceeds B.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.22) to (4.28).

    Examples
    --------
    Equal steel cylinders of 10 mm radius at 90 degrees under 600 N, the same as a sphere of 10 mm on a flat:

    >>> contact = elliptic_contact(600, 50, 50, 115.384615e9)
    >>> round(float(contact.semi_major) * 1e6, 3), round(float(contact.peak_pressure) / 1e9, 5)
    (339.121, 2.49105)
    """
    force, modulus = positive("load", load), positive("reduced_modulus", reduced_modulus)
    a_curve, b_curve = positive("curvature_a", curvature_a), positive("curvature_b", curvature_b)
    if np.any(a_curve > b_curve):
        raise ValueError("curvature_a must not exceed curvature_b: swap them")
    ratio, k, t = ellipse_shape(b_curve / a_curve)
    squeeze = 1.5 * force / (np.pi * modulus)
    semi_major = np.cbrt(squeeze * k * (0.5 + (1.0 - ratio) * (1.0 + ratio) * t) / a_curve)
    semi_minor = ratio * semi_major
    mean = force / (np.pi * semi_major * semi_minor)
    return EllipticContact(semi_major, semi_minor, 1.5 * mean, mean, squeeze * k / semi_major)


def line_contact(
    load_per_length: ArrayLike, curvature_sum: ArrayLike, reduced_modulus: ArrayLike
) -> LineContact:
    """Solve the elastic contact of two cylinders with parallel axes (Hertz).

    ``b^2 = 4 P R/(pi E*)`` with ``1/R = 1/R1 + 1/R2``, ``p0 = 2 P/(pi b)``, mean pressure ``P/(2 b) = pi
    p0/4``.

    Parameters
    ----------
    load_per_length : array_like
        Load over length of contact P [N/m].
    curvature_sum : array_like
        1/R1 + 1/R2 [1/m]; a flat adds zero, a concave body a negative number.
    reduced_modulus : array_like
        Reduced modulus E* [Pa].

    Returns
    -------
    LineContact
        Half-width and pressures, broadcast shape.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.43) to (4.46).

    Examples
    --------
    Steel cylinders of 6 and 20 mm radius side by side, 100 kN/m:

    >>> contact = line_contact(100e3, 1 / 6e-3 + 1 / 20e-3, 115.384615e9)
    >>> round(float(contact.half_width) * 1e6, 4), round(float(contact.peak_pressure) / 1e9, 5)
    (71.365, 0.89206)
    """
    force = positive("load_per_length", load_per_length)
    curvature, modulus = (
        positive("curvature_sum", curvature_sum),
        positive("reduced_modulus", reduced_modulus),
    )
    half_width = np.sqrt(4.0 * force / (np.pi * modulus * curvature))
    mean = 0.5 * force / half_width
    return LineContact(half_width, 4.0 * mean / np.pi, mean)

"""Relative curvature of two bodies at the point where they touch."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive


def relative_curvatures(
    curvatures_1: tuple[ArrayLike, ArrayLike], curvatures_2: tuple[ArrayLike, ArrayLike], angle: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Compute the principal semi-curvatures A <= B of the gap between two curved bodies.

    The gap is ``A x^2 + B y^2`` with ``A + B = (k1 + k1' + k2 + k2')/2`` and
    ``B - A = sqrt((k1 - k1')^2 + (k2 - k2')^2 + 2 (k1 - k1')(k2 - k2') cos 2 angle) / 2``. A itself comes
    from the determinant of the summed curvature matrices, ``4 A B = k1 k1' + k2 k2' + (k1 k2' + k1' k2)
    cos^2 angle + (k1 k2 + k1' k2') sin^2 angle``, so that it keeps all its digits when the axes are nearly
    parallel.

    Parameters
    ----------
    curvatures_1, curvatures_2 : tuple of two array_like
        Principal curvatures of each body, 1/radius [1/m]: positive convex, zero flat, negative concave.
    angle : array_like
        Angle between the planes of the first curvature of body 1 and of body 2 [rad].

    Returns
    -------
    tuple of two ndarray of float
        A and B [1/m], broadcast shape. A = 0 means contact along a line.

    Raises
    ------
    ValueError
        The bodies do not touch at a point or along a line (A below zero).

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.1, eq. (4.6) and (4.7). The determinant form is an own
    derivation.

    Examples
    --------
    A. P. Boresi and R. J. Schmidt, Advanced Mechanics of Materials, Example 17.1: B/A = 1.497.

    >>> a, b = relative_curvatures((1 / 0.060, 1 / 0.130), (1 / 0.080, 1 / 0.200), 1.0471975512)
    >>> round(float(b / a), 4)
    1.4973
    """
    k1, l1 = (as_floats(k) for k in curvatures_1)
    k2, l2 = (as_floats(k) for k in curvatures_2)
    angles = as_floats(angle)
    cos, sin = np.cos(angles), np.sin(angles)
    total = 0.5 * (k1 + l1 + k2 + l2)
    p, q = k1 - l1, k2 - l2
    spread = 0.5 * np.hypot(p + q * np.cos(2.0 * angles), q * np.sin(2.0 * angles))
    larger = 0.5 * (total + spread)
    if np.any(larger <= 0):
        raise ValueError("curvatures_1 and curvatures_2 leave no gap: the sum of all four must be above zero")
    determinant = k1 * l1 + k2 * l2 + (k1 * l2 + l1 * k2) * cos**2 + (k1 * k2 + l1 * l2) * sin**2
    smaller = 0.25 * determinant / larger
    if np.any(smaller < 0):
        raise ValueError("curvatures_1 and curvatures_2 overlap beside the contact: A must not be below zero")
    return np.minimum(smaller, larger), larger


def cylinder_curvatures(
    radius_1: ArrayLike, radius_2: ArrayLike, crossing_angle: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Compute the semi-curvatures A <= B of two cylinders whose axes cross at an angle.

    ``A + B = (1/R1 + 1/R2)/2``, ``B - A = sqrt(1/R1^2 + 1/R2^2 + 2 cos(2 theta)/(R1 R2))/2``, and
    ``A B = sin(theta)^2 / (4 R1 R2)``.

    Parameters
    ----------
    radius_1, radius_2 : array_like
        Radius of each cylinder [m].
    crossing_angle : array_like
        Angle between the two axes [rad]; 0 is parallel (A = 0).

    Returns
    -------
    tuple of two ndarray of float
        A and B [1/m], broadcast shape.

    Raises
    ------
    ValueError
        A radius is not above zero, or the angle is negative.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.1, eq. (4.6) and (4.7), with one curvature of each
    body zero.

    Examples
    --------
    Pin of 6 mm radius across a ring of 20 mm radius:

    >>> a, b = cylinder_curvatures(6e-3, 20e-3, 1.5707963267948966)
    >>> round(float(a), 6), round(float(b), 6)
    (25.0, 83.333333)
    """
    k1, k2 = 1.0 / positive("radius_1", radius_1), 1.0 / positive("radius_2", radius_2)
    angle = not_negative("crossing_angle", crossing_angle)
    # Each cylinder is curved at right angles to its axis, so the planes of curvature cross at the axes'
    # angle.
    return relative_curvatures((k1, np.zeros_like(k1)), (k2, np.zeros_like(k2)), angle)

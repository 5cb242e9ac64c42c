"""The oval that two worn cylinders leave at any crossing angle: its axes, and its depth from one of them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative
from pinscar.contact.segment import half_chord, sagitta
from pinscar.errors import OutOfRangeError

_MOST_STEPS = 60
_RIGHT_ANGLE = 1e-6


def oval_direction(pin_radius: float, ring_radius: float, crossing_angle: float) -> float:
    """Compute the direction of the oval's axis that lies nearer the pin's axis.

    With x along the pin and theta the crossing angle the scar's outline is, for small depth, the ellipse
    ``(x sin theta - y cos theta)^2/(2 Rr) + y^2/(2 Rp) = h``. Its axes lie at
    ``phi = arg(1/Rp + exp(2 i theta)/Rr)/2`` and at right angles to that.

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr [m].
    crossing_angle : float
        Angle between the two axes [rad].

    Returns
    -------
    float
        Angle from the pin's axis to the oval's axis, turned towards the ring's axis [rad], -pi/4 to pi/4.

    References
    ----------
    Own derivation: principal axes of a quadratic form. K. L. Johnson, Contact Mechanics, 1985, section 4.1
    gives the same axes for the elastic contact ellipse.

    Examples
    --------
    >>> import math
    >>> round(math.degrees(oval_direction(6e-3, 20e-3, math.radians(60))), 3)
    8.498
    """
    sine, cosine = angle_parts(crossing_angle)
    k_pin, k_ring = 1.0 / pin_radius, 1.0 / ring_radius
    along, across = k_pin + k_ring * (cosine - sine) * (cosine + sine), 2.0 * k_ring * sine * cosine
    # A circle (equal radii at right angles) has no axes: take the pin's own.
    phi = 0.5 * math.atan2(across, along)
    quarter = 0.25 * math.pi
    return phi - math.copysign(0.5 * math.pi, phi) if abs(phi) > quarter else phi


def angle_parts(crossing_angle: float) -> tuple[float, float]:
    """Compute sine and cosine of a crossing angle, with the cosine of a right angle exactly zero.

    Parameters
    ----------
    crossing_angle : float
        Angle between the two axes [rad], above 0 and below pi.

    Returns
    -------
    tuple of two float
        Sine and cosine [-].

    Raises
    ------
    ValueError
        The angle is not above 0 and below pi: parallel cylinders touch along a line.

    References
    ----------
    Trigonometry. A right angle written to six decimals is meant as one.

    Examples
    --------
    >>> import math
    >>> angle_parts(math.pi / 2)
    (1.0, 0.0)
    """
    if not 0.0 < crossing_angle < math.pi:
        raise OutOfRangeError("crossing_angle", "must be above 0 and below pi rad", crossing_angle)
    cosine = math.cos(crossing_angle)
    return math.sin(crossing_angle), 0.0 if abs(cosine) < _RIGHT_ANGLE else cosine


def depth_along(
    pin_radius: float, ring_radius: float, across: tuple[float, float], length: ArrayLike
) -> FloatArray:
    """Compute the depth of a scar from the length of its outline along one direction.

    A point of the outline at half-length l in direction phi lies ``l sin phi`` beside the pin's axis and
    ``l sin(theta - phi)`` beside the ring's, so the sum of the two sagittas is the depth::

        h = Rp - sqrt(Rp^2 - (l sin phi)^2) + Rr - sqrt(Rr^2 - (l sin(theta - phi))^2)

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr [m].
    across : tuple of two float
        Sine of the angle between the direction and the pin's axis, and the ring's axis [-].
    length : array_like
        Length of the outline in that direction [m].

    Returns
    -------
    ndarray of float
        Depth [m], same shape.

    Raises
    ------
    ValueError
        The length is negative, or reaches past the pin or past the ring.

    References
    ----------
    Own derivation.

    Examples
    --------
    Right angle, along the pin:

    >>> round(float(depth_along(6e-3, 20e-3, (0.0, 1.0), 4e-3)) * 1e3, 8)
    0.10025126
    """
    half = 0.5 * not_negative("length", length)
    reach = outline_limit(pin_radius, ring_radius, across)
    if np.any(half > 0.5 * reach * (1.0 + 1e-12)):
        raise ValueError(
            f"length must not exceed {reach:g} m, where the scar reaches past the pin or the ring"
        )
    half = np.minimum(half, 0.5 * reach)
    return np.asarray(
        sagitta(pin_radius, np.minimum(half * abs(across[0]), pin_radius))
        + sagitta(ring_radius, np.minimum(half * abs(across[1]), ring_radius))
    )


def length_along(
    pin_radius: float, ring_radius: float, across: tuple[float, float], depth: ArrayLike
) -> FloatArray:
    """Compute the length of a scar outline along one direction from its depth, inverse of `depth_along`.

    Explicit where the direction is one of the two axes; else by Newton steps for the square of the
    half-length. The depth is a convex rising function of it, and the start (the ellipse of small depth)
    lies beyond the root, so the steps come down to it without overshooting.

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr [m].
    across : tuple of two float
        Sine of the angle between the direction and the pin's axis, and the ring's axis [-].
    depth : array_like
        Depth [m].

    Returns
    -------
    ndarray of float
        Length [m], same shape.

    Raises
    ------
    ValueError
        The depth is negative, or so large that the outline reaches past the pin or the ring.

    References
    ----------
    Own derivation.

    Examples
    --------
    Right angle, across the pin:

    >>> round(float(length_along(6e-3, 20e-3, (1.0, 0.0), 0.10025126e-3)) * 1e3, 6)
    2.184459
    """
    h = not_negative("depth", depth)
    reach = outline_limit(pin_radius, ring_radius, across)
    deepest = float(depth_along(pin_radius, ring_radius, across, reach))
    if np.any(h > deepest * (1.0 + 1e-12)):
        raise ValueError(
            f"depth must not exceed {deepest:g} m, where the scar reaches past the pin or the ring"
        )
    h = np.minimum(h, deepest)
    if across[0] == 0.0:
        return np.asarray(2.0 * half_chord(ring_radius, h) / abs(across[1]))
    if across[1] == 0.0:
        return np.asarray(2.0 * half_chord(pin_radius, h) / abs(across[0]))
    return _newton(pin_radius, ring_radius, across, h, 0.25 * reach**2)


def outline_limit(pin_radius: float, ring_radius: float, across: tuple[float, float]) -> float:
    """Compute the longest outline in one direction, where it reaches the side of the pin or of the ring.

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr [m].
    across : tuple of two float
        Sine of the angle between the direction and the pin's axis, and the ring's axis [-].

    Returns
    -------
    float
        Length [m].

    References
    ----------
    Own derivation.

    Examples
    --------
    >>> outline_limit(6e-3, 20e-3, (0.0, 1.0))
    0.04
    """
    limits = [2.0 * r / abs(s) for r, s in zip((pin_radius, ring_radius), across, strict=True) if s != 0.0]
    return min(limits)


def _newton(
    pin_radius: float, ring_radius: float, across: tuple[float, float], depth: FloatArray, most: float
) -> FloatArray:
    p, r = across[0] ** 2, across[1] ** 2
    # A hair inside the limit the slope is still finite.
    q = np.minimum(2.0 * depth / (p / pin_radius + r / ring_radius), most * (1.0 - 1e-14))
    for _ in range(_MOST_STEPS):
        root_p, root_r = np.sqrt(pin_radius**2 - q * p), np.sqrt(ring_radius**2 - q * r)
        found = q * p / (pin_radius + root_p) + q * r / (ring_radius + root_r)
        step = (depth - found) / (0.5 * p / root_p + 0.5 * r / root_r)
        q = np.clip(q + step, 0.0, most * (1.0 - 1e-14))
        if not np.any(np.abs(step) > 1e-15 * q):
            break
    return np.asarray(2.0 * np.sqrt(q))

"""Overlap of two cylinders whose axes cross: circular segments, volume and projected area at a depth.

At any other crossing angle than a right one: the oval's axes, and its depth from one of them.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, within
from pinscar.errors import OutOfRangeError

# x - sin x = x^3 (1/3! - x^2/5! + x^4/7! - ...): below this angle the series, above it the plain difference.
_SERIES_BELOW = 1.0
_SERIES = tuple((-1.0) ** k / float(np.prod(np.arange(1.0, 2 * k + 4))) for k in range(9))


def angle_minus_sine(angle: ArrayLike) -> FloatArray:
    """Compute ``x - sin x`` without losing digits at small angles.

    Parameters
    ----------
    angle : array_like
        Angle x [rad], 0 or more.

    Returns
    -------
    ndarray of float
        x - sin x [-], same shape.

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, eq. (4.3.65), series of the
    sine.

    Examples
    --------
    >>> f"{float(angle_minus_sine(1e-3)):.12e}"
    '1.666666583333e-10'
    """
    x = as_floats(angle)
    small = bool(np.all(x < _SERIES_BELOW))
    square = x**2 if small else np.minimum(x, _SERIES_BELOW) ** 2
    series = np.full_like(square, _SERIES[-1])
    for coefficient in _SERIES[-2::-1]:
        series = series * square + coefficient
    if small:
        return np.asarray(series * square * x)
    return np.where(x < _SERIES_BELOW, series * square * np.minimum(x, _SERIES_BELOW), x - np.sin(x))


def segment_area(radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute the area that a chord cuts off a circle, from the depth under the rim.

    ``S = r^2 (alpha - sin alpha)/2`` with the angle that the chord subtends, ``alpha = 4 asin sqrt(d/(2
    r))``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    depth : array_like
        Depth d of the segment [m], 0 to 2 r.

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the depth lies outside 0 to 2 r.

    References
    ----------
    Plane geometry, as in I. N. Bronshtein and K. A. Semendyayev, Handbook of Mathematics, circular segment.

    Examples
    --------
    Half a circle of radius 1:

    >>> round(float(segment_area(1.0, 1.0)), 6)
    1.570796
    """
    r = positive("radius", radius)
    share = within("depth over diameter", as_floats(depth) / (2.0 * r), 0.0, 1.0)
    return np.asarray(0.5 * r**2 * angle_minus_sine(4.0 * np.arcsin(np.sqrt(share))))


def sagitta(radius: ArrayLike, half_chord: ArrayLike) -> FloatArray:
    """Compute the depth of a circular segment from half its chord, ``d = r - sqrt(r^2 - c^2)``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    half_chord : array_like
        Half the chord c [m], -r to r.

    Returns
    -------
    ndarray of float
        Depth, at most one radius [m], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the chord is longer than the diameter.

    References
    ----------
    Plane geometry; written as ``c^2/(r + sqrt(r^2 - c^2))``, which keeps all digits of a shallow segment.

    Examples
    --------
    >>> round(float(sagitta(20e-3, 5e-3)) * 1e3, 8)
    0.63508327
    """
    r, c = positive("radius", radius), as_floats(half_chord)
    room = (r - c) * (r + c)
    if np.any(room < 0):
        raise ValueError("half_chord must not exceed the radius: the chord is longer than the diameter")
    return np.asarray(c * c / (r + np.sqrt(room)))


def half_chord(radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute half the chord of a circular segment from its depth, ``c = sqrt(2 r d - d^2)``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    depth : array_like
        Depth d [m], 0 to 2 r.

    Returns
    -------
    ndarray of float
        Half the chord [m], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the depth lies outside 0 to 2 r.

    References
    ----------
    Plane geometry, intersecting chords.

    Examples
    --------
    >>> round(float(half_chord(6e-3, 0.63508327e-3)) * 2e3, 7)
    5.3731438
    """
    r, d = positive("radius", radius), as_floats(depth)
    square = d * (2.0 * r - d)
    if np.any(square < 0):
        raise ValueError("depth must lie between 0 and the diameter")
    return np.sqrt(square)


# With the substitution of `slice_nodes` the integrands are analytic: 48 nodes reach 1e-14, 64 leave room
# for the deepest overlaps.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
# A cut no deeper than that share of the smaller radius needs fewer: with 16 nodes the volume is within 1e-14.
_SHALLOW = 0.25
_FEW_NODES = np.polynomial.legendre.leggauss(16)
_PIECE = 2048
"""So many cases are computed at a time: their nodes stay in the processor's cache."""


def overlap_volume(pin_radius: ArrayLike, ring_radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute the volume that two crossed cylinders share when one is sunk into the other by a depth.

    Slices at right angles to the pin's axis at ``x = Rr sin beta`` cut the pin's circle to the depth
    ``d = h - Rr (1 - cos beta)``; S(d) is the circular segment, nothing below 0 and the whole circle beyond
    2 Rp::

        V = 2 Rr integral from 0 to pi of S(d) cos(beta) d beta

    The part beyond pi/2, where the cosine is negative, takes off what lies past the ring's far side (h
    above Rr). Small depth: ``pi h^2 sqrt(Rp Rr)``. At ``h = Rp + Rr`` the axes meet; with equal radii that
    is the bicylinder, 16 r^3/3.

    Parameters
    ----------
    pin_radius, ring_radius : array_like
        Radii Rp and Rr [m].
    depth : array_like
        Depth h by which the cylinders overlap on the line between their axes [m], 0 to Rp + Rr.

    Returns
    -------
    ndarray of float
        Volume [m^3], broadcast shape.

    Raises
    ------
    ValueError
        A radius is not above zero, or the depth lies outside 0 to Rp + Rr.

    References
    ----------
    Derivation: at each x along the scar the ring cuts a circular segment of depth h - (Rr - sqrt(Rr^2 -
    x^2)) off the pin; V is the integral of `segment_area` over x, by Gauss-Legendre quadrature. Equal
    radii, full depth: 16 r^3/3, Archimedes, The Method, proposition 15.

    Examples
    --------
    The bicylinder of radius 1, 16/3:

    >>> round(float(overlap_volume(1.0, 1.0, 2.0)), 10)
    5.3333333333
    """
    rp, rr, h = _broadcast(pin_radius, ring_radius, depth)
    flat, found = [np.ravel(one) for one in (rp, rr, h)], np.empty(h.size)
    for start in range(0, h.size, _PIECE):
        piece = slice(start, start + _PIECE)
        found[piece] = _volumes(*(one[piece] for one in flat))
    return found.reshape(h.shape)


def _volumes(rp: FloatArray, rr: FloatArray, h: FloatArray) -> FloatArray:
    shallow = h <= _SHALLOW * np.minimum(rp, rr)
    if shallow.all():
        return _volume(rp, rr, h, _FEW_NODES)
    found = np.empty(h.shape)
    for which, nodes in ((shallow, _FEW_NODES), (~shallow, (_NODES, _WEIGHTS))):
        found[which] = _volume(rp[which], rr[which], h[which], nodes)
    return found


def _volume(
    rp: FloatArray, rr: FloatArray, h: FloatArray, nodes: tuple[FloatArray, FloatArray]
) -> FloatArray:
    whole, end = turn_at(rr, np.maximum(h - 2.0 * rp, 0.0)), turn_at(rr, np.minimum(h, 2.0 * rr))
    d, cosine, weight = slice_nodes(rr, h, whole, end, nodes)
    segment = segment_area(rp[..., None], np.minimum(d, 2.0 * rp[..., None]))
    part = np.sum(weight * cosine * segment, axis=-1)
    return np.asarray(2.0 * rr * (np.pi * rp**2 * np.sin(whole) + part))


def overlap_area(pin_radius: ArrayLike, ring_radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute the area of the overlap as seen along the line between the axes: the true projected scar area.

    ``A = 4 Rr integral of sqrt(2 Rp d - d^2) cos(beta) d beta``, with d as in `overlap_volume`, whose slope
    dV/dh it is.

    Parameters
    ----------
    pin_radius, ring_radius : array_like
        Radii Rp and Rr [m].
    depth : array_like
        Depth h [m], 0 to the smaller of the two radii.

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape.

    Raises
    ------
    ValueError
        A radius is not above zero, or the depth lies outside 0 to the smaller radius, where the outline is no
        longer an oval.

    References
    ----------
    Derivation: at each x along the scar the outline is as wide as the pin's chord at the depth d there, 2
    sqrt(2 Rp d - d^2); A is the integral over x, by Gauss-Legendre quadrature, and equals dV/dh of
    `overlap_volume`.

    Examples
    --------
    Pin of 6 mm on a ring of 20 mm radius, scar 10 mm long:

    >>> round(float(overlap_area(6e-3, 20e-3, 0.635083269e-3)) * 1e6, 5)
    42.57709
    """
    rp, rr, h = _broadcast(pin_radius, ring_radius, depth)
    if np.any(h > np.minimum(rp, rr)):
        raise ValueError(
            "depth must not exceed the smaller radius, beyond which the scar is no longer an oval"
        )
    d, cosine, weight = slice_nodes(rr, h, np.zeros(h.shape), turn_at(rr, h))
    width = np.sqrt(d * np.maximum(2.0 * rp[..., None] - d, 0.0))
    return np.asarray(4.0 * rr * np.sum(weight * cosine * width, axis=-1))


def _broadcast(
    pin_radius: ArrayLike, ring_radius: ArrayLike, depth: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    radii = positive("pin_radius", pin_radius), positive("ring_radius", ring_radius)
    rp, rr, h = np.broadcast_arrays(*radii, as_floats(depth))
    if np.any((h < 0) | (h > (rp + rr) * (1.0 + 1e-12))):
        raise ValueError("depth must lie between 0 and the sum of the radii")
    return rp, rr, h


def turn_at(radius: FloatArray, height: FloatArray) -> FloatArray:
    """Compute the angle from a circle's lowest point to where it lies this high above it.

    Parameters
    ----------
    radius : ndarray of float
        Radius r of the circle [m].
    height : ndarray of float
        Height d above the lowest point [m], 0 to 2 r.

    Returns
    -------
    ndarray of float
        Angle ``2 asin sqrt(d/(2 r))`` [rad], broadcast shape.

    References
    ----------
    Plane geometry: ``1 - cos(beta) = 2 sin(beta/2)^2``.

    Examples
    --------
    >>> round(float(turn_at(np.array(1.0), np.array(1.0))), 6)
    1.570796
    """
    return np.asarray(2.0 * np.arcsin(np.sqrt(height / (2.0 * radius))))


def slice_nodes(
    radius: FloatArray,
    depth: FloatArray,
    start: FloatArray,
    end: FloatArray,
    nodes: tuple[FloatArray, FloatArray] = (_NODES, _WEIGHTS),
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Make the nodes of the quadrature over the slices of an overlap.

    ``beta = start + (end - start) sin^2 s`` smooths the half-integer powers with which a segment sets in at
    both ends, so that Gauss-Legendre nodes in s converge to rounding error.

    Parameters
    ----------
    radius : ndarray of float
        Radius r of the circle that the slices run along [m].
    depth : ndarray of float
        Depth h at its lowest point [m].
    start, end : ndarray of float
        Range of the angle beta [rad]; at its end the circle is back at the surface, or at its highest point.
    nodes : tuple of two ndarray of float, optional
        Nodes and weights of the quadrature on -1 to 1 [-], shape (nodes,).

    Returns
    -------
    tuple of three ndarray of float
        Depth of the slice ``h - r (1 - cos beta)`` [m], cos(beta) [-] and weight [rad] at the nodes, which
        form the last axis.

    References
    ----------
    Gauss-Legendre nodes and weights (NumPy); the angle goes as the square of a sine, so that the square
    roots at both ends are smooth. M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964,
    25.4.29.

    Examples
    --------
    The weights add up to the range of the angle:

    >>> _, _, weight = slice_nodes(np.array(1.0), np.array(0.1), np.array(0.0), np.array(0.5))
    >>> round(float(weight.sum()), 12)
    0.5
    """
    places, weights = nodes
    s = 0.25 * np.pi * (places + 1.0)
    span = (end - start)[..., None]
    # Angle and distance to the end without subtracting nearly equal numbers.
    beta, rest = start[..., None] + span * np.sin(s) ** 2, span * np.cos(s) ** 2
    top, r = np.minimum(depth, 2.0 * radius)[..., None], radius[..., None]
    d = (depth[..., None] - top) + 2.0 * r * np.sin(0.5 * rest) * np.sin(0.5 * (end[..., None] + beta))
    return d, np.cos(beta), 0.25 * np.pi * weights * span * np.sin(2.0 * s)


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
    Derivation: the shallow gap is the quadratic form y^2/(2 Rp) + (x sin theta - y cos theta)^2/(2 Rr),
    whose principal axes are those of the oval: tan 2 phi is the mixed over the difference of the pure
    terms. K. L. Johnson, Contact Mechanics, 1985, section 4.1, has the same form for the elastic ellipse.

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
    Derivation: at the end of the scar the bodies just touch, so the depth is the sum of both sagittas
    there: of the pin at the distance a L/2 from its axis, of the ring at b L/2, with (a, b) the parts of
    the direction.

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
    Derivation: the inverse of `depth_along`, by Newton steps.

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
    Derivation: the sagittas of `depth_along` end at the side of the pin or of the ring, a L/2 = Rp or b L/2
    = Rr.

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
    # Just inside the limit the slope is still finite.
    q = np.minimum(2.0 * depth / (p / pin_radius + r / ring_radius), most * (1.0 - 1e-14))
    for _ in range(_MOST_STEPS):
        root_p, root_r = np.sqrt(pin_radius**2 - q * p), np.sqrt(ring_radius**2 - q * r)
        found = q * p / (pin_radius + root_p) + q * r / (ring_radius + root_r)
        step = (depth - found) / (0.5 * p / root_p + 0.5 * r / root_r)
        q = np.clip(q + step, 0.0, most * (1.0 - 1e-14))
        if not np.any(np.abs(step) > 1e-15 * q):
            break
    return np.asarray(2.0 * np.sqrt(q))

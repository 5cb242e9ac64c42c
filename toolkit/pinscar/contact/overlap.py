"""Overlap of two cylinders whose axes cross at right angles: volume and projected area at a given depth."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive
from pinscar.contact.segment import segment_area

# With the substitution of `slice_nodes` the integrands are analytic: 48 nodes reach 1e-14, 64 leave room
# for the deepest overlaps.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


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
    Own derivation, Gauss-Legendre quadrature; bicylinder: Archimedes, The Method, proposition 15.

    Examples
    --------
    The bicylinder of radius 1, 16/3:

    >>> round(float(overlap_volume(1.0, 1.0, 2.0)), 10)
    5.3333333333
    """
    rp, rr, h = _broadcast(pin_radius, ring_radius, depth)
    whole, end = turn_at(rr, np.maximum(h - 2.0 * rp, 0.0)), turn_at(rr, np.minimum(h, 2.0 * rr))
    d, cosine, weight = slice_nodes(rr, h, whole, end)
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
    Own derivation, Gauss-Legendre quadrature.

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
    radius: FloatArray, depth: FloatArray, start: FloatArray, end: FloatArray
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

    Returns
    -------
    tuple of three ndarray of float
        Depth of the slice ``h - r (1 - cos beta)`` [m], cos(beta) [-] and weight [rad] at the nodes, which
        form the last axis.

    References
    ----------
    Own derivation; nodes of Gauss and Legendre from NumPy.

    Examples
    --------
    The weights add up to the range of the angle:

    >>> _, _, weight = slice_nodes(np.array(1.0), np.array(0.1), np.array(0.0), np.array(0.5))
    >>> round(float(weight.sum()), 12)
    0.5
    """
    s = 0.25 * np.pi * (_NODES + 1.0)
    span = (end - start)[..., None]
    # The angle and its distance from the end are both made without a difference of nearly equal numbers.
    beta, rest = start[..., None] + span * np.sin(s) ** 2, span * np.cos(s) ** 2
    top, r = np.minimum(depth, 2.0 * radius)[..., None], radius[..., None]
    d = (depth[..., None] - top) + 2.0 * r * np.sin(0.5 * rest) * np.sin(0.5 * (end[..., None] + beta))
    return d, np.cos(beta), 0.25 * np.pi * _WEIGHTS * span * np.sin(2.0 * s)

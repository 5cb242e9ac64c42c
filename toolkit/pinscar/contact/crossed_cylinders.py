"""Geometry: a cylindrical pin across a cylindrical ring, at any crossing angle and any two radii."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive
from pinscar.contact.hertz import EllipticContact, cylinder_curvatures, elliptic_contact
from pinscar.contact.overlap import (
    angle_parts,
    depth_along,
    length_along,
    outline_limit,
    oval_direction,
    overlap_area,
    overlap_volume,
)
from pinscar.contact.wear import oval_area


@dataclass(frozen=True)
class CrossedCylinders:
    """A pin pressed across a ring: only the pin wears, and its scar takes the shape of the unworn ring.

    The length L is the axis of the oval scar that lies nearer the pin's axis, the width W the other. At a
    right angle ``h = Rr - sqrt(Rr^2 - L^2/4)`` and ``W = 2 sqrt(2 Rp h - h^2)``.

    At any other angle theta take oblique coordinates, ``u = x sin theta - y cos theta`` (distance from the
    ring's axis) and y (distance from the pin's axis). Both surfaces are the same functions of u and y as at
    a right angle, and ``dx dy = du dy / sin theta``: so at equal depth the overlap volume and the footprint
    area are exactly those of the right angle divided by sin theta. Depth from length is explicit along the
    oval's axis (`depth_along`).

    Where the oval is nearly a circle (nearly equal radii near a right angle) its axes are ill defined: at
    ``L = R/2`` the depth then depends by up to 1 % on the direction taken.

    The ring is taken as wider than the scar, and the pin as longer.

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr [m].
    crossing_angle : float
        Angle theta between the two axes [rad], above 0 and below pi.

    Raises
    ------
    ValueError
        A radius is not above zero, or the axes are parallel.

    References
    ----------
    Right angle: plane geometry of the chord. Other angles: own derivation.

    Examples
    --------
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> round(float(pair.wear_volume(10e-3)) * 1e9, 4)
    13.6405
    """

    pin_radius: float
    ring_radius: float
    crossing_angle: float = 0.5 * math.pi

    name = "crossed-cylinders"

    def __post_init__(self) -> None:
        positive("pin_radius", self.pin_radius)
        positive("ring_radius", self.ring_radius)
        angle_parts(self.crossing_angle)

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> EllipticContact:
        """Solve the elastic contact of the unworn cylinders.

        Parameters
        ----------
        load : array_like
            Load [N].
        reduced_modulus : array_like
            Reduced modulus E* [Pa].

        Returns
        -------
        EllipticContact
            Half-axes [m], pressures [Pa] and approach [m], broadcast shape.

        References
        ----------
        K. L. Johnson, Contact Mechanics, 1985, section 4.1, eq. (4.4) and (4.5) (relative curvatures of
        bodies at an angle), and section 4.2(b) (general profiles).

        Examples
        --------
        >>> contact = CrossedCylinders(6e-3, 20e-3).initial_contact(600, 115.384615e9)
        >>> round(float(contact.peak_pressure) / 1e9, 4)
        2.4368
        """
        a, b = cylinder_curvatures(self.pin_radius, self.ring_radius, self.crossing_angle)
        return elliptic_contact(load, a, b, reduced_modulus)

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth of a scar from its length; at a right angle ``Rr - sqrt(Rr^2 - L^2/4)``.

        Parameters
        ----------
        length : array_like
            Length of the scar [m].

        Returns
        -------
        ndarray of float
            Depth in the middle of the scar [m], same shape.

        Raises
        ------
        ValueError
            The scar reaches past the ring or the pin, or it cuts the pin through.

        References
        ----------
        Derivation: at a right angle the ring's profile along the scar is a circle, L^2/4 = Rr^2 - (Rr -
        h)^2; at other angles `depth_along` solves the same gap for a line along the oval.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).scar_depth(2e-3)) * 1e6, 6)
        25.015645
        """
        depth = depth_along(self.pin_radius, self.ring_radius, self._along(), length)
        if np.any(depth > 2.0 * self.pin_radius):
            raise ValueError(
                f"length gives a scar deeper than the pin's diameter, {2.0 * self.pin_radius:g} m"
            )
        return depth

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the length of a scar from its depth.

        Parameters
        ----------
        depth : array_like
            Depth in the middle of the scar [m].

        Returns
        -------
        ndarray of float
            Length [m], same shape.

        Raises
        ------
        ValueError
            The scar would reach past the ring or the pin.

        References
        ----------
        Derivation: the inverse of `scar_depth`; L = 2 sqrt(2 Rr h - h^2) at a right angle.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).scar_length(25.015645e-6)) * 1e3, 6)
        2.0
        """
        return length_along(self.pin_radius, self.ring_radius, self._along(), depth)

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width that a scar of this length has on an unworn ring.

        Parameters
        ----------
        length : array_like
            Length of the scar [m].

        Returns
        -------
        ndarray of float
            Width [m], same shape.

        Raises
        ------
        ValueError
            The scar is wider than the pin or reaches past the ring.

        References
        ----------
        Derivation: the pin's profile across the scar is a circle, W = 2 sqrt(2 Rp h - h^2) at a right
        angle; at other angles `length_along` across the oval.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).implied_width(10e-3)) * 1e3, 6)
        5.373144
        """
        depth = self.scar_depth(length)
        if np.any(depth > self.pin_radius):
            raise ValueError("length gives a scar deeper than the pin's radius, whose width is not defined")
        return length_along(self.pin_radius, self.ring_radius, self._athwart(), depth)

    def longest_scar(self) -> float:
        """Compute the longest scar that this geometry can have, so that a misread one is found early.

        Returns
        -------
        float
            Length [m] up to which depth, width and volume are all defined.

        References
        ----------
        Derivation: the scar is as deep as the pin's radius, or reaches the side of the pin or of the ring.

        Examples
        --------
        >>> round(CrossedCylinders(6e-3, 20e-3).longest_scar() * 1e3, 4)
        28.5657
        """
        depth = self.pin_radius
        for across in (self._along(), self._athwart()):
            reach = outline_limit(self.pin_radius, self.ring_radius, across)
            depth = min(depth, float(depth_along(self.pin_radius, self.ring_radius, across, reach)))
        return float(self.scar_length(depth))

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of a scar from its measured axes, ``(pi/4) L W``.

        Parameters
        ----------
        length, width : array_like
            Measured axes [m]; where the width was not measured, pass `implied_width`.

        Returns
        -------
        ndarray of float
            Area [m^2], broadcast shape.

        References
        ----------
        Definition: area of an ellipse with the two axes, pi L W/4; `footprint_area` is the exact outline's.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).scar_area(2e-3, 1.0946451e-3)) * 1e6, 5)
        1.71946
        """
        return oval_area(length, width)

    def footprint_area(self, length: ArrayLike) -> FloatArray:
        """Compute the exact projected area of a scar from its length; `scar_area` is its usual short form.

        Parameters
        ----------
        length : array_like
            Length of the scar [m].

        Returns
        -------
        ndarray of float
            Area [m^2], same shape.

        Raises
        ------
        ValueError
            The scar reaches past the ring or the pin.

        References
        ----------
        Derivation: the worn outline is where both circles meet at depth h; its area is the integral of
        chords over the depth coordinate, by Gauss-Legendre quadrature (`overlap_area`), over sin theta.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).footprint_area(10e-3)) * 1e6, 5)
        42.57709
        """
        return self.area_at_depth(self.scar_depth(length))

    def wear_volume(
        self,
        length: ArrayLike,
        width: ArrayLike | None = None,  # noqa: ARG002 - same call for every geometry
    ) -> FloatArray:
        """Compute the volume worn off the pin: the exact overlap of the two cylinders.

        Parameters
        ----------
        length : array_like
            Length of the scar [m].
        width : array_like, optional
            Measured width [m]: taken so that all geometries are called alike, and not used, since the
            unworn ring and the length alone fix the overlap.

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        Raises
        ------
        ValueError
            The scar reaches past the ring or the pin, or it cuts the pin through.

        References
        ----------
        Derivation: the volume that both cylinders share at the depth of this length, the integral of
        circular segments along the ring (`overlap_volume`), over sin theta.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).wear_volume(2e-3)) * 1e9, 8)
        0.02152135
        """
        return self.volume_at_depth(self.scar_depth(length))

    def volume_at_depth(self, depth: ArrayLike) -> FloatArray:
        """Compute the volume worn off the pin from the depth of the scar.

        Parameters
        ----------
        depth : array_like
            Depth in the middle of the scar [m].

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        References
        ----------
        Derivation: the integral of circular segments (`overlap_volume`); shearing the axes from 90 degrees
        to theta keeps heights and stretches areas by 1/sin theta.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).volume_at_depth(25.015645e-6)) * 1e9, 8)
        0.02152135
        """
        return np.asarray(overlap_volume(self.pin_radius, self.ring_radius, depth) / self._sine())

    def area_at_depth(self, depth: ArrayLike) -> FloatArray:
        """Compute the exact projected area of a scar from its depth: the slope dV/dh of its volume.

        Parameters
        ----------
        depth : array_like
            Depth in the middle of the scar [m].

        Returns
        -------
        ndarray of float
            Area [m^2], same shape.

        References
        ----------
        Derivation: dV/dh of `volume_at_depth`, by `overlap_area` over sin theta.

        Examples
        --------
        >>> round(float(CrossedCylinders(6e-3, 20e-3).area_at_depth(25.015645e-6)) * 1e6, 5)
        1.72005
        """
        return np.asarray(overlap_area(self.pin_radius, self.ring_radius, depth) / self._sine())

    def area_slope(self) -> float:
        """Compute the ratio of area to depth of a shallow scar, ``c = 2 pi sqrt(Rp Rr)/sin theta``.

        Returns
        -------
        float
            Slope c [m].

        References
        ----------
        Derivation: for h much below both radii the outline is the ellipse x^2/(2 Rr h) + y^2/(2 Rp h) = 1
        with the area 2 pi h sqrt(Rp Rr), over sin theta.

        Examples
        --------
        >>> round(CrossedCylinders(6e-3, 20e-3).area_slope(), 10)
        0.0688288465
        """
        return 2.0 * math.pi * math.sqrt(self.pin_radius * self.ring_radius) / self._sine()

    def _sine(self) -> float:
        return angle_parts(self.crossing_angle)[0]

    def _along(self) -> tuple[float, float]:
        """Sines of the angles from the length axis to the pin's and the ring's axis."""
        sine, cosine = angle_parts(self.crossing_angle)
        phi = oval_direction(self.pin_radius, self.ring_radius, self.crossing_angle)
        return math.sin(phi), sine * math.cos(phi) - cosine * math.sin(phi)

    def _athwart(self) -> tuple[float, float]:
        """Sines of the angles from the width axis to the pin's and the ring's axis."""
        sine, cosine = angle_parts(self.crossing_angle)
        phi = oval_direction(self.pin_radius, self.ring_radius, self.crossing_angle)
        return math.cos(phi), cosine * math.cos(phi) + sine * math.sin(phi)

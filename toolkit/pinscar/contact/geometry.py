"""The test geometries: pin across ring (worn or not), ball on disc, block on ring; and the choice of one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive
from pinscar.contact.hertz import (
    EllipticContact,
    LineContact,
    cylinder_curvatures,
    elliptic_contact,
    line_contact,
)
from pinscar.contact.overlap import (
    angle_parts,
    depth_along,
    half_chord,
    length_along,
    outline_limit,
    oval_direction,
    overlap_area,
    overlap_volume,
    sagitta,
    segment_area,
    slice_nodes,
    turn_at,
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


@dataclass(frozen=True)
class WornRing:
    """A pin pressed across a ring at a right angle, both of which wear.

    The ring carries a groove whose depth g was measured at its deepest point, in the middle of the track.
    There the ring's radius is ``Rr - g``, so a scar of length L on the pin has the depth ``h = (Rr - g) -
    sqrt((Rr - g)^2 - L^2/4)``. At the edges of the track the ring is unworn and touches the pin's unworn
    side: there the pin's sagitta is the whole approach of the two bodies, ``h + g``, so that ``W = 2 sqrt(2
    Rp (h + g) - (h + g)^2)``. The scar is wider than on an unworn ring.

    Between middle and edge the common surface is taken to share the overlap of the two unworn profiles in
    the same proportion, h to g, everywhere across the track. That is an assumption of this model; depth,
    length and width do not rest on it, the volumes do.

    Parameters
    ----------
    pin_radius, ring_radius : float
        Radii Rp and Rr of the unworn bodies [m].
    groove_depth : float
        Depth g of the groove in the ring, in the middle of the track [m]; 0 gives `CrossedCylinders` at a
        right angle.

    Raises
    ------
    ValueError
        A radius is not above zero, the groove is negative or as deep as a radius.

    References
    ----------
    Derivation: depth, length and width by the chords and sagittas above; the volumes by sharing the overlap
    of the unworn profiles in the ratio h to g (an assumption of this model, without a published source).

    Examples
    --------
    A groove of 20 micrometres makes a scar of 4 mm length wider and takes a little more from the pin:

    >>> worn, fresh = WornRing(6e-3, 20e-3, 20e-6), WornRing(6e-3, 20e-3, 0.0)
    >>> [round(float(pair.implied_width(4e-3)) * 1e3, 4) for pair in (fresh, worn)]
    [2.1845, 2.3914]
    """

    pin_radius: float
    ring_radius: float
    groove_depth: float

    name = "worn-ring"

    def __post_init__(self) -> None:
        positive("pin_radius", self.pin_radius)
        positive("ring_radius", self.ring_radius)
        not_negative("groove_depth", self.groove_depth)
        positive("pin_radius less groove_depth", self.pin_radius - self.groove_depth)
        positive("ring_radius less groove_depth", self.track_radius)

    @property
    def track_radius(self) -> float:
        """Radius of the ring at the bottom of its groove [m]."""
        return self.ring_radius - self.groove_depth

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> EllipticContact:
        """Solve the elastic contact of the unworn cylinders at a right angle.

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
        K. L. Johnson, Contact Mechanics, 1985, section 4.2(b), general profiles; the unworn bodies.

        Examples
        --------
        >>> contact = WornRing(6e-3, 20e-3, 20e-6).initial_contact(600, 115.384615e9)
        >>> round(float(contact.peak_pressure) / 1e9, 4)
        2.4368
        """
        return CrossedCylinders(self.pin_radius, self.ring_radius).initial_contact(load, reduced_modulus)

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth worn off the pin from the length of its scar.

        Parameters
        ----------
        length : array_like
            Length of the scar, along the pin [m].

        Returns
        -------
        ndarray of float
            Depth in the middle of the scar [m], same shape.

        Raises
        ------
        ValueError
            The scar is longer than the diameter of the track.

        References
        ----------
        Derivation: in the middle of the track the ring's radius is Rr - g, and L is its chord at the depth
        h.

        Examples
        --------
        >>> round(float(WornRing(6e-3, 20e-3, 0.0).scar_depth(2e-3)) * 1e6, 6)
        25.015645
        """
        return sagitta(self.track_radius, 0.5 * not_negative("length", length))

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the length of a scar from the depth worn off the pin.

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
            The depth lies outside 0 to the diameter of the track.

        References
        ----------
        Inverse of `scar_depth`.

        Examples
        --------
        >>> round(float(WornRing(6e-3, 20e-3, 0.0).scar_length(25.015645e-6)) * 1e3, 6)
        2.0
        """
        return np.asarray(2.0 * half_chord(self.track_radius, depth))

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width of the scar, which is the width of the track.

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
            The scar is wider than the pin.

        References
        ----------
        Derivation: at the edges of the track pin and ring are unworn, so W is the pin's chord at the
        approach h + g.

        Examples
        --------
        >>> round(float(WornRing(6e-3, 20e-3, 20e-6).implied_width(4e-3)) * 1e3, 4)
        2.3914
        """
        return np.asarray(2.0 * half_chord(self.pin_radius, self._approach(length)))

    def longest_scar(self) -> float:
        """Compute the longest scar that this geometry can have, so that a misread one is found early.

        Returns
        -------
        float
            Length [m] up to which depth, width and volume are all defined.

        References
        ----------
        Derivation: the scar is as wide as the pin, or as long as the track's diameter.

        Examples
        --------
        >>> round(WornRing(6e-3, 20e-3, 0.0).longest_scar() * 1e3, 4)
        28.5657
        """
        return float(self.scar_length(min(self.pin_radius - self.groove_depth, self.track_radius)))

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of a scar from its measured axes, ``(pi/4) L W``.

        Parameters
        ----------
        length, width : array_like
            Measured axes [m].

        Returns
        -------
        ndarray of float
            Area [m^2], broadcast shape.

        References
        ----------
        Definition: area of an ellipse with the two axes, pi L W/4.

        Examples
        --------
        >>> round(float(WornRing(6e-3, 20e-3, 0.0).scar_area(2e-3, 1.0946451e-3)) * 1e6, 5)
        1.71946
        """
        return oval_area(length, width)

    def wear_volume(
        self,
        length: ArrayLike,
        width: ArrayLike | None = None,  # noqa: ARG002 - same call for every geometry
    ) -> FloatArray:
        """Compute the volume worn off the pin.

        Across the track at y the ring has the radius ``Rr - g f(y)`` and cuts the pin to the depth ``h
        f(y)``, with f the overlap of the unworn profiles over its value in the middle; the volume is the
        integral over y of the circular segments.

        Parameters
        ----------
        length : array_like
            Length of the scar [m].
        width : array_like, optional
            Measured width [m]: taken so that all geometries are called alike, and not used. With it
            `groove_from_axes` tells the groove where it was not measured.

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        Raises
        ------
        ValueError
            The scar is wider than the pin, or longer than the diameter of the track.

        References
        ----------
        Derivation: the integral across the track of circular segments of the worn ring's radius, by
        Gauss-Legendre quadrature.

        Examples
        --------
        >>> round(float(WornRing(6e-3, 20e-3, 0.0).wear_volume(2e-3)) * 1e9, 8)
        0.02152135
        """
        share, radius, cosine, weight = self._track(length)
        depth = self.scar_depth(length)[..., None]
        segment = segment_area(radius, depth * share)
        return np.asarray(2.0 * self.pin_radius * np.sum(weight * cosine * segment, axis=-1))

    def ring_volume(self, length: ArrayLike) -> FloatArray:
        """Compute the volume worn out of the ring's track, all the way round.

        Parameters
        ----------
        length : array_like
            Length of the scar on the pin [m].

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        Raises
        ------
        ValueError
            The scar is wider than the pin, or longer than the diameter of the track.

        References
        ----------
        Derivation: the integral over y of pi (Rr^2 - (Rr - g f(y))^2), f the share of the overlap at y.

        Examples
        --------
        >>> float(WornRing(6e-3, 20e-3, 0.0).ring_volume(2e-3))
        0.0
        """
        share, radius, cosine, weight = self._track(length)
        section = np.pi * self.groove_depth * share * (self.ring_radius + radius)
        return np.asarray(2.0 * self.pin_radius * np.sum(weight * cosine * section, axis=-1))

    def _approach(self, length: ArrayLike) -> FloatArray:
        approach = self.scar_depth(length) + self.groove_depth
        if np.any(approach > self.pin_radius):
            raise ValueError("length gives a scar wider than the pin")
        return np.asarray(approach)

    def _track(self, length: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Share of the overlap, ring radius, cosine and weight at the nodes across the track (last axis)."""
        approach = self._approach(length)
        pin = np.full(approach.shape, self.pin_radius)
        overlap, cosine, weight = slice_nodes(pin, approach, np.zeros(approach.shape), turn_at(pin, approach))
        # Zero length on an unworn ring: no overlap, so avoid 0/0.
        share = overlap / np.where(approach > 0, approach, 1.0)[..., None]
        return share, self.ring_radius - self.groove_depth * share, cosine, weight


@dataclass(frozen=True)
class BallOnDisc:
    """A ball on a flat disc: only the ball wears, to a flat round scar.

    Length and width are the two diameters of the scar; the length, along the sliding direction, fixes the
    depth.

    Parameters
    ----------
    ball_radius : float
        Radius of the ball [m].
    track_radius : float, optional
        Radius of the track on the disc [m]; needed only for the track's own wear.

    Raises
    ------
    ValueError
        A radius is not above zero.

    References
    ----------
    ASTM G99.

    Examples
    --------
    >>> round(float(BallOnDisc(5e-3).wear_volume(1e-3)) * 1e9, 9)
    0.009850387
    """

    ball_radius: float
    track_radius: float | None = None

    name = "ball-on-disc"

    def __post_init__(self) -> None:
        positive("ball_radius", self.ball_radius)
        if self.track_radius is not None:
            positive("track_radius", self.track_radius)

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> EllipticContact:
        """Solve the elastic contact of the unworn ball on the flat, ``a^3 = 3 F R/(4 E*)``.

        Parameters
        ----------
        load : array_like
            Load [N].
        reduced_modulus : array_like
            Reduced modulus E* [Pa].

        Returns
        -------
        EllipticContact
            Half-axes (equal) [m], pressures [Pa] and approach [m], broadcast shape.

        References
        ----------
        K. L. Johnson, Contact Mechanics, 1985, section 4.2(a), solids of revolution, eq. (4.22) to (4.24):
        a sphere on a plane is the circular case.

        Examples
        --------
        >>> contact = BallOnDisc(10e-3).initial_contact(600, 115.384615e9)
        >>> round(float(contact.semi_major) * 1e6, 3)
        339.121
        """
        curvature = 0.5 / self.ball_radius
        return elliptic_contact(load, curvature, curvature, reduced_modulus)

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth of a scar from its diameter, ``h = r - sqrt(r^2 - d^2/4)``.

        Parameters
        ----------
        length : array_like
            Diameter of the scar [m].

        Returns
        -------
        ndarray of float
            Depth [m], same shape.

        Raises
        ------
        ValueError
            The scar is wider than the ball.

        References
        ----------
        ASTM G99, section on calculation.

        Examples
        --------
        >>> round(float(BallOnDisc(3e-3).scar_depth(0.5e-3)) * 1e6, 4)
        10.4348
        """
        return sagitta(self.ball_radius, 0.5 * not_negative("length", length))

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the diameter of a scar from its depth.

        Parameters
        ----------
        depth : array_like
            Depth [m], at most the ball's radius.

        Returns
        -------
        ndarray of float
            Diameter [m], same shape.

        Raises
        ------
        ValueError
            The depth lies outside 0 to the ball's diameter.

        References
        ----------
        Inverse of `scar_depth`.

        Examples
        --------
        >>> round(float(BallOnDisc(3e-3).scar_length(10.434843e-6)) * 1e3, 5)
        0.5
        """
        return np.asarray(2.0 * half_chord(self.ball_radius, depth))

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width that the geometry implies: the scar is round.

        Parameters
        ----------
        length : array_like
            Diameter along the sliding direction [m].

        Returns
        -------
        ndarray of float
            The same diameter [m].

        References
        ----------
        A plane cuts a ball in a circle.

        Examples
        --------
        >>> float(BallOnDisc(3e-3).implied_width(0.5e-3))
        0.0005
        """
        return not_negative("length", length)

    def longest_scar(self) -> float:
        """Compute the longest scar that this geometry can have, so that a misread one is found early.

        Returns
        -------
        float
            Length [m] up to which depth, width and volume are all defined.

        References
        ----------
        The diameter of the ball.

        Examples
        --------
        >>> round(BallOnDisc(3e-3).longest_scar() * 1e3, 4)
        6.0
        """
        return 2.0 * self.ball_radius

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of a scar from its two measured diameters, ``(pi/4) L W``.

        Parameters
        ----------
        length, width : array_like
            Diameters along and across the sliding direction [m].

        Returns
        -------
        ndarray of float
            Area [m^2], broadcast shape.

        References
        ----------
        Definition: area of an ellipse with the two measured axes, pi L W/4.

        Examples
        --------
        >>> round(float(BallOnDisc(3e-3).scar_area(1e-3, 1e-3)) * 1e6, 6)
        0.785398
        """
        return oval_area(length, width)

    def wear_volume(
        self,
        length: ArrayLike,
        width: ArrayLike | None = None,  # noqa: ARG002 - same call for every geometry
    ) -> FloatArray:
        """Compute the volume worn off the ball: the exact cap, ``V = (pi h/6)(3 d^2/4 + h^2)``.

        Parameters
        ----------
        length : array_like
            Diameter d of the scar [m]; of an oval scar, pass the diameter that is to count.
        width : array_like, optional
            Second diameter [m]: taken so that all geometries are called alike, and not used.

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        Raises
        ------
        ValueError
            The scar is wider than the ball.

        References
        ----------
        ASTM G99, section on calculation, ball side, exact form.

        Examples
        --------
        >>> round(float(BallOnDisc(3e-3).wear_volume(0.5e-3)) * 1e9, 9)
        0.00102503
        """
        diameter = not_negative("length", length)
        depth = self.scar_depth(diameter)
        return np.asarray(np.pi * depth / 6.0 * (0.75 * diameter**2 + depth**2))


def approximate_cap_volume(scar_diameter: ArrayLike, ball_radius: ArrayLike) -> FloatArray:
    """Compute the short form of the ball's wear volume, ``V = pi d^4/(64 r)``, low by d^2/(12 r^2) of itself.

    Parameters
    ----------
    scar_diameter : array_like
        Diameter d of the scar [m].
    ball_radius : array_like
        Radius r of the ball [m].

    Returns
    -------
    ndarray of float
        Volume [m^3], broadcast shape.

    Raises
    ------
    ValueError
        The diameter is negative, or the radius is not above zero.

    References
    ----------
    ASTM G99, section on calculation, ball side, approximate form. Its error is an own derivation (series of
    the cap).

    Examples
    --------
    >>> round(float(approximate_cap_volume(0.5e-3, 3e-3)) * 1e9, 9)
    0.001022654
    """
    return np.asarray(
        np.pi
        * not_negative("scar_diameter", scar_diameter) ** 4
        / (64.0 * positive("ball_radius", ball_radius))
    )


@dataclass(frozen=True)
class BlockOnRing:
    """A flat block on a ring: the block wears to a groove, whose chord runs along the sliding direction.

    The length is the chord b of the groove, along the sliding direction; the width is the contact width t
    across. A groove of even depth in the ring's track lowers the radius that cuts the block: ``R = D/2 -
    groove_depth``.

    Parameters
    ----------
    ring_radius : float
        Radius D/2 of the unworn ring [m].
    contact_width : float
        Width t over which block and ring touch [m].
    groove_depth : float
        Depth worn off the ring's track [m], 0 for an unworn ring.

    Raises
    ------
    ValueError
        A dimension is not above zero, or the groove is as deep as the ring's radius.

    References
    ----------
    ASTM G77; the worn ring is an own extension of it.

    Examples
    --------
    >>> round(float(BlockOnRing(20e-3, 10e-3).wear_volume(1e-3)) * 1e9, 9)
    0.041674482
    """

    ring_radius: float
    contact_width: float
    groove_depth: float = 0.0

    name = "block-on-ring"

    def __post_init__(self) -> None:
        positive("ring_radius", self.ring_radius)
        positive("contact_width", self.contact_width)
        not_negative("groove_depth", self.groove_depth)
        positive("ring_radius less groove_depth", self.track_radius)

    @property
    def track_radius(self) -> float:
        """Radius of the ring where it runs on the block [m]."""
        return self.ring_radius - self.groove_depth

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> LineContact:
        """Solve the elastic line contact of the unworn ring on the flat block.

        Parameters
        ----------
        load : array_like
            Load [N].
        reduced_modulus : array_like
            Reduced modulus E* [Pa].

        Returns
        -------
        LineContact
            Half-width [m] and pressures [Pa], broadcast shape.

        References
        ----------
        K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), two-dimensional contact of cylindrical
        bodies, eq. (4.43) to (4.46): a cylinder on a plane.

        Examples
        --------
        >>> contact = BlockOnRing(20e-3, 10e-3).initial_contact(300, 115.384615e9)
        >>> round(float(contact.peak_pressure) / 1e6, 1)
        234.7
        """
        per_length = positive("load", load) / self.contact_width
        return line_contact(per_length, 1.0 / self.ring_radius, reduced_modulus)

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth of the groove from its chord, ``h = R - sqrt(R^2 - b^2/4)``.

        Parameters
        ----------
        length : array_like
            Chord b of the groove [m].

        Returns
        -------
        ndarray of float
            Depth [m], same shape.

        Raises
        ------
        ValueError
            The chord is longer than the ring's diameter.

        References
        ----------
        Plane geometry of the chord.

        Examples
        --------
        >>> round(float(BlockOnRing(20e-3, 10e-3).scar_depth(4e-3)) * 1e6, 4)
        100.2513
        """
        return sagitta(self.track_radius, 0.5 * not_negative("length", length))

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the chord of the groove from its depth.

        Parameters
        ----------
        depth : array_like
            Depth [m].

        Returns
        -------
        ndarray of float
            Chord [m], same shape.

        Raises
        ------
        ValueError
            The depth lies outside 0 to the ring's diameter.

        References
        ----------
        Inverse of `scar_depth`.

        Examples
        --------
        >>> round(float(BlockOnRing(20e-3, 10e-3).scar_length(100.25126e-6)) * 1e3, 5)
        4.0
        """
        return np.asarray(2.0 * half_chord(self.track_radius, depth))

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width that the geometry implies: the whole contact width.

        Parameters
        ----------
        length : array_like
            Chord of the groove [m].

        Returns
        -------
        ndarray of float
            Contact width [m], same shape.

        References
        ----------
        ASTM G77.

        Examples
        --------
        >>> float(BlockOnRing(20e-3, 10e-3).implied_width(4e-3))
        0.01
        """
        chord = not_negative("length", length)
        return np.where(np.isnan(chord), np.nan, self.contact_width)

    def longest_scar(self) -> float:
        """Compute the longest scar that this geometry can have, so that a misread one is found early.

        Returns
        -------
        float
            Length [m] up to which depth, width and volume are all defined.

        References
        ----------
        The diameter of the ring where it runs on the block.

        Examples
        --------
        >>> round(BlockOnRing(20e-3, 6e-3).longest_scar() * 1e3, 4)
        40.0
        """
        return 2.0 * self.track_radius

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of the groove from its chord and width: it is a rectangle.

        Parameters
        ----------
        length, width : array_like
            Chord along, and width across the sliding direction [m].

        Returns
        -------
        ndarray of float
            Projected area [m^2], broadcast shape.

        Raises
        ------
        ValueError
            A dimension is negative.

        References
        ----------
        Plane geometry.

        Examples
        --------
        >>> round(float(BlockOnRing(20e-3, 10e-3).scar_area(4e-3, 10e-3)) * 1e6, 6)
        40.0
        """
        return np.asarray(not_negative("length", length) * not_negative("width", width))

    def wear_volume(
        self,
        length: ArrayLike,
        width: ArrayLike | None = None,  # noqa: ARG002 - same call for every geometry
    ) -> FloatArray:
        """Compute the volume worn off the block, ``V = (D^2 t/8)(2 asin(b/D) - sin(2 asin(b/D)))``.

        Parameters
        ----------
        length : array_like
            Chord b of the groove [m].
        width : array_like, optional
            Measured width [m]: taken so that all geometries are called alike, and not used; t is the
            contact width.

        Returns
        -------
        ndarray of float
            Volume [m^3], same shape.

        Raises
        ------
        ValueError
            The chord is longer than the ring's diameter.

        References
        ----------
        ASTM G77, section on calculation. Written with the segment area, which keeps all digits of a small
        groove.

        Examples
        --------
        >>> round(float(BlockOnRing(20e-3, 10e-3).wear_volume(4e-3)) * 1e9, 6)
        2.67471
        """
        return np.asarray(self.contact_width * segment_area(self.track_radius, self.scar_depth(length)))


GEOMETRIES = ("crossed-cylinders", "ball-on-disc", "block-on-ring", "worn-ring")


class Geometry(Protocol):
    """Two bodies rubbing on each other, the softer of which wears to a scar.

    ``length`` is the scar's extent that fixes its depth, ``width`` the one across; each geometry says which
    is which. Arrays are vectorised over runs; NaN (not measured) stays NaN. To add a geometry, write one
    file with a frozen dataclass that has these members, and add its name to `make_geometry`.
    """

    @property
    def name(self) -> str:
        """Name in campaign.toml [-]."""
        ...

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> EllipticContact | LineContact:
        """Solve the elastic contact of the unworn bodies, from load [N] and reduced modulus [Pa]."""
        ...

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth of a scar [m] from its length [m]."""
        ...

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the length of a scar [m] from its depth [m]."""
        ...

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width that the geometry implies [m] from the length [m]."""
        ...

    def longest_scar(self) -> float:
        """Compute the length of scar [m] beyond which the other members refuse."""
        ...

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of a scar [m^2] from its measured axes [m]."""
        ...

    def wear_volume(self, length: ArrayLike, width: ArrayLike | None = None) -> FloatArray:
        """Compute the volume worn away [m^3] from the scar's length [m]."""
        ...


def make_geometry(
    name: str,
    *,
    pin_diameter: float | None = None,
    ring_diameter: float,
    ring_width: float | None = None,
    crossing_angle: float = 0.5 * math.pi,
    ring_groove_depth: float = 0.0,
) -> Geometry:
    """Make the geometry that a campaign names.

    Parameters
    ----------
    name : str
        ``crossed-cylinders``, ``ball-on-disc``, ``block-on-ring`` or ``worn-ring`` [-].
    pin_diameter : float, optional
        Diameter of the pin, or of the ball [m]; not needed for a block.
    ring_diameter : float
        Diameter of the ring, or of the track on the disc [m].
    ring_width : float, optional
        Width over which block and ring touch [m]; needed for a block on a ring, elsewhere not used.
    crossing_angle : float
        Angle between the axes of pin and ring [rad]; used by ``crossed-cylinders``.
    ring_groove_depth : float
        Depth of the groove worn into the ring [m]; used by ``worn-ring`` and ``block-on-ring``.

    Returns
    -------
    Geometry
        The geometry.

    Raises
    ------
    ValueError
        The name is not known, a dimension that it needs is missing, or a dimension is impossible.

    References
    ----------
    ASTM G99 (ball on disc), ASTM G77 (block on ring); crossed cylinders and worn ring: the derivations that
    stand in their classes.

    Examples
    --------
    >>> make_geometry("crossed-cylinders", pin_diameter=12e-3, ring_diameter=40e-3).name
    'crossed-cylinders'
    """
    ring_radius = 0.5 * ring_diameter
    if name == "crossed-cylinders":
        return CrossedCylinders(0.5 * _need("pin_diameter", pin_diameter), ring_radius, crossing_angle)
    if name == "ball-on-disc":
        return BallOnDisc(0.5 * _need("pin_diameter", pin_diameter), ring_radius)
    if name == "block-on-ring":
        return BlockOnRing(ring_radius, _need("ring_width", ring_width), ring_groove_depth)
    if name == "worn-ring":
        return WornRing(0.5 * _need("pin_diameter", pin_diameter), ring_radius, ring_groove_depth)
    raise ValueError(f"name must be one of {', '.join(GEOMETRIES)}; got {name!r}")


def _need(name: str, value: float | None) -> float:
    if value is None:
        raise ValueError(f"{name} is needed for this geometry")
    return value

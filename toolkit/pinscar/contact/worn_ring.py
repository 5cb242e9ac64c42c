"""Geometry: a pin across a ring that has itself worn to a groove of known depth, at a right angle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive
from pinscar.contact.crossed_cylinders import CrossedCylinders
from pinscar.contact.hertz import EllipticContact
from pinscar.contact.overlap import half_chord, sagitta, segment_area, slice_nodes, turn_at
from pinscar.contact.wear import oval_area


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

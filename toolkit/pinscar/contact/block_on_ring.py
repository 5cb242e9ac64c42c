"""Geometry: a flat block on a ring (ASTM G77), the ring unworn or worn to a known depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive
from pinscar.contact.hertz import LineContact, line_contact
from pinscar.contact.overlap import half_chord, sagitta, segment_area


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

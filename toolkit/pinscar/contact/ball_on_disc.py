"""Geometry: a ball on a flat disc (ASTM G99)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive
from pinscar.contact.hertz import EllipticContact, elliptic_contact
from pinscar.contact.overlap import half_chord, sagitta
from pinscar.contact.wear import oval_area


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

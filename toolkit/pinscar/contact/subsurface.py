"""Stresses on the axis under an elastic contact, the largest shear, and the onset of plastic yield."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import elliprd

from pinscar.contact.arrays import FloatArray, not_negative, positive, within

Stresses: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]
Measure: TypeAlias = Callable[[Stresses], FloatArray]

# The largest shear lies between the surface and this depth, in units of the short half-axis, at every axis
# ratio.
_DEEPEST = 2.0
_GRID = 101
_GOLDEN_STEPS = 36


def axis_stresses(
    depth: ArrayLike,
    semi_major: ArrayLike,
    semi_minor: ArrayLike,
    peak_pressure: ArrayLike,
    poisson_ratio: ArrayLike,
) -> Stresses:
    """Compute the three principal stresses on the axis of an elliptic (or circular) contact.

    From the potential of the semi-ellipsoidal pressure, with ``A = a^2 + z^2``, ``B = b^2 + z^2``,
    ``T = sqrt(B/A)`` and Carlson's integral R_D::

        sigma_z = -p0 a b/sqrt(A B)
        V_xx    = -pi a b p0 (2/3) R_D(B, z^2, A)              V_yy likewise with A and B swapped
        psi_xx  =  pi a b p0 (2/(A (1 + T)) - z (2/3) R_D(B, z^2, A))       psi_yy with A, B and T, 1/T
        swapped V_z     =  2 pi sigma_z - z (V_xx + V_yy) sigma_x = (2 nu V_z - z V_xx - (1 - 2 nu)
        psi_xx)/(2 pi)            sigma_y likewise

    No term divides by a - b, so the circle needs no special case.

    Parameters
    ----------
    depth : array_like
        Depth z below the surface [m].
    semi_major, semi_minor : array_like
        Half-axes a (along x) and b (along y) [m].
    peak_pressure : array_like
        Pressure p0 in the centre [Pa].
    poisson_ratio : array_like
        Poisson's ratio nu of the body [-], -1 to 0.5.

    Returns
    -------
    tuple of three ndarray of float
        sigma_x, sigma_y and sigma_z [Pa], broadcast shape; compression is negative.

    Raises
    ------
    ValueError
        The depth is negative, a half-axis is not above zero, or Poisson's ratio lies outside its range.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 3.2, eq. (3.19) for stresses from the two potentials,
    and section 4.5(b) for the elliptic contact. The form in Carlson's integral is an own derivation.

    Examples
    --------
    In the surface of a circular contact the radial stress is ``-(1 + 2 nu)/2 p0``:

    >>> [round(float(s), 6) for s in axis_stresses(0.0, 1.0, 1.0, 1.0, 0.3)]
    [-0.8, -0.8, -1.0]
    """
    z, p0 = not_negative("depth", depth), positive("peak_pressure", peak_pressure)
    a, b = positive("semi_major", semi_major), positive("semi_minor", semi_minor)
    nu = within("poisson_ratio", poisson_ratio, -1.0, 0.5)
    big_a, big_b, z2 = a * a + z * z, b * b + z * z, z * z
    root = np.sqrt(big_b / big_a)
    integral_x, integral_y = elliprd(big_b, z2, big_a) / 1.5, elliprd(big_a, z2, big_b) / 1.5
    scale = 0.5 * a * b * p0
    sigma_z = -2.0 * scale / np.sqrt(big_a * big_b)
    # V_z, z V_xx and so on, each already divided by 2 pi.
    slope = sigma_z + z * scale * (integral_x + integral_y)

    def across(integral: FloatArray, plain: FloatArray) -> FloatArray:
        bend = z * scale * integral
        return np.asarray(2.0 * nu * slope + bend - (1.0 - 2.0 * nu) * (scale * plain - bend))

    sigma_x = across(integral_x, 2.0 / (big_a * (1.0 + root)))
    sigma_y = across(integral_y, 2.0 / (big_b * (1.0 + 1.0 / root)))
    return sigma_x, sigma_y, np.asarray(sigma_z)


def shear_stress(stresses: Stresses) -> FloatArray:
    """Compute the largest shear stress at a point, half the difference of the outer principal stresses.

    Parameters
    ----------
    stresses : tuple of three array_like
        Principal stresses [Pa].

    Returns
    -------
    ndarray of float
        Shear stress [Pa], broadcast shape.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 6.1 (Tresca).

    Examples
    --------
    >>> float(shear_stress((-0.8, -0.8, -1.0))).__round__(6)
    0.1
    """
    stacked = np.stack(np.broadcast_arrays(*stresses))
    return np.asarray(0.5 * (stacked.max(axis=0) - stacked.min(axis=0)))


def mises_stress(stresses: Stresses) -> FloatArray:
    """Compute the equivalent stress of von Mises at a point from its principal stresses.

    ``sqrt(((s1 - s2)^2 + (s2 - s3)^2 + (s3 - s1)^2)/2)``

    Parameters
    ----------
    stresses : tuple of three array_like
        Principal stresses [Pa].

    Returns
    -------
    ndarray of float
        Equivalent stress [Pa], broadcast shape.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 6.1 (von Mises).

    Examples
    --------
    >>> float(mises_stress((0.0, 0.0, -1.0)))
    1.0
    """
    s1, s2, s3 = (np.asarray(s, dtype=np.float64) for s in stresses)
    return np.sqrt(0.5 * ((s1 - s2) ** 2 + (s2 - s3) ** 2 + (s3 - s1) ** 2))


def largest_on_axis(
    axis_ratio: ArrayLike, poisson_ratio: ArrayLike, measure: Measure = shear_stress
) -> tuple[FloatArray, FloatArray]:
    """Find the largest shear (or equivalent) stress on the axis of an elliptic contact, and its depth.

    Parameters
    ----------
    axis_ratio : array_like
        b/a [-], above 0 to 1; 1 is the circle.
    poisson_ratio : array_like
        Poisson's ratio [-], -1 to 0.5.
    measure : callable
        `shear_stress` or `mises_stress` [-].

    Returns
    -------
    tuple of two ndarray of float
        Largest stress over p0 [-], and its depth over b [-], broadcast shape.

    Raises
    ------
    ValueError
        The axis ratio is not above 0 and at most 1, or Poisson's ratio lies outside its range.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, table 4.1. Own search: grid, then golden section.

    Examples
    --------
    Circular contact, Poisson's ratio 0.3: 0.31 p0 at 0.48 a.

    >>> stress, depth = largest_on_axis(1.0, 0.3)
    >>> round(float(stress), 6), round(float(depth), 5)
    (0.310021, 0.48086)
    """
    ratio, nu = np.broadcast_arrays(
        within("axis_ratio", axis_ratio, 1e-12, 1.0), np.asarray(poisson_ratio, float)
    )

    def at(depth: FloatArray) -> FloatArray:
        return measure(axis_stresses(depth, 1.0 / ratio, np.ones_like(ratio), np.ones_like(ratio), nu))

    return _search(at, ratio.shape)


def _search(at: Callable[[FloatArray], FloatArray], shape: tuple[int, ...]) -> tuple[FloatArray, FloatArray]:
    """Maximise over depth: the best of a grid, then golden section between its neighbours."""
    grid = np.linspace(0.0, _DEEPEST, _GRID)
    found = np.stack([at(np.full(shape, depth)) for depth in grid])
    best, spacing = grid[np.argmax(found, axis=0)], grid[1]
    low, high = np.maximum(best - spacing, 0.0), best + spacing
    share = 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(_GOLDEN_STEPS):
        left, right = high - share * (high - low), low + share * (high - low)
        rising = at(left) < at(right)
        low, high = np.where(rising, left, low), np.where(rising, high, right)
    depth = np.asarray(0.5 * (low + high))
    # Golden section never reaches the surface itself, so compare with the grid's value.
    surface = found[0] >= at(depth)
    return np.where(surface, found[0], at(depth)), np.where(surface, 0.0, depth)


Criterion = Literal["tresca", "mises"]


def yield_pressure(
    yield_strength: ArrayLike,
    axis_ratio: ArrayLike,
    poisson_ratio: ArrayLike,
    criterion: Criterion = "tresca",
) -> FloatArray:
    """Compute the peak pressure at which an elliptic contact first yields, on its axis.

    Tresca: largest shear equals Y/2; von Mises: largest equivalent stress equals Y. For the circle the two
    agree on the axis: ``p0 = 1.6128 Y`` at nu 0.3 (Johnson prints 1.60).

    Parameters
    ----------
    yield_strength : array_like
        Yield strength Y of the softer body in tension [Pa].
    axis_ratio : array_like
        b/a of the contact [-], above 0 to 1.
    poisson_ratio : array_like
        Poisson's ratio of that body [-].
    criterion : {"tresca", "mises"}
        Yield criterion [-].

    Returns
    -------
    ndarray of float
        Peak pressure at first yield [Pa], broadcast shape.

    Raises
    ------
    ValueError
        A value lies outside its range, or the criterion is not known.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 6.1, eq. (6.8) and (6.9).

    Examples
    --------
    >>> round(float(yield_pressure(1.0, 1.0, 0.3)), 4)
    1.6128
    """
    strength = positive("yield_strength", yield_strength)
    if criterion == "tresca":
        return np.asarray(0.5 * strength / largest_on_axis(axis_ratio, poisson_ratio, shear_stress)[0])
    if criterion == "mises":
        return np.asarray(strength / largest_on_axis(axis_ratio, poisson_ratio, mises_stress)[0])
    raise ValueError(f"criterion must be 'tresca' or 'mises'; got {criterion!r}")


def yield_strength_from_hardness(hardness: ArrayLike, constraint: float = 3.0) -> FloatArray:
    """Estimate the yield strength of a metal from its indentation hardness, ``Y = H/3``.

    A rule of thumb for metals that harden little, good enough for a flag, not for a design.

    Parameters
    ----------
    hardness : array_like
        Indentation hardness H as a pressure [Pa].
    constraint : float
        Ratio H/Y [-].

    Returns
    -------
    ndarray of float
        Yield strength in tension [Pa], same shape.

    Raises
    ------
    ValueError
        A value is not above zero.

    References
    ----------
    D. Tabor, The Hardness of Metals, 1951; K. L. Johnson, Contact Mechanics, 1985, section 6.3.

    Examples
    --------
    >>> float(yield_strength_from_hardness(7.5e9)) / 1e9
    2.5
    """
    return np.asarray(positive("hardness", hardness) / positive("constraint", constraint))

"""Hertz contacts of common materials: curvature, elastic constants, elliptic and line, stresses below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, read_table, within

_GIGA = 1e9
PROPERTIES = ("elastic_modulus", "poisson_ratio", "density", "conductivity", "specific_heat")
"""Properties that a material may have."""


@dataclass(frozen=True, kw_only=True)
class Material:
    """Constants of one material near room temperature.

    Attributes
    ----------
    name : str
        Name in the table.
    elastic_modulus : float or None
        Young's modulus [Pa]; None when there is no figure.
    poisson_ratio : float or None
        Poisson's ratio [-].
    density : float or None
        Density [kg/m^3].
    conductivity : float or None
        Thermal conductivity [W/(m K)].
    specific_heat : float or None
        Specific heat capacity [J/(kg K)].
    source : str
        Where the table's figures are from, with a mark on those from memory.
    """

    name: str
    elastic_modulus: float | None = None
    poisson_ratio: float | None = None
    density: float | None = None
    conductivity: float | None = None
    specific_heat: float | None = None
    source: str = ""


def materials() -> dict[str, Material]:
    """Return the table of materials by name.

    Returns
    -------
    dict
        Materials [SI] by name.

    References
    ----------
    Head and ``source`` column of ``data/materials.csv``: a textbook or trade source for each figure.

    Examples
    --------
    >>> materials()["tin bronze CuSn11"].conductivity
    54.0
    """
    rows = map(dict, read_table("materials.csv"))
    return {row["name"]: _material(row) for row in rows}


def material(name: str) -> Material:
    """Look up one material.

    Parameters
    ----------
    name : str
        Name as in the table; capital and small letters are the same.

    Returns
    -------
    Material
        Its constants [SI].

    Raises
    ------
    ValueError
        If the material is not in the table.

    References
    ----------
    Head and ``source`` column of ``data/materials.csv``, as for `materials`.

    Examples
    --------
    >>> material("Alumina 99.9 %").elastic_modulus
    380000000000.0
    """
    known = materials()
    found = {key.casefold(): value for key, value in known.items()}.get(name.strip().casefold())
    if found is None:
        raise ValueError(f"material must be one of {', '.join(known)}, found {name!r}")
    return found


def _material(row: dict[str, str]) -> Material:
    values = {name: float(row[name]) if row[name] else None for name in PROPERTIES}
    modulus = values["elastic_modulus"]
    return Material(
        name=row["name"],
        elastic_modulus=None if modulus is None else modulus * _GIGA,
        poisson_ratio=values["poisson_ratio"],
        density=values["density"],
        conductivity=values["conductivity"],
        specific_heat=values["specific_heat"],
        source=row["source"],
    )


# Starting value: ln(a/b) = x * polynomial in t = x/(x + 8), x = ln(B/A). Least-squares fit to the exact
# curve over B/A from 1 to 1e34, within 6.1e-5 of it; the Newton steps that follow remove that error, so no
# result rests on it.
_START_SCALE = 8.0
_START = (0.667073, -0.017192, 0.03737, -1.838244, 4.135523, -2.981291, -0.978042, 2.398247, -0.92153)
# After a step smaller than this the remaining error is below 1e-16: the function is nearly a line.
_LAST_STEP = 1e-8
_MOST_STEPS = 20
# Work in parts of this size, which fit into the processor's cache.
_BLOCK = 4096


def agm_sums(axis_ratio: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Compute K and the sum T of the arithmetic-geometric mean, from which every Hertz integral follows.

    With ``k' = b/a``, ``m = e^2 = 1 - k'^2``, start ``a_0 = 1``, ``g_0 = k'`` and iterate
    ``a_n+1 = (a_n + g_n)/2``, ``g_n+1 = sqrt(a_n g_n)``, ``c_n+1 = (a_n - g_n)/2``. Then ``K = pi/(2
    a_inf)``, ``E = K (1 - sum 2^(n-1) c_n^2)``, and with ``T = sum from n = 1 of 2^(n-1) (c_n/m)^2``::

        (K - E)/m         = K (1/2 + m T)
        (E - (1 - m) K)/m = K (1/2 - m T)

    ``c_1/m = 1/(2 (1 + k'))`` and ``c_n+1 = c_n^2/(4 a_n+1)``, so no difference of nearly equal numbers is
    formed and the circle (m = 0) needs no special case.

    Parameters
    ----------
    axis_ratio : array_like
        Short over long half-axis, b/a [-], above 0 to 1.

    Returns
    -------
    tuple of two ndarray of float
        Complete elliptic integral of the first kind K [-], and T [-].

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, sections 17.3 and 17.6. The
    form in T is an own derivation.

    Examples
    --------
    The circle has K = pi/2 and T = 1/16:

    >>> k, t = agm_sums(1.0)
    >>> round(float(k), 6), float(t)
    (1.570796, 0.0625)
    """
    ratio = as_floats(axis_ratio)
    mean, geometric = 0.5 * (1.0 + ratio), np.sqrt(ratio)
    half_gap = 0.5 * (1.0 - ratio)
    scaled_gap = 0.5 / (1.0 + ratio)
    total, weight = scaled_gap * scaled_gap, 1.0
    # The next gap is about the square of this one, so it would be below 1e-18.
    while np.any(half_gap > 1e-9):
        mean, geometric = 0.5 * (mean + geometric), np.sqrt(mean * geometric)
        shrink = half_gap / (4.0 * mean)
        half_gap = half_gap * shrink
        scaled_gap = scaled_gap * shrink
        weight *= 2.0
        total = total + weight * scaled_gap * scaled_gap
    return np.asarray(0.5 * np.pi / mean), np.asarray(total)


def ellipse_shape(curvature_ratio: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Compute the axis ratio b/a of the contact ellipse from the curvature ratio B/A, and its integrals.

    Solves ``B/A = (E/(1 - e^2) - K)/(K - E)``, ``e^2 = 1 - (b/a)^2``, by Newton steps for ``y = ln(a/b)``
    in the form ``ln(B/A) = 2 y - 2 artanh(2 m T)``, whose slope is ``1 + 2 T ((1 - m)/(1/2 - m T) + 1/(1/2
    + m T))``; K, E, m and T as in `agm_sums`.

    Parameters
    ----------
    curvature_ratio : array_like
        B/A [-], 1 (circle) or more, finite; NaN gives NaN.

    Returns
    -------
    tuple of three ndarray of float
        b/a [-], K [-] and T [-], same shape.

    Raises
    ------
    ValueError
        A ratio is below 1 or infinite (a line contact has no axis ratio).

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.25). The logarithmic form and its slope
    are an own derivation.

    Examples
    --------
    Pin of 6 mm radius across a ring of 20 mm radius at 90 degrees, B/A = 10/3:

    >>> ratio, _, _ = ellipse_shape(10 / 3)
    >>> round(float(ratio), 6)
    0.450424
    """
    ratios = as_floats(curvature_ratio)
    if np.any(ratios < 1.0) or np.any(np.isinf(ratios)):
        raise ValueError("curvature_ratio must be finite and not below 1")
    flat = ratios.reshape(-1)
    found = np.empty((3, flat.size))
    for start in range(0, flat.size, _BLOCK):
        block = slice(start, start + _BLOCK)
        found[0, block] = _axis_ratio(flat[block])
        found[1, block], found[2, block] = agm_sums(found[0, block])
    ratio, k, t = found.reshape((3, *ratios.shape))
    return ratio, k, t


def _axis_ratio(ratios: FloatArray) -> FloatArray:
    # log1p keeps the digits of a nearly circular contact.
    target = np.log1p(ratios - 1.0)
    y = _start(target)
    for _ in range(_MOST_STEPS):
        kappa = np.exp(-y)
        m1 = kappa * kappa
        total = agm_sums(kappa)[1]
        mt = -np.expm1(-2.0 * y) * total
        slope = 1.0 + 2.0 * total * (m1 / (0.5 - mt) + 1.0 / (0.5 + mt))
        step = (target - 2.0 * y + 2.0 * np.arctanh(2.0 * mt)) / slope
        y += step
        if not np.any(np.abs(step) > _LAST_STEP):
            return np.exp(-y)
    raise ArithmeticError(f"the axis ratio did not settle in {_MOST_STEPS} steps")


def _start(target: FloatArray) -> FloatArray:
    t = target / (target + _START_SCALE)
    value = np.full_like(t, _START[-1])
    for coefficient in _START[-2::-1]:
        value = value * t + coefficient
    return value * target


@dataclass(frozen=True, slots=True)
class EllipticContact:
    """Elastic contact over an ellipse.

    Parameters
    ----------
    semi_major, semi_minor : ndarray of float
        Long and short half-axis a and b [m].
    peak_pressure, mean_pressure : ndarray of float
        Pressure at the centre, and load over area [Pa].
    approach : ndarray of float
        How far distant points of the bodies come together [m].
    """

    semi_major: FloatArray
    semi_minor: FloatArray
    peak_pressure: FloatArray
    mean_pressure: FloatArray
    approach: FloatArray


@dataclass(frozen=True, slots=True)
class LineContact:
    """Elastic contact along a line.

    The approach is left out: it depends on the whole shape of the bodies, not on the contact alone
    (Johnson, 1985, section 5.6).

    Parameters
    ----------
    half_width : ndarray of float
        Half-width b [m].
    peak_pressure, mean_pressure : ndarray of float
        Pressure on the centre line, and load over area [Pa].
    """

    half_width: FloatArray
    peak_pressure: FloatArray
    mean_pressure: FloatArray


def elliptic_contact(
    load: ArrayLike, curvature_a: ArrayLike, curvature_b: ArrayLike, reduced_modulus: ArrayLike
) -> EllipticContact:
    """Solve the elastic point contact of two bodies exactly (Hertz).

    ``a^3 = 3 F (K - E)/(2 pi E* e^2 A)``, ``p0 = 3 F/(2 pi a b)``, mean pressure ``2 p0/3``, approach
    ``3 F K/(2 pi E* a)``; the axis ratio b/a follows from B/A alone (`ellipse_shape`).

    Parameters
    ----------
    load : array_like
        Load F [N].
    curvature_a, curvature_b : array_like
        Semi-curvatures of the gap ``A x^2 + B y^2``, 0 < A <= B [1/m] (`relative_curvatures`).
    reduced_modulus : array_like
        Reduced modulus E* [Pa] (`reduced_modulus`).

    Returns
    -------
    EllipticContact
        Half-axes, pressures and approach, broadcast shape. The long axis lies along x, where A curves.

    Raises
    ------
    ValueError
        An argument is not above zero, or A exceeds B.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.22) to (4.28).

    Examples
    --------
    Equal steel cylinders of 10 mm radius at 90 degrees under 600 N, the same as a sphere of 10 mm on a flat:

    >>> contact = elliptic_contact(600, 50, 50, 115.384615e9)
    >>> round(float(contact.semi_major) * 1e6, 3), round(float(contact.peak_pressure) / 1e9, 5)
    (339.121, 2.49105)
    """
    force, modulus = positive("load", load), positive("reduced_modulus", reduced_modulus)
    a_curve, b_curve = positive("curvature_a", curvature_a), positive("curvature_b", curvature_b)
    if np.any(a_curve > b_curve):
        raise ValueError("curvature_a must not exceed curvature_b: swap them")
    ratio, k, t = ellipse_shape(b_curve / a_curve)
    squeeze = 1.5 * force / (np.pi * modulus)
    semi_major = np.cbrt(squeeze * k * (0.5 + (1.0 - ratio) * (1.0 + ratio) * t) / a_curve)
    semi_minor = ratio * semi_major
    mean = force / (np.pi * semi_major * semi_minor)
    return EllipticContact(semi_major, semi_minor, 1.5 * mean, mean, squeeze * k / semi_major)


def line_contact(
    load_per_length: ArrayLike, curvature_sum: ArrayLike, reduced_modulus: ArrayLike
) -> LineContact:
    """Solve the elastic contact of two cylinders with parallel axes (Hertz).

    ``b^2 = 4 P R/(pi E*)`` with ``1/R = 1/R1 + 1/R2``, ``p0 = 2 P/(pi b)``, mean pressure ``P/(2 b) = pi
    p0/4``.

    Parameters
    ----------
    load_per_length : array_like
        Load over length of contact P [N/m].
    curvature_sum : array_like
        1/R1 + 1/R2 [1/m]; a flat adds zero, a concave body a negative number.
    reduced_modulus : array_like
        Reduced modulus E* [Pa].

    Returns
    -------
    LineContact
        Half-width and pressures, broadcast shape.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.43) to (4.46).

    Examples
    --------
    Steel cylinders of 6 and 20 mm radius side by side, 100 kN/m:

    >>> contact = line_contact(100e3, 1 / 6e-3 + 1 / 20e-3, 115.384615e9)
    >>> round(float(contact.half_width) * 1e6, 4), round(float(contact.peak_pressure) / 1e9, 5)
    (71.365, 0.89206)
    """
    force = positive("load_per_length", load_per_length)
    curvature, modulus = (
        positive("curvature_sum", curvature_sum),
        positive("reduced_modulus", reduced_modulus),
    )
    half_width = np.sqrt(4.0 * force / (np.pi * modulus * curvature))
    mean = 0.5 * force / half_width
    return LineContact(half_width, 4.0 * mean / np.pi, mean)


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


def reduced_modulus(
    elastic_modulus_1: ArrayLike,
    poisson_ratio_1: ArrayLike,
    elastic_modulus_2: ArrayLike,
    poisson_ratio_2: ArrayLike,
) -> FloatArray:
    """Compute the reduced modulus of two elastic bodies in contact.

    ``1/E* = (1 - nu1^2)/E1 + (1 - nu2^2)/E2``. (The film literature often uses ``E' = 2 E*``.)

    Parameters
    ----------
    elastic_modulus_1, elastic_modulus_2 : array_like
        Young's modulus of each body [Pa]; infinity for a rigid one.
    poisson_ratio_1, poisson_ratio_2 : array_like
        Poisson's ratio of each body [-], -1 to 0.5.

    Returns
    -------
    ndarray of float
        Reduced modulus E* [Pa], broadcast shape.

    Raises
    ------
    ValueError
        A modulus is not above zero, or a Poisson's ratio lies outside -1 to 0.5.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2.

    Examples
    --------
    Steel on steel:

    >>> round(float(reduced_modulus(210e9, 0.30, 210e9, 0.30)) / 1e9, 6)
    115.384615
    """
    e1, e2 = (
        positive("elastic_modulus_1", elastic_modulus_1),
        positive("elastic_modulus_2", elastic_modulus_2),
    )
    nu1, nu2 = (
        within("poisson_ratio_1", poisson_ratio_1, -1, 0.5),
        within("poisson_ratio_2", poisson_ratio_2, -1, 0.5),
    )
    return 1.0 / ((1.0 - nu1**2) / e1 + (1.0 - nu2**2) / e2)


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
    from scipy.special import elliprd  # here, since a check, which looks up materials only, needs none of it

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

"""Wear coefficients, pressure that a worn scar carries, and friction energy of a run from its trace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import FloatArray, not_negative, positive, rising_readings


def wear_coefficient(volume: ArrayLike, load_distance: ArrayLike) -> FloatArray:
    """Compute the wear coefficient, ``k = V / integral F ds``.

    Parameters
    ----------
    volume : array_like
        Wear volume [m^3].
    load_distance : array_like
        Integral of load over sliding distance [N m]; load times distance where the load was constant.

    Returns
    -------
    ndarray of float
        Wear coefficient [m^2/N], the same as m^3/(N m); 1e-15 m^2/N is 1e-6 mm^3/(N m).

    Raises
    ------
    ValueError
        The volume is negative, or the integral is not above zero.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953; ASTM G99, section on
    reporting.

    Examples
    --------
    0.345 mm^3 worn at 600 N over 88 m:

    >>> f"{float(wear_coefficient(0.345e-9, 600 * 88)):.4e}"
    '6.5341e-15'
    """
    return np.asarray(not_negative("volume", volume) / positive("load_distance", load_distance))


def archard_coefficient(wear_coefficient: ArrayLike, hardness: ArrayLike) -> FloatArray:
    """Compute the dimensionless wear coefficient of Archard, ``K = k H``.

    Parameters
    ----------
    wear_coefficient : array_like
        Wear coefficient k [m^2/N].
    hardness : array_like
        Hardness of the body that wears H [Pa].

    Returns
    -------
    ndarray of float
        Archard's coefficient [-], broadcast shape.

    Raises
    ------
    ValueError
        The coefficient is negative, or the hardness is not above zero.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953.

    Examples
    --------
    >>> f"{float(archard_coefficient(1e-14, 7.5e9)):.2e}"
    '7.50e-05'
    """
    return np.asarray(not_negative("wear_coefficient", wear_coefficient) * positive("hardness", hardness))


def mean_pressure(load: ArrayLike, area: ArrayLike) -> FloatArray:
    """Compute the mean pressure in a scar, ``p = F/A``.

    Where wear had stopped in the final load step this is the film pressure; where it was still running the
    film carries less.

    Parameters
    ----------
    load : array_like
        Load at the end of the run [N].
    area : array_like
        Scar area [m^2].

    Returns
    -------
    ndarray of float
        Mean pressure [Pa], broadcast shape.

    Raises
    ------
    ValueError
        The load is negative, or the area is not above zero.

    References
    ----------
    Common practice: load over area.

    Examples
    --------
    600 N on an oval scar of 4.0 by 2.2 mm:

    >>> import math
    >>> round(float(mean_pressure(600, math.pi / 4 * 4.0e-3 * 2.2e-3)) / 1e6, 2)
    86.81
    """
    return np.asarray(not_negative("load", load) / positive("area", area))


def oval_area(length: ArrayLike, width: ArrayLike) -> FloatArray:
    """Compute the area of an oval scar from its two measured axes, ``A = (pi/4) L W``.

    Parameters
    ----------
    length, width : array_like
        The two axes of the oval [m].

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape.

    Raises
    ------
    ValueError
        An axis is negative.

    References
    ----------
    Common practice: area of an ellipse. For a pin of 6 mm radius on a ring of 20 mm radius it
    is 0.03 % (length 2 mm) to 0.9 % (10 mm) under the exact projected area: a convention, not an error (own
    derivation, see `footprint_area`).

    Examples
    --------
    >>> round(float(oval_area(4.0e-3, 2.1844585e-3)) * 1e6, 6)
    6.862679
    """
    return np.asarray(0.25 * np.pi * not_negative("length", length) * not_negative("width", width))


@dataclass(frozen=True, kw_only=True)
class FrictionEnergy:
    """Friction energy of a run.

    Attributes
    ----------
    energy : float
        Friction energy over the time that readings cover [J].
    uncertainty : float
        Its standard uncertainty from the scatter and the spacing of the readings, and from the zero of
        the force as far as that is known [J]; NaN where no three readings in a row tell it.
    covered : float
        Time that readings cover [s].
    missing : float
        Time in gaps, of which the energy says nothing [s].
    distance : float
        Distance slid in the covered time [m].
    per_distance : float
        Energy over the distance slid in the covered time: the mean friction force [J/m].
    bridged : float
        Time in gaps that were bridged, and counts as covered [s].
    """

    energy: float
    uncertainty: float
    covered: float
    missing: float
    distance: float
    per_distance: float
    bridged: float = 0.0


def friction_energy(
    time: ArrayLike,
    friction_force: ArrayLike,
    sliding_speed: float,
    start: float,
    end: float,
    longest_step: float = np.inf,
    zero_uncertainty: float = 0.0,
) -> FrictionEnergy:
    r"""Integrate friction force times sliding speed over a run, :math:`E = v \int F\,dt`.

    Trapezoids between neighbouring readings; before the first and after the last one the force is held.
    Nothing is integrated over a gap. Load steps need no care, since the force itself was measured.

    The uncertainty takes, for each reading, the triangle :math:`d_i` between it and the straight line that
    joins its neighbours:
    :math:`u^2 = v^2 [(\sum d_i / 6)^2 + \frac{2}{3} \sum d_i^2 + \sum s_j^2 h_j^4 / 4 + (u_0 t)^2]`. The
    first term is what trapezoids miss of a curve, the second what readings that scatter, or jump, bring
    (each :math:`d_i` of pure scatter :math:`\sigma` at steps h has the variance
    :math:`\frac{3}{2} h^2 \sigma^2`). The third is what is missed where the force is held over a time
    :math:`h_j` at an end of the run while it changes at the slope :math:`s_j` of the two readings there; the
    last is the zero's uncertainty :math:`u_0` over the covered time t. Scatter is taken as independent from
    reading to reading. How well force and speed are calibrated is not in it.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], one-dimensional, rising; steps may differ.
    friction_force : array_like
        Friction force, its zero taken off [N], same length; missing readings are left out.
    sliding_speed : float
        Sliding speed [m/s].
    start, end : float
        Ends of the run [s]; readings outside are not used.
    longest_step : float
        Longest time between readings that is no gap [s].
    zero_uncertainty : float
        Standard uncertainty of the force's zero [N].

    Returns
    -------
    FrictionEnergy
        Energy [J] with its uncertainty, the time covered and missing [s], energy over distance [J/m].

    Raises
    ------
    ValueError
        The times do not rise, or there are no two readings that are no gap apart.

    References
    ----------
    Work of a force along a path, :math:`\int F\,ds` with ds = v dt. Error of the trapezoidal rule,
    :math:`-h^3 f''/12` a step: P. J. Davis and P. Rabinowitz, Methods of Numerical Integration, 2nd ed.,
    1984, section 2.1; the estimate from the readings is an own derivation.

    Examples
    --------
    A constant force of 45 N at 1.5 m/s for 60 s, E = F v t:

    >>> friction_energy([0.0, 10.0, 60.0], [45.0, 45.0, 45.0], 1.5, 0.0, 60.0).energy
    4050.0
    """
    t, force = rising_readings(time, friction_force)
    inside = (t >= start) & (t <= end)
    t, force = t[inside], force[inside]
    speed = float(not_negative("sliding_speed", sliding_speed))
    steps = np.diff(t)
    kept = steps <= longest_step
    if not kept.any():
        raise ValueError("friction energy needs two readings that are no gap apart")
    halves = np.where(kept, 0.5 * steps, 0.0)
    weights = np.concatenate([halves, [0.0]]) + np.concatenate([[0.0], halves])
    ends = np.array([t[0] - start, end - t[-1]])
    ends[ends > longest_step] = 0.0
    weights[[0, -1]] += ends
    covered = float(np.sum(weights))
    energy = speed * float(np.dot(weights, force))
    zero = float(not_negative("zero_uncertainty", zero_uncertainty)) * covered
    slopes = (np.diff(force) / steps)[[0, -1]]
    spread = np.linalg.norm([_triangles(t, force, kept), *(0.5 * slopes * ends**2), zero])
    slid = speed * covered
    missing = max(end - start - covered, 0.0)
    missing = 0.0 if missing < 1e-9 * (end - start) else missing
    return FrictionEnergy(
        energy=energy,
        uncertainty=speed * float(spread),
        covered=covered,
        missing=missing,
        distance=slid,
        per_distance=energy / slid,
    )


def _triangles(t: FloatArray, y: FloatArray, kept: NDArray[np.bool_]) -> float:
    """Give the standard uncertainty that scatter and spacing leave; NaN where nothing tells it."""
    both = kept[1:] & kept[:-1]
    if not both.any():
        return float("nan")
    width = t[2:] - t[:-2]
    chord = (y[:-2] * (t[2:] - t[1:-1]) + y[2:] * (t[1:-1] - t[:-2])) / width
    d = np.where(both, 0.5 * width * (chord - y[1:-1]), 0.0)
    return float(np.sqrt(np.sum(d) ** 2 / 36.0 + 2.0 / 3.0 * np.sum(d**2)))

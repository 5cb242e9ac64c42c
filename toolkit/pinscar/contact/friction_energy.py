"""The energy that friction turned to heat and wear in a run, from a trace of the friction force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import FloatArray, not_negative, rising_readings


@dataclass(frozen=True)
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
    """

    energy: float
    uncertainty: float
    covered: float
    missing: float
    distance: float
    per_distance: float


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
    return FrictionEnergy(energy, speed * float(spread), covered, missing, slid, energy / slid)


def _triangles(t: FloatArray, y: FloatArray, kept: NDArray[np.bool_]) -> float:
    """Give the standard uncertainty that scatter and spacing leave; NaN where nothing tells it."""
    both = kept[1:] & kept[:-1]
    if not both.any():
        return float("nan")
    width = t[2:] - t[:-2]
    chord = (y[:-2] * (t[2:] - t[1:-1]) + y[2:] * (t[1:-1] - t[:-2])) / width
    d = np.where(both, 0.5 * width * (chord - y[1:-1]), 0.0)
    return float(np.sqrt(np.sum(d) ** 2 / 36.0 + 2.0 / 3.0 * np.sum(d**2)))

"""Friction power, thermal numbers, Blok's heat partition, and what a trace says of friction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive, rising_readings


@dataclass(frozen=True)
class TraceFriction:
    """Friction coefficient read off a trace.

    Attributes
    ----------
    mean : float
        Mean over time [-].
    low, high : float
        5 and 95 % points over time: the range that the friction moved in, not an uncertainty of the mean [-].
    """

    mean: float
    low: float
    high: float


def friction_power(friction_coefficient: ArrayLike, load: ArrayLike, sliding_speed: ArrayLike) -> FloatArray:
    r"""Compute the heat that friction makes, :math:`P = \mu F v`.

    A range of friction coefficients in gives a range of powers out: pass the two ends as an array.

    Parameters
    ----------
    friction_coefficient : array_like
        Friction coefficient [-], any shape; all arguments broadcast.
    load : array_like
        Load [N].
    sliding_speed : array_like
        Sliding speed [m/s].

    Returns
    -------
    ndarray
        Friction power [W].

    References
    ----------
    Definition of the friction coefficient; all friction work becomes heat (common practice).

    Examples
    --------
    >>> [f"{power:.1f}" for power in friction_power([0.08, 0.15], 450.0, 1.466077)]
    ['52.8', '99.0']
    """
    mu = not_negative("friction_coefficient", friction_coefficient)
    return mu * not_negative("load", load) * not_negative("sliding_speed", sliding_speed)


def thermal_diffusivity(conductivity: ArrayLike, density: ArrayLike, specific_heat: ArrayLike) -> FloatArray:
    r"""Compute the thermal diffusivity, :math:`\kappa = k / (\rho c)`.

    Parameters
    ----------
    conductivity : array_like
        Thermal conductivity [W/(m K)], any shape.
    density : array_like
        Density [kg/m^3].
    specific_heat : array_like
        Specific heat capacity [J/(kg K)].

    Returns
    -------
    ndarray
        Thermal diffusivity [m^2/s].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 1.6.

    Examples
    --------
    >>> f"{thermal_diffusivity(46.0, 7850.0, 460.0) * 1e6:.3f}"
    '12.739'
    """
    capacity = positive("density", density) * positive("specific_heat", specific_heat)
    return positive("conductivity", conductivity) / capacity


def peclet_number(speed: ArrayLike, half_length: ArrayLike, diffusivity: ArrayLike) -> FloatArray:
    r"""Compute the Peclet number of a moving source, :math:`Pe = v a / (2 \kappa)`.

    Under about 0.1 the source is as good as at rest; over about 5 heat has no time to flow sideways.

    Parameters
    ----------
    speed : array_like
        Speed of the source over the body [m/s], any shape; 0 for the body that the source rests on.
    half_length : array_like
        Half-width of the band or radius of the disc [m].
    diffusivity : array_like
        Thermal diffusivity of the body [m^2/s].

    Returns
    -------
    ndarray
        Peclet number [-].

    References
    ----------
    J. C. Jaeger, 1942, L; Stachowiak and Batchelor, Engineering Tribology, flash temperature, for the words.

    Examples
    --------
    >>> f"{peclet_number(1.466077, 1e-3, 12.739e-6):.1f}"
    '57.5'
    """
    distance = not_negative("speed", speed) * positive("half_length", half_length)
    return distance / (2.0 * positive("diffusivity", diffusivity))


def blok_partition(rise_1: ArrayLike, rise_2: ArrayLike) -> FloatArray:
    r"""Compute the share of the friction heat that body 1 takes, by equal maximum temperatures.

    .. math:: \delta_1 = \frac{\theta_2}{\theta_1 + \theta_2}

    The rises are those that each body would have if it took all the heat; with this share both surfaces reach
    the same maximum, :math:`\theta_1 \theta_2 / (\theta_1 + \theta_2)`.

    Parameters
    ----------
    rise_1, rise_2 : array_like
        Maximum surface rise of each body when it takes all the heat [K], any shapes that broadcast.

    Returns
    -------
    ndarray
        Share of the heat that goes into body 1 [-].

    References
    ----------
    H. Blok, Theoretical study of temperature rise at surfaces of actual contact under oiliness lubricating
    conditions, Proceedings of the General Discussion on Lubrication, Institution of Mechanical Engineers,
    2, 1937, 222-235.

    Examples
    --------
    >>> f"{blok_partition(300.0, 100.0):.2f}"
    '0.25'
    """
    one, two = positive("rise_1", rise_1), positive("rise_2", rise_2)
    return two / (one + two)


def friction_from_trace(
    time: ArrayLike, friction_force: ArrayLike, load: float, longest_step: float = np.inf
) -> TraceFriction:
    """Read the friction coefficient off a trace of the friction force.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], one-dimensional, rising; steps may differ.
    friction_force : array_like
        Friction force [N], same length; missing readings are left out.
    load : float
        Load [N].
    longest_step : float
        Longest time between two readings that counts [s]; longer ones are gaps and left out.

    Returns
    -------
    TraceFriction
        Mean over time, and the 5 and 95 % points over time [-].

    Raises
    ------
    ValueError
        If the times do not rise, or no two readings are there that are no gap apart.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> friction_from_trace([0, 1, 2], [45, 45, 45], 450).mean
    0.1
    """
    times, force = rising_readings(time, friction_force)
    if times.size < 2:
        raise ValueError(f"a trace needs at least two readings, found {times.size}")
    mu = force / float(positive("load", load))
    steps, middles = np.diff(times), 0.5 * (mu[1:] + mu[:-1])
    kept = steps <= longest_step
    if not kept.any():
        raise ValueError("a trace needs two readings that are no gap apart")
    steps, middles = steps[kept], middles[kept]
    mean = float(np.sum(steps * middles) / np.sum(steps))
    low, high = _time_quantiles(steps, middles, (0.05, 0.95))
    return TraceFriction(mean, low, high)


def _time_quantiles(
    steps: FloatArray, middles: FloatArray, shares: tuple[float, float]
) -> tuple[float, float]:
    """Find the values under which the trace spends these shares of its time."""
    order = np.argsort(middles, kind="stable")
    spent = np.cumsum(steps[order])
    reached = np.searchsorted(spent, np.asarray(shares) * spent[-1])
    low, high = middles[order][np.minimum(reached, middles.size - 1)]
    return float(low), float(high)

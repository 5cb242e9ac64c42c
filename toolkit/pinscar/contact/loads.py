"""Load, sliding speed and sliding distance of a run."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive

STANDARD_GRAVITY = 9.80665  # m/s^2


def load_from_weights(weights: ArrayLike, hanger_mass: ArrayLike, lever_ratio: ArrayLike) -> FloatArray:
    """Compute the load on the pin from the weights on the lever.

    ``F = g (weights + hanger_mass) lever_ratio`` with the standard acceleration of gravity, 9.80665 m/s^2.

    Parameters
    ----------
    weights : array_like
        Mass of the weights [kg].
    hanger_mass : array_like
        Mass of the hanger that carries them [kg].
    lever_ratio : array_like
        Arm of the weights over arm of the pin [-].

    Returns
    -------
    ndarray of float
        Load [N], broadcast shape.

    Raises
    ------
    ValueError
        A mass is negative, or the lever ratio is not above zero.

    References
    ----------
    Law of the lever. Standard gravity: 3rd General Conference on Weights and Measures, 1901.

    Examples
    --------
    >>> round(float(load_from_weights(5.0, 0.8, 10.0)), 4)
    568.7857
    """
    mass = not_negative("weights", weights) + not_negative("hanger_mass", hanger_mass)
    return np.asarray(STANDARD_GRAVITY * mass * positive("lever_ratio", lever_ratio))


def sliding_speed(ring_diameter: ArrayLike, ring_speed: ArrayLike) -> FloatArray:
    """Compute the speed of the ring's surface against the pin, ``v = omega D/2 = pi D n``.

    Parameters
    ----------
    ring_diameter : array_like
        Diameter of the ring, or of the track on a disc [m].
    ring_speed : array_like
        Angular speed of the ring [rad/s].

    Returns
    -------
    ndarray of float
        Sliding speed [m/s], broadcast shape.

    Raises
    ------
    ValueError
        The diameter is not above zero, or the speed is negative.

    References
    ----------
    Kinematics of rotation.

    Examples
    --------
    Ring of 40 mm at 700 turns a minute:

    >>> import math
    >>> round(float(sliding_speed(0.040, 700 * 2 * math.pi / 60)), 6)
    1.466077
    """
    return np.asarray(0.5 * positive("ring_diameter", ring_diameter) * not_negative("ring_speed", ring_speed))


def sliding_distance(speed: ArrayLike, duration: ArrayLike) -> FloatArray:
    """Compute the distance that the ring slid past the pin, ``s = v t``.

    Parameters
    ----------
    speed : array_like
        Sliding speed [m/s].
    duration : array_like
        Duration of the run [s].

    Returns
    -------
    ndarray of float
        Sliding distance [m], broadcast shape.

    Raises
    ------
    ValueError
        An argument is negative.

    References
    ----------
    Kinematics at constant speed.

    Examples
    --------
    >>> float(sliding_distance(1.5, 60))
    90.0
    """
    return np.asarray(not_negative("speed", speed) * not_negative("duration", duration))


def load_distance(step_starts: ArrayLike, step_loads: ArrayLike, duration: float, speed: float) -> float:
    """Compute the integral of load over sliding distance of one run with one or more load steps.

    ``integral F ds = v sum F_i (t_i+1 - t_i)``; the last step ends with the run.

    Parameters
    ----------
    step_starts : array_like
        Time at which each load step starts [s], the first 0, rising; shape (steps,).
    step_loads : array_like
        Load in each step [N], shape (steps,).
    duration : float
        Duration of the whole run [s], after the start of the last step.
    speed : float
        Sliding speed [m/s].

    Returns
    -------
    float
        Integral of load over distance [N m].

    Raises
    ------
    ValueError
        The steps do not start at 0, do not rise, last longer than the run, or differ in number from the
        loads.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953: wear in proportion to load
    times distance, here summed over the steps.

    Examples
    --------
    300 N for 20 s and 600 N for the next 40 s at 1.5 m/s:

    >>> load_distance([0, 20], [300, 600], duration=60, speed=1.5)
    45000.0
    """
    starts, loads = check_steps(step_starts, step_loads)
    end, pace = float(as_floats(duration)), float(not_negative("speed", speed))
    if end <= starts[-1]:
        raise ValueError(
            f"duration must be after the start of the last step, {starts[-1]:g} s; got {end:g} s"
        )
    return pace * float(np.dot(loads, np.diff(starts, append=end)))


def check_steps(step_starts: ArrayLike, step_loads: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Turn the load steps of one run into two arrays, and refuse steps that contradict themselves.

    Parameters
    ----------
    step_starts : array_like
        Time at which each load step starts [s], the first 0, rising; shape (steps,).
    step_loads : array_like
        Load in each step [N], shape (steps,).

    Returns
    -------
    tuple of two ndarray of float
        Starts [s] and loads [N].

    Raises
    ------
    ValueError
        The steps do not start at 0, do not rise, differ in number from the loads, or hold no positive load.

    References
    ----------
    Definition of this package: a run starts under its first load at time 0.

    Examples
    --------
    >>> starts, loads = check_steps([0, 20], [300, 600])
    >>> loads.tolist()
    [300.0, 600.0]
    """
    starts, loads = np.atleast_1d(as_floats(step_starts)), np.atleast_1d(positive("step_loads", step_loads))
    if starts.shape != loads.shape or starts.ndim != 1:
        raise ValueError(
            f"step_starts and step_loads must be two rows of one length; got {starts.size} and {loads.size}"
        )
    if starts.size == 0 or starts[0] != 0.0:
        raise ValueError("step_starts must begin with 0, the start of the run")
    if not np.all(np.diff(starts) > 0):
        raise ValueError("step_starts must rise from step to step")
    return starts, loads

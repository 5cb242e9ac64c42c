"""Wear arrest under a load that is raised in steps: the depth is carried over and the law restarts."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative
from pinscar.contact.arrest import worn_depth
from pinscar.contact.loads import check_steps

Advance: TypeAlias = Callable[[FloatArray, float, float], FloatArray]


def through_steps(
    time: ArrayLike, step_starts: ArrayLike, step_loads: ArrayLike, advance: Advance
) -> FloatArray:
    """Carry the depth of one run through its load steps with a law that knows a single load.

    Parameters
    ----------
    time : array_like
        Times since the start of the run [s].
    step_starts : array_like
        Time at which each load step starts [s], the first 0, rising; shape (steps,).
    step_loads : array_like
        Load in each step [N], shape (steps,).
    advance : callable
        ``advance(times, load, start_depth)`` returns the depth [m] at times [s] after the start of a step.

    Returns
    -------
    ndarray of float
        Depth [m], shape of ``time``.

    Raises
    ------
    ValueError
        A time is negative, or the steps contradict themselves.

    References
    ----------
    Own derivation: the state of the model is its depth alone.

    Examples
    --------
    A law that wears in proportion to load and time:

    >>> law = lambda times, load, start: start + 1e-9 * load * times
    >>> through_steps([10, 30], [0, 20], [100, 300], law).round(9).tolist()
    [1e-06, 5e-06]
    """
    times = not_negative("time", time)
    starts, loads = check_steps(step_starts, step_loads)
    depth, found = 0.0, np.zeros_like(times)
    for i, (start, load) in enumerate(zip(starts, loads, strict=True)):
        end = starts[i + 1] if i + 1 < starts.size else np.inf
        inside = (times >= start) & (times < end)
        found[inside] = advance(times[inside] - start, float(load), depth)
        if np.isfinite(end):
            depth = float(advance(np.array([end - start]), float(load), depth)[0])
    return np.where(np.isnan(times), np.nan, found)


def worn_depth_steps(
    time: ArrayLike,
    step_starts: ArrayLike,
    step_loads: ArrayLike,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    area_slope: float,
) -> FloatArray:
    """Compute the depth of a shallow scar of one run whose load was raised in steps.

    Within each step `worn_depth`, starting from the depth that the step before had left. A step whose load
    the carried scar already bears wears nothing.

    Parameters
    ----------
    time : array_like
        Times since the start of the run [s].
    step_starts : array_like
        Time at which each load step starts [s], the first 0, rising; shape (steps,).
    step_loads : array_like
        Load in each step [N], shape (steps,).
    speed : float
        Sliding speed [m/s].
    wear_coefficient : float
        Wear coefficient above the film pressure [m^2/N].
    film_pressure : float
        Pressure that the film carries [Pa].
    area_slope : float
        Ratio of scar area to depth [m].

    Returns
    -------
    ndarray of float
        Depth [m], shape of ``time``.

    Raises
    ------
    ValueError
        A time is negative, the steps contradict themselves, or another argument is not above zero.

    References
    ----------
    Own derivation.

    Examples
    --------
    300 N for 60 s, then 450 N:

    >>> depths = worn_depth_steps([60, 120], [0, 60], [300, 450], 1.466076572, 1e-14, 120e6, 0.0688288465)
    >>> (depths * 1e6).round(3).tolist()
    [35.576, 52.486]
    """

    def advance(times: FloatArray, load: float, start: float) -> FloatArray:
        return worn_depth(times, load, speed, wear_coefficient, film_pressure, area_slope, start)

    return through_steps(time, step_starts, step_loads, advance)

"""Wear arrest with the exact scar of crossed cylinders, as an initial-value problem stepped through time."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from pinscar.contact.arrays import FloatArray, positive
from pinscar.contact.arrest import through_steps, time_constant, worn_depth
from pinscar.contact.geometry import CrossedCylinders

# Below this share of the time constant the scar is shallow and the closed form exact to rounding.
_HEAD_START = 1e-10
# After so many time constants the depth has reached its limit to the last digit.
_ENOUGH = 60.0


def worn_depth_ode(
    time: ArrayLike,
    step_starts: ArrayLike,
    step_loads: ArrayLike,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    pair: CrossedCylinders,
) -> FloatArray:
    """Compute the depth of a scar of one run with the exact area of crossed cylinders, by an ODE solver.

    ``dh/dt = k v (F/A(h) - pf)`` with A(h) the exact projected area; since ``dV = A dh`` this is Archard's
    ``dV = k (F - pf A) ds``. The variable is the square root of the time since the step began, in which the
    start of the scar, ``h ~ sqrt(t)``, is smooth. Slower than `worn_depth_exact`, and independent of it.

    Parameters
    ----------
    time : array_like
        Times since the start of the run [s].
    step_starts : array_like
        Time at which each load step starts [s], the first 0, rising; shape (steps,). ``[0]`` for one load.
    step_loads : array_like
        Load in each step [N], shape (steps,).
    speed : float
        Sliding speed [m/s].
    wear_coefficient : float
        Wear coefficient above the film pressure [m^2/N].
    film_pressure : float
        Pressure that the film carries [Pa].
    pair : CrossedCylinders
        The geometry.

    Returns
    -------
    ndarray of float
        Depth [m], shape of ``time``.

    Raises
    ------
    ValueError
        The steps contradict themselves, an argument is not above zero, or the scar would grow past the
        smaller radius in depth.

    References
    ----------
    Own derivation; explicit Runge-Kutta method of order 8 (E. Hairer, S. P. Norsett and G. Wanner, Solving
    Ordinary Differential Equations I, 1993) from SciPy.

    Examples
    --------
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> round(float(worn_depth_ode(30.968693, [0], [450], 1.466076572, 1e-14, 120e6, pair)) * 1e6, 4)
    45.8984
    """
    rate = float(positive("speed", speed)) * float(positive("wear_coefficient", wear_coefficient))
    film = float(positive("film_pressure", film_pressure))

    def advance(times: FloatArray, load: float, start: float) -> FloatArray:
        return _one_load(times, load, rate, film, pair, start)

    return through_steps(time, step_starts, step_loads, advance)


def _one_load(
    times: FloatArray, load: float, rate: float, film: float, pair: CrossedCylinders, start: float
) -> FloatArray:
    final = _limit(load / film, pair)
    if start >= final or times.size == 0:
        return np.full(times.shape, start)
    slope = pair.area_slope()
    tau = float(time_constant(load, rate, 1.0, film, slope))
    head = _HEAD_START * tau if start == 0.0 else 0.0
    first = float(worn_depth(head, load, rate, 1.0, film, slope)) if start == 0.0 else start

    def growth(root: float, depth: FloatArray) -> FloatArray:
        area = pair.area_at_depth(np.minimum(depth, final))
        return np.asarray(2.0 * root * rate * (load / area - film))

    ask = np.clip(times, head, _ENOUGH * tau)
    order = np.unique(np.sqrt(np.append(ask, head)))
    if order.size == 1:
        return np.where(times < head, worn_depth(times, load, rate, 1.0, film, slope), first)

    def bottom(root: float, depth: FloatArray) -> float:
        return float(depth[0]) - deepest

    deepest = min(pair.pin_radius, pair.ring_radius)
    bottom.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(
        growth,
        (order[0], order[-1]),
        [first],
        method="DOP853",
        t_eval=order,
        rtol=1e-11,
        atol=1e-13 * final,
        events=bottom,
    )
    if solved.status == 1:
        raise ValueError("time is so long that the scar grows past the smaller radius in depth")
    if not solved.success:
        raise ArithmeticError(f"the wear law could not be integrated: {solved.message}")
    depth = np.interp(np.sqrt(ask), order, solved.y[0])
    if start == 0.0:
        depth = np.where(times < head, worn_depth(times, load, rate, 1.0, film, slope), depth)
    return np.asarray(depth)


def _limit(area: float, pair: CrossedCylinders) -> float:
    """Find the depth at which wear stops, at most the smaller radius, where the oval ends."""
    deepest = min(pair.pin_radius, pair.ring_radius)
    if area >= float(pair.area_at_depth(deepest)):
        return deepest
    return float(brentq(lambda depth: float(pair.area_at_depth(depth)) - area, 0.0, deepest, xtol=1e-16))

"""Wear that stops once the film carries the load: closed form for shallow scars, exact for crossed ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias, cast

import numpy as np
from numpy.polynomial import Chebyshev
from numpy.typing import ArrayLike, NDArray
from scipy.special import lambertw

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, within
from pinscar.contact.geometry import CrossedCylinders
from pinscar.contact.wear import check_steps

# SciPy's stubs know the function for numbers and lists, not for arrays.
_lambert = cast("Callable[[FloatArray], NDArray[np.complex128]]", lambertw)

# Below this fraction the plain formula loses digits; its power series is used instead.
_SMALL_FRACTION = 0.05
_SMALL_TIME = 1e-4
# Above this time ratio the depth fraction rounds to 1, and ln(1 - y) has no value.
_LONG_TIME = 36.0
# Lambert's function at its branch point, 1 + W0 = p - p^2/3 + 11 p^3/72 - ...
_BRANCH = (1.0, -1 / 3, 11 / 72, -43 / 540, 769 / 17280, -221 / 8505, 680863 / 43545600, -1963 / 204120)


def time_ratio(depth_fraction: ArrayLike) -> FloatArray:
    """Compute the time at which a scar has worn to a fraction of its final depth, in units of tau.

    ``T = -y - ln(1 - y)``, the inverse of `depth_fraction`.

    Parameters
    ----------
    depth_fraction : array_like
        Depth over final depth y [-], 0 to 1.

    Returns
    -------
    ndarray of float
        Time over tau [-], same shape; infinite at 1, since the scar only tends to its final depth.

    Raises
    ------
    ValueError
        A fraction lies outside 0 to 1.

    References
    ----------
    Derivation: with y = h/h_inf and T = t/tau the law reads dy/dT = (1 - y)/y; so T is the integral of y/(1
    - y) dy = -y - ln(1 - y). Below 0.05 its power series y^2/2 + y^3/3 + ... keeps the digits.

    Examples
    --------
    >>> round(float(time_ratio(0.841405660)), 6)
    1.0
    """
    y = within("depth_fraction", depth_fraction, 0.0, 1.0)
    small = np.minimum(y, _SMALL_FRACTION)
    series = np.zeros_like(small)
    for power in range(16, 1, -1):
        series = series * small + 1.0 / power
    with np.errstate(divide="ignore"):
        plain = -y - np.log1p(-y)
    return np.where(y < _SMALL_FRACTION, series * small * small, plain)


def depth_fraction(time_ratio: ArrayLike) -> FloatArray:
    """Compute how far a scar has worn towards its final depth after a time in units of tau.

    ``y = 1 + W0(-exp(-1 - T))``, W0 the principal branch of Lambert's function. Near T = 0 its argument
    lies at the branch point -1/e, where rounding costs half the digits: there the branch-point series in
    ``p = sqrt(-2 expm1(-T))`` is used, elsewhere one Newton step on ``-y - ln(1 - y) = T`` restores the
    last digits.

    Parameters
    ----------
    time_ratio : array_like
        Time over tau T [-], 0 or more.

    Returns
    -------
    ndarray of float
        Depth over final depth [-], same shape.

    Raises
    ------
    ValueError
        A time is negative.

    References
    ----------
    Derivation: -y - ln(1 - y) = T gives (y - 1) exp(y - 1) = -exp(-1 - T), the definition of W0(-exp(-1 -
    T)) = y - 1. R. M. Corless et al., On the Lambert W function, Adv. Comput. Math. 5, 1996, 329-359:
    definition eq. (1.5), branch series eq. (4.22) (numbers from memory).

    Examples
    --------
    >>> [round(float(y), 9) for y in depth_fraction([0.1, 1.0, 3.0])]
    [0.383183168, 0.84140566, 0.981339371]
    """
    t = not_negative("time_ratio", time_ratio)
    p = np.sqrt(-2.0 * np.expm1(-t))
    early = np.zeros_like(p)
    for coefficient in _BRANCH[::-1]:
        early = early * p + coefficient
    middle = np.clip(t, _SMALL_TIME, _LONG_TIME)
    y = as_floats(1.0 + _lambert(-np.exp(-1.0 - middle)).real)
    # Newton step: the slope of the time ratio is y/(1 - y).
    y = y - (_time_of(y) - middle) * (1.0 - y) / y
    late = np.where(t > _LONG_TIME, 1.0, y)
    return np.where(t < _SMALL_TIME, early * p, late)


def limit_depth(load: ArrayLike, film_pressure: ArrayLike, area_slope: ArrayLike) -> FloatArray:
    """Compute the depth at which wear stops, ``h_inf = F/(c pf)``.

    Parameters
    ----------
    load : array_like
        Load F [N].
    film_pressure : array_like
        Pressure that the film carries pf [Pa].
    area_slope : array_like
        Ratio of scar area to depth c [m]; ``2 pi sqrt(Rp Rr)/sin theta`` for crossed cylinders.

    Returns
    -------
    ndarray of float
        Final depth [m], broadcast shape.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    Derivation: wear stops where the mean pressure is the film pressure, F/(c h) = pf.

    Examples
    --------
    >>> round(float(limit_depth(450, 120e6, 0.0688288465)) * 1e6, 5)
    54.48297
    """
    return np.asarray(
        positive("load", load)
        / (positive("area_slope", area_slope) * positive("film_pressure", film_pressure))
    )


def time_constant(
    load: ArrayLike,
    speed: ArrayLike,
    wear_coefficient: ArrayLike,
    film_pressure: ArrayLike,
    area_slope: ArrayLike,
) -> FloatArray:
    """Compute the time constant of wear arrest, ``tau = h_inf/(k v pf)``.

    Parameters
    ----------
    load : array_like
        Load F [N].
    speed : array_like
        Sliding speed v [m/s].
    wear_coefficient : array_like
        Wear coefficient k above the film pressure [m^2/N].
    film_pressure : array_like
        Pressure that the film carries pf [Pa].
    area_slope : array_like
        Ratio of scar area to depth c [m].

    Returns
    -------
    ndarray of float
        Time constant [s], broadcast shape.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    Derivation: at h_inf = F/(c pf) the law dh/dt = k v (F/(c h) - pf) becomes dy/dt = (k v pf/h_inf) (1 -
    y)/y with y = h/h_inf, so tau = h_inf/(k v pf).

    Examples
    --------
    >>> round(float(time_constant(450, 1.466076572, 1e-14, 120e6, 0.0688288465)), 6)
    30.968693
    """
    rate = (
        positive("wear_coefficient", wear_coefficient) * positive("speed", speed) * np.asarray(film_pressure)
    )
    return np.asarray(limit_depth(load, film_pressure, area_slope) / rate)


def worn_depth(
    time: ArrayLike,
    load: ArrayLike,
    speed: ArrayLike,
    wear_coefficient: ArrayLike,
    film_pressure: ArrayLike,
    area_slope: ArrayLike,
    start_depth: ArrayLike = 0.0,
) -> FloatArray:
    """Compute the depth of a shallow scar after a time under a constant load.

    ``h = h_inf (1 + W0(-exp(-1 - t/tau)))`` from no scar; from a depth h0 the clock starts at the time that
    h0 would have taken. A scar already deeper than h_inf does not wear.

    Parameters
    ----------
    time : array_like
        Time t under this load [s].
    load : array_like
        Load F [N].
    speed : array_like
        Sliding speed v [m/s].
    wear_coefficient : array_like
        Wear coefficient k above the film pressure [m^2/N].
    film_pressure : array_like
        Pressure that the film carries pf [Pa].
    area_slope : array_like
        Ratio of scar area to depth c [m].
    start_depth : array_like
        Depth h0 at time 0 [m].

    Returns
    -------
    ndarray of float
        Depth [m], broadcast shape.

    Raises
    ------
    ValueError
        A time or depth is negative, or another argument is not above zero.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953, 981-988, dV = k F ds; here
    per area and with the pressure above the film's: dh/dt = k v (F/(c h) - pf). Its integral is y =
    `depth_fraction` (t/tau); from h0 the clock starts at T0 = `time_ratio` (h0/h_inf).

    Examples
    --------
    >>> round(float(worn_depth(30.968693, 450, 1.466076572, 1e-14, 120e6, 0.0688288465)) * 1e6, 4)
    45.8423
    """
    final = limit_depth(load, film_pressure, area_slope)
    tau = time_constant(load, speed, wear_coefficient, film_pressure, area_slope)
    start = not_negative("start_depth", start_depth)
    clock = not_negative("time", time) / tau + time_ratio(np.minimum(start / final, 1.0))
    return np.maximum(start, final * depth_fraction(clock))


def time_to_pressure(
    excess: ArrayLike,
    load: ArrayLike,
    speed: ArrayLike,
    wear_coefficient: ArrayLike,
    film_pressure: ArrayLike,
    area_slope: ArrayLike,
    start_depth: ArrayLike = 0.0,
) -> FloatArray:
    """Compute the time until the mean pressure has come down to within an excess of the film pressure.

    Wear never quite ends in the model; ``p = pf (1 + excess)`` is reached at ``y = 1/(1 + excess)``. A scar
    that is already that deep needs no time.

    Parameters
    ----------
    excess : array_like
        Relative excess of pressure over film pressure at which wear counts as stopped [-].
    load : array_like
        Load F [N].
    speed : array_like
        Sliding speed v [m/s].
    wear_coefficient : array_like
        Wear coefficient k above the film pressure [m^2/N].
    film_pressure : array_like
        Pressure that the film carries pf [Pa].
    area_slope : array_like
        Ratio of scar area to depth c [m].
    start_depth : array_like
        Depth at time 0 [m].

    Returns
    -------
    ndarray of float
        Time [s], broadcast shape.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    Derivation: p/pf = h_inf/h = 1/y, so p = pf (1 + e) at y = 1/(1 + e); the time is tau times the
    `time_ratio` of that y, less that of the depth at time 0.

    Examples
    --------
    The pressure has come within 5 % of the film pressure after 2.09 tau:

    >>> round(float(time_to_pressure(0.05, 450, 1.466076572, 1e-14, 120e6, 0.0688288465)), 1)
    64.8
    """
    start = not_negative("start_depth", start_depth) / limit_depth(load, film_pressure, area_slope)
    goal = 1.0 / (1.0 + positive("excess", excess))
    ratio = time_ratio(goal) - time_ratio(np.minimum(start, goal))
    return np.asarray(ratio * time_constant(load, speed, wear_coefficient, film_pressure, area_slope))


def _time_of(fraction: FloatArray) -> FloatArray:
    # Rounding may put a fraction just outside 0 to 1.
    return time_ratio(np.clip(fraction, 0.0, 1.0 - 1e-16))


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
    Derivation: the law holds the depth alone as its state, so a step starts from the depth that the step
    before has left.

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
    the carried scar already carries on its film wears nothing.

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
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953, 981-988, dV = k F ds;
    integrated by `worn_depth` within each step, the depth carried over by `through_steps`.

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


_DEGREE = 28
_SAMPLES = 200
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
# Deeper than this the oval of equal cylinders gets corners, and a short series no longer fits.
DEEPEST_SHARE = 0.8
_MOST_STEPS = 40


@dataclass(frozen=True)
class ScarGrowth:
    """Depth of a scar as a function of its exact area, for one pair of cylinders.

    Parameters
    ----------
    pair : CrossedCylinders
        The geometry.
    slope : float
        Area over depth of a shallow scar, c [m].
    largest_area : float
        Area of a scar as deep as 0.8 of the smaller radius, where the series ends [m^2].
    weight : Chebyshev
        ``c dh/dA`` as a series in the area [-]; 1 for a shallow scar.

    References
    ----------
    Derivation: see `worn_depth_exact`; w = c dh/dA is 1 for a shallow scar, as A = c h there.

    Examples
    --------
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(float(growth.weight(0.0)), 9)
    1.0
    """

    pair: CrossedCylinders
    slope: float
    largest_area: float
    weight: Chebyshev


def scar_growth(pair: CrossedCylinders) -> ScarGrowth:
    """Fit depth against exact area once, so that the wear law can be integrated fast.

    Parameters
    ----------
    pair : CrossedCylinders
        The geometry.

    Returns
    -------
    ScarGrowth
        Series good to 1e-12 from no scar to a depth of 0.8 of the smaller radius.

    References
    ----------
    Chebyshev series by least squares over the exact areas of `overlap_area`: L. N. Trefethen, Approximation
    Theory and Approximation Practice, 2013, chapters 3 and 4. With h = A r(A)/c the weight is c dh/dA = r +
    A r'.

    Examples
    --------
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(growth.largest_area * 1e6, 2)
    262.12
    """
    deepest = DEEPEST_SHARE * min(pair.pin_radius, pair.ring_radius)
    depth = deepest * 0.5 * (1.0 - np.cos(np.pi * (np.arange(_SAMPLES) + 0.5) / _SAMPLES))
    area, largest, slope = pair.area_at_depth(depth), float(pair.area_at_depth(deepest)), pair.area_slope()
    ratio = Chebyshev.fit(area, slope * depth / area, _DEGREE, domain=[0.0, largest])
    # h = A ratio(A)/c, so c dh/dA = ratio + A ratio'.
    identity = Chebyshev.identity(domain=[0.0, largest])
    return ScarGrowth(pair, slope, largest, ratio + identity * ratio.deriv())


def worn_depth_exact(
    time: ArrayLike,
    step_starts: ArrayLike,
    step_loads: ArrayLike,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    pair: CrossedCylinders,
) -> FloatArray:
    """Compute the depth of a scar of one run with the exact area of crossed cylinders.

    With ``a = A pf/F`` and ``w = c dh/dA`` (1 for a shallow scar) the law separates into::

        c k v pf^2 t/F = integral from a0 to a of x w(x F/pf)/(1 - x) dx

    whose singular part is ``w(F/pf) (-a - ln(1 - a))``; the smooth rest is left to Gauss-Legendre
    quadrature, and Newton steps turn it round. The pressure in the law is load over the exact projected
    area, so that Archard's volume ``V = k F s`` holds exactly where pf is far below the pressure.

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
        The steps contradict themselves, an argument is not above zero, or the scar would grow past the oval
        one.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953, 981-988, dV = k F ds; for
    the load that the film does not carry, dV = k (F - pf A) ds. With dV = A dh and dh = w dA/c this
    separates into the integral above. A second route, an ODE solver, agrees to 1e-9
    (tests/reference/arrest_ode.py).

    Examples
    --------
    Close to the shallow form, 45.8423 micrometres, while the scar is small:

    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> round(float(worn_depth_exact(30.968693, [0], [450], 1.466076572, 1e-14, 120e6, pair)) * 1e6, 4)
    45.8984
    """
    growth = scar_growth(pair)
    rate = float(positive("speed", speed)) * float(positive("wear_coefficient", wear_coefficient))
    film = float(positive("film_pressure", film_pressure))

    def advance(times: FloatArray, load: float, start: float) -> FloatArray:
        area = float(pair.area_at_depth(start))
        if area >= load / film:
            return np.full(times.shape, start)
        grown = worn_area(times, load, rate, film, growth, area)
        if np.any(grown > growth.largest_area):
            raise ValueError("time is so long that the scar grows deeper than 0.8 of the smaller radius")
        return depth_at_area(grown, growth)

    return through_steps(time, step_starts, step_loads, advance)


def worn_area(
    time: ArrayLike,
    load: ArrayLike,
    rate: ArrayLike,
    film_pressure: ArrayLike,
    growth: ScarGrowth,
    start_area: ArrayLike = 0.0,
) -> FloatArray:
    """Compute the exact area of a scar after a time under a constant load.

    Parameters
    ----------
    time : array_like
        Time under this load [s].
    load : array_like
        Load F [N].
    rate : array_like
        Wear coefficient times sliding speed, k v [m^3/(N s)].
    film_pressure : array_like
        Pressure that the film carries pf [Pa].
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).
    start_area : array_like
        Area at time 0 [m^2], below F/pf.

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape; beyond ``growth.largest_area`` it only tells that the scar has left the
        oval.

    Raises
    ------
    ValueError
        A time is negative, or a load, rate or pressure is not above zero.

    References
    ----------
    Derivation: the separated law of `worn_depth_exact` in a = A pf/F, whose clock runs at c k v pf^2/F.

    Examples
    --------
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(float(worn_area(1e9, 450.0, 1.466e-14, 120e6, growth)) * 1e6, 6)
    3.75
    """
    film = positive("film_pressure", film_pressure)
    final = positive("load", load) / film
    pace = growth.slope * positive("rate", rate) * film / final
    start = area_clock(np.asarray(not_negative("start_area", start_area) / final), final, growth)
    goal = not_negative("time", time) * pace + start
    return np.asarray(final * area_fraction(goal, final, growth))


def end_of_wear(
    step_starts: ArrayLike,
    step_loads: ArrayLike,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    pair: CrossedCylinders,
    excess: float,
    exact: bool = True,
) -> tuple[float, float]:
    """Compute the depth at which wear stops under the last load of a run, and when it counts as stopped.

    It counts as stopped when the pressure is within an excess of the film pressure.

    Parameters
    ----------
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
    excess : float
        Relative excess of pressure over film pressure at which wear counts as stopped [-].
    exact : bool
        Whether the exact scar area is used; else the closed form for shallow scars.

    Returns
    -------
    tuple of two float
        Final depth [m], and time since the start of the run [s].

    Raises
    ------
    ValueError
        The steps contradict themselves, or an argument is not above zero.

    References
    ----------
    Derivation: wear stops where A = F/pf, and A = F/(pf (1 + excess)) is reached at the time of `area_clock`
    (or `time_ratio`) for that fraction, less the time of the area that the step before has left.

    Examples
    --------
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> for exact in (False, True):
    ...     depth, time = end_of_wear([0], [450], 1.466076572, 1e-14, 120e6, pair, 0.05, exact)
    ...     print(f"{depth * 1e6:.2f} um after {time:.1f} s")
    54.48 um after 64.8 s
    54.60 um after 65.0 s
    """
    starts, loads = check_steps(step_starts, step_loads)
    load, begin = float(loads[-1]), 0.0
    run = (speed, wear_coefficient, film_pressure)
    if loads.size > 1:
        steps = (starts[-1], starts[:-1], loads[:-1])
        slope = pair.area_slope()
        law = worn_depth_exact(*steps, *run, pair) if exact else worn_depth_steps(*steps, *run, slope)
        begin = float(law)
    final, wait = (_exact_end if exact else _shallow_end)(load, *run, pair, excess, begin)
    return max(begin, final), float(starts[-1]) + wait


def _shallow_end(
    load: float,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    pair: CrossedCylinders,
    excess: float,
    begin: float,
) -> tuple[float, float]:
    run = (load, speed, wear_coefficient, film_pressure, pair.area_slope())
    return float(limit_depth(load, film_pressure, run[-1])), float(time_to_pressure(excess, *run, begin))


def _exact_end(
    load: float,
    speed: float,
    wear_coefficient: float,
    film_pressure: float,
    pair: CrossedCylinders,
    excess: float,
    begin: float,
) -> tuple[float, float]:
    growth = scar_growth(pair)
    final = float(positive("load", load) / positive("film_pressure", film_pressure))
    start = min(float(pair.area_at_depth(begin)) / final, 1.0)
    goal = max(start, 1.0 / (1.0 + float(positive("excess", excess))))
    if start == goal:
        return float(depth_at_area(np.array(final), growth)), 0.0
    clock = area_clock(np.array(goal), final, growth) - area_clock(np.array(start), final, growth)
    rate = float(positive("speed", speed) * positive("wear_coefficient", wear_coefficient))
    wait = float(clock) * final / (growth.slope * rate * film_pressure)
    return float(depth_at_area(np.array(final), growth)), wait


def area_clock(
    fraction: FloatArray, final_area: ArrayLike, growth: ScarGrowth, ratio: FloatArray | None = None
) -> FloatArray:
    """Compute the time to reach a fraction of the final area, in units of ``F/(c k v pf^2)``.

    Parameters
    ----------
    fraction : ndarray of float
        Area over final area a [-], 0 to 1.
    final_area : array_like
        Area at which wear stops, F/pf [m^2].
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).
    ratio : ndarray of float, optional
        ``-a - ln(1 - a)`` where it is known more exactly than the fraction [-].

    Returns
    -------
    ndarray of float
        Time ratio [-], broadcast shape.

    References
    ----------
    Derivation: x w(x)/(1 - x) = w(1) x/(1 - x) + x (w(x) - w(1))/(1 - x); the first term integrates to w(1)
    (-a - ln(1 - a)), the second is smooth at x = 1 and goes to Gauss-Legendre quadrature.

    Examples
    --------
    A small scar has w = 1 throughout:

    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(float(area_clock(np.array(0.5), 1e-12, growth)), 6)
    0.193147
    """
    singular = time_ratio(fraction) if ratio is None else ratio
    final = np.asarray(final_area, dtype=np.float64)
    lead = _weight(final, growth)
    x = fraction[..., None] * 0.5 * (_NODES + 1.0)
    smooth = x * (_weight(x * final[..., None], growth) - lead[..., None]) / (1.0 - x)
    return np.asarray(lead * singular + 0.5 * fraction * np.sum(_WEIGHTS * smooth, axis=-1))


def area_fraction(clock: ArrayLike, final_area: ArrayLike, growth: ScarGrowth) -> FloatArray:
    """Compute the fraction of its final area that a scar has reached: the inverse of `area_clock`.

    Parameters
    ----------
    clock : array_like
        Time in units of ``F/(c k v pf^2)`` [-].
    final_area : array_like
        Area at which wear stops, F/pf [m^2].
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        Area over final area [-], broadcast shape.

    References
    ----------
    Derivation: Newton steps for T = -a - ln(1 - a), in which the clock is nearly a straight line.

    Examples
    --------
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(float(area_fraction(1.0, 1e-12, growth)), 6)
    0.841406
    """
    goal, final = np.broadcast_arrays(np.asarray(clock, np.float64), np.asarray(final_area, np.float64))
    ratio = goal / _weight(final, growth)
    for _ in range(_MOST_STEPS):
        fraction = depth_fraction(ratio)
        excess = area_clock(fraction, final, growth, ratio) - goal
        ratio = np.maximum(ratio - excess / _weight(fraction * final, growth), 0.25 * ratio)
        if not np.any(np.abs(excess) > 1e-13 * goal):
            break
    return depth_fraction(ratio)


def depth_at_area(area: FloatArray, growth: ScarGrowth) -> FloatArray:
    """Compute the depth of a scar from its exact area, the integral of ``dh/dA``.

    Parameters
    ----------
    area : ndarray of float
        Area [m^2], at most ``growth.largest_area``.
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        Depth [m], same shape.

    References
    ----------
    Derivation: h is the integral of dh/dA = w/c from 0 to A, by Gauss-Legendre quadrature.

    Examples
    --------
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> round(float(depth_at_area(np.array(42.57709e-6), growth)) * 1e3, 6)
    0.635083
    """
    x = area[..., None] * 0.5 * (_NODES + 1.0)
    return np.asarray(0.5 * area * np.sum(_WEIGHTS * _weight(x, growth), axis=-1) / growth.slope)


def _weight(area: FloatArray, growth: ScarGrowth) -> FloatArray:
    # Past the end of the oval the last value is used, so that the time stays defined.
    return np.asarray(growth.weight(np.minimum(area, growth.largest_area)))

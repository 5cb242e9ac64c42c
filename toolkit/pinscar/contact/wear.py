"""The wear of a run: load, distance, friction energy, wear coefficients, and whether wear had stopped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import FloatArray, ObjectArray, as_floats, not_negative, positive, rising_readings

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

    Trapezoids between neighbouring readings; before the first and after the last one the straight line
    through the five readings there is followed, back to the beginning at twice its slope. Nothing is
    integrated over a gap. Load steps need no care, since the force itself was measured.

    The uncertainty takes, for each reading, the triangle :math:`d_i` between it and the straight line that
    joins its neighbours:
    :math:`u^2 = v^2 [(\sum d_i / 6)^2 + \frac{2}{3} \sum d_i^2 + \sum s_j^2 h_j^4 / 4 + (u_0 t)^2]`. The
    first term is what trapezoids miss of a curve, the second what readings that scatter, or jump, bring
    (each :math:`d_i` of pure scatter :math:`\sigma` at steps h has the variance
    :math:`\frac{3}{2} h^2 \sigma^2`). The third is as much as following the line of slope :math:`s_j` over a
    time :math:`h_j` at an end of the run has added, since a fall is steeper at its beginning than later; the
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
    beyond = 0.5 * _slopes(t, force) * ends**2 * [-_STEEPER, 1.0]
    energy += speed * float(np.sum(beyond))
    spread = np.linalg.norm([_triangles(t, force, kept), *beyond, zero])
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


def _slopes(t: FloatArray, y: FloatArray) -> FloatArray:
    """Give the slopes of the straight lines through the first and the last five readings."""
    ends = slice(None, _BESIDE_END), slice(-_BESIDE_END, None)
    return np.array([np.polyfit(t[one] - t[one][0], y[one], 1)[0] for one in ends])


def _triangles(t: FloatArray, y: FloatArray, kept: NDArray[np.bool_]) -> float:
    """Give the standard uncertainty that scatter and spacing leave; NaN where nothing tells it."""
    both = kept[1:] & kept[:-1]
    if not both.any():
        return float("nan")
    width = t[2:] - t[:-2]
    chord = (y[:-2] * (t[2:] - t[1:-1]) + y[2:] * (t[1:-1] - t[:-2])) / width
    d = np.where(both, 0.5 * width * (chord - y[1:-1]), 0.0)
    return float(np.sqrt(np.sum(d) ** 2 / 36.0 + 2.0 / 3.0 * np.sum(d**2)))


# Readings that the slope at an end of the run is taken from.
_BESIDE_END = 5
# A fall is steeper before what was seen of it: so many times the slope there.
_STEEPER = 2.0
# Share of the final load step that must have been quiet before the end of the run.
QUIET_SHARE = 0.10
# Allows for rounding: 54.0 of 60.0 s must count as quiet for the last tenth.
_SLACK = 1e-9

DECLARED_RUNNING_BUT_QUIET = "declared still wearing, though the noise had stopped well before the end"
DECLARED_STOPPED_BUT_NOISY = "declared stopped, though the noise lasted to the end"


def wear_stopped(
    declared: ArrayLike, quiet_time: ArrayLike, duration: ArrayLike, last_step_start: ArrayLike
) -> ObjectArray:
    """Decide for each run whether wear had stopped in the final load step.

    What the operator declared wins. Where nothing was declared, wear had stopped if the rubbing noise
    stopped within the final load step and at least a tenth of that step's length before the end. A quiet
    time in an earlier step, in the last tenth, or none at all leaves the run not judged: silence under a
    lower load says nothing about the final one.

    Parameters
    ----------
    declared : array_like
        True, False or None (not judged) [-].
    quiet_time : array_like
        Time at which the rubbing noise stopped [s]; NaN where not noted.
    duration : array_like
        Duration of the run [s].
    last_step_start : array_like
        Start of the final load step [s]; 0 for a run at one load.

    Returns
    -------
    ndarray of object
        True, False or None (not judged), broadcast shape.

    Raises
    ------
    ValueError
        A final step starts after the end of its run.

    References
    ----------
    Common practice: the operator hears the end of wear. The share of a tenth is an own convention.

    Examples
    --------
    >>> wear_stopped([None, None, False], [20, 59, 20], 60, 0).tolist()
    [True, None, False]
    """
    said = np.asarray(declared, dtype=object)
    quiet = _quiet_well_before_end(*_times(quiet_time, duration, last_step_start))
    said, quiet = np.broadcast_arrays(said, quiet)
    judged = [_one(d, bool(q)) for d, q in zip(said.flat, quiet.flat, strict=True)]
    result = np.empty(said.size, dtype=object)
    result[:] = judged
    return result.reshape(said.shape)


def contradictions(
    declared: ArrayLike, quiet_time: ArrayLike, duration: ArrayLike, last_step_start: ArrayLike
) -> ObjectArray:
    """Find the runs whose declared state does not go with their quiet time.

    Parameters
    ----------
    declared : array_like
        True, False or None (not judged) [-].
    quiet_time : array_like
        Time at which the rubbing noise stopped [s]; NaN where not noted.
    duration : array_like
        Duration of the run [s].
    last_step_start : array_like
        Start of the final load step [s]; 0 for a run at one load.

    Returns
    -------
    ndarray of object
        A plain clause where the two contradict each other, else an empty string; broadcast shape.

    Raises
    ------
    ValueError
        A final step starts after the end of its run.

    References
    ----------
    Convention of this package, as in `wear_stopped`: the noise of rubbing metal ends with wear (common
    practice).

    Examples
    --------
    >>> contradictions([False, True, True], [20, 60, 20], 60, 0).tolist()
    ['declared still wearing, though the noise had stopped well before the end',
     'declared stopped, though the noise lasted to the end', '']
    """
    said = np.asarray(declared, dtype=object)
    quiet, end, start = _times(quiet_time, duration, last_step_start)
    early = _quiet_well_before_end(quiet, end, start)
    to_the_end = quiet >= end * (1.0 - _SLACK)
    said, early, to_the_end = np.broadcast_arrays(said, early, to_the_end)
    result = np.full(said.shape, "", dtype=object)
    result[_is(said, False) & early] = DECLARED_RUNNING_BUT_QUIET
    result[_is(said, True) & to_the_end] = DECLARED_STOPPED_BUT_NOISY
    return result


def left_censored(stopped: ArrayLike) -> NDArray[np.bool_]:
    """Tell which final pressures are only upper bounds on the film pressure.

    Only a run in which wear had stopped gives the film pressure itself; one still wearing, or not judged,
    says that the film carries less than the final pressure.

    Parameters
    ----------
    stopped : array_like
        True, False or None, from `wear_stopped` [-].

    Returns
    -------
    ndarray of bool
        True where the film pressure is left-censored; same shape.

    References
    ----------
    Definition of a left-censored value, as in D. R. Helsel, Statistics for Censored Environmental Data, 2012.

    Examples
    --------
    >>> left_censored([True, False, None]).tolist()
    [False, True, True]
    """
    return ~_is(np.asarray(stopped, dtype=object), True)


def _times(
    quiet_time: ArrayLike, duration: ArrayLike, last_step_start: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    times = (as_floats(quiet_time), as_floats(duration), as_floats(last_step_start))
    quiet, end, start = np.broadcast_arrays(*times)
    if np.any(start > end):
        raise ValueError("last_step_start must not be after the end of the run, duration")
    return quiet, end, start


def _quiet_well_before_end(quiet: FloatArray, end: FloatArray, start: FloatArray) -> NDArray[np.bool_]:
    return (quiet >= start) & (end - quiet >= QUIET_SHARE * (end - start) - _SLACK * end)


def _one(declared: object, quiet: bool) -> bool | None:
    if _known(declared):
        return bool(declared)
    return True if quiet else None


def _known(declared: object) -> bool:
    if declared is None or isinstance(declared, bool | np.bool_):
        return declared is not None
    if isinstance(declared, float) and np.isnan(declared):
        return False
    raise ValueError(f"declared must hold True, False or None; got {declared!r}")


def _is(values: ObjectArray, wanted: bool) -> NDArray[np.bool_]:
    same = [_known(value) and bool(value) is wanted for value in values.flat]
    return np.array(same, dtype=bool).reshape(values.shape)

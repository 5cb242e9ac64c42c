"""Had wear stopped? Whether the final scar pressure is the film pressure or only a bound on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import FloatArray, ObjectArray, as_floats

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

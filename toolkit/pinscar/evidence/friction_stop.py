"""When wear stopped, from the friction of a run: the moment at which it has come down to its plateau."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter
from scipy.special import lambertw

from pinscar.evidence.fall import Fall, fit_fall

FloatArray = NDArray[np.float64]

CLOCKS = 2.0
"""Two recorders started by hand differ by that much without a fault (common practice) [s]."""

LEAST_DROP = 0.05
"""Least fall of friction, as a share of the plateau [1]."""

LEAST_PLATEAU = 0.10
"""Least length of the plateau, as a share of the time looked at [1]."""

_MOST_POINTS = 200
_FEWEST = 15
_SETTLED = 0.05
_POWERS = (1.0, 2.0, 4.0, 8.0)
_DRIFT_GAIN = 10.0
_AROUND = 15
_LEAST_DEVIANCE = 20.0
_WIDEST_SHARE = 0.6
_LEAST_LEFT = 0.05


@dataclass(frozen=True, slots=True)
class FrictionStop:
    """What a friction trace tells of the end of wear; numbers are None where it was not accepted.

    Parameters
    ----------
    accepted : bool
        Whether a time was found.
    reason : str
        Why not; empty where it was.
    time : float or None
        When friction had come down to its plateau, but for 5 % of the fall [s].
    low, high : float or None
        Its interval [s].
    confidence : float
        Confidence of the interval.
    drop : float or None
        How far friction fell [unit of the values].
    plateau : float or None
        Friction at that moment [unit of the values].
    """

    accepted: bool
    reason: str
    time: float | None
    low: float | None
    high: float | None
    confidence: float
    drop: float | None
    plateau: float | None


def friction_stop(time: ArrayLike, friction: ArrayLike, confidence: float = 0.95) -> FrictionStop:
    """Find when friction had come down to its plateau.

    A fall onto a plateau is fitted (`fit_fall`: a step, powers 1, 2, 4 and 8, the exponential, and the fall
    of a scar that wears until the film carries the load, `share_on_metal`); it ends when 5 % of it is left.
    The interval takes in what these shapes differ by, and holds as far as one of them does. The plateau may
    drift along a straight line where that fits much better (twice the gain in log-likelihood above
    ``2 ln n + 10``). Values weigh by the scatter about them, from the median step between neighbours.
    Sampling may be irregular and have gaps; more than 200 readings are first turned into medians over equal
    spans of time.

    Parameters
    ----------
    time : array_like
        Times [s], rising; within one load step.
    friction : array_like
        Friction force or coefficient [any unit]; NaN where missing.
    confidence : float
        Confidence of the interval.

    Returns
    -------
    FrictionStop
        Accepted, or refused with a reason: too few readings, a fall under 5 % of the plateau or not above
        the scatter, a plateau shorter than a tenth of the time looked at, an interval that reaches into
        its last twentieth or is wider than 0.6 of it.

    References
    ----------
    That friction falls as the film takes over the load is common practice; the shares are own conventions.
    Method: `fit_fall`.

    Examples
    --------
    >>> time = np.arange(0.0, 60.0, 0.5)
    >>> force = 20.0 + 15.0 * np.clip(1.0 - time / 30.0, 0.0, 1.0)
    >>> found = friction_stop(time, force + np.random.default_rng(1).normal(0.0, 0.3, time.size))
    >>> found.accepted, bool(found.low <= 28.5 <= found.high), round(found.plateau)
    (True, True, 20)
    """
    t, y = _evened(np.asarray(time, dtype=np.float64), np.asarray(friction, dtype=np.float64))
    if t.size < _FEWEST:
        readings = f"{t.size} reading{'' if t.size == 1 else 's'}"
        return _refused(f"only {readings} of friction, at least {_FEWEST} are needed", confidence)
    span = float(t[-1] - t[0])
    fall = _fall(t, y, confidence)
    reason = _why_not(fall, t, span)
    if fall is None or reason:
        return _refused(reason, confidence)
    return FrictionStop(True, "", fall.end, fall.low, fall.high, confidence, fall.drop, fall.plateau)


def share_on_metal(time: ArrayLike, end: ArrayLike) -> FloatArray:
    """Compute the share of the load that metal carries while a scar grows, by the wear-arrest model.

    A small scar between crossed cylinders has depth ``h = h_inf (1 + W0(-exp(-1 - t/tau)))`` and an area in
    proportion to it, so the film carries ``h / h_inf`` of the load and metal the rest,
    ``-W0(-exp(-1 - t/tau))``. That is 0.05 at ``t = tau (0.05 - 1 - ln 0.05) = 2.046 tau``.

    Parameters
    ----------
    time : array_like
        Time since the load came on [s].
    end : array_like
        When 5 % of the load is left on metal [s].

    Returns
    -------
    ndarray of float
        The share, broadcast shape [1]; 1 before the load came on.

    References
    ----------
    Own derivation: Archard wear above a film pressure (Archard, J. Appl. Phys. 24, 1953). W0 is the Lambert
    function: Corless et al., Adv. Comput. Math. 5, 1996.

    Examples
    --------
    >>> share_on_metal([0.0, 10.0, 20.0, 30.0], 20.0).round(3).tolist()
    [1.0, 0.154, 0.05, 0.017]
    """
    tau = np.asarray(end, dtype=np.float64) / (_SETTLED - 1.0 - np.log(_SETTLED))
    past = np.asarray(time, dtype=np.float64) / np.maximum(tau, np.finfo(float).tiny)
    past = np.maximum(past, 1e-12)  # at zero the argument of W0 would round past its branch point
    return np.asarray(-lambertw(-np.exp(-1.0 - past)).real, dtype=np.float64)


def _fall(t: FloatArray, y: FloatArray, confidence: float) -> Fall | None:
    """Fit without a drift, and with one only where that is much better: it looks like the fall's own tail."""
    spread = _spread(y)
    plain, drifting = (
        fit_fall(
            t,
            y,
            longest_fall=float(t[-1] - t[0]),
            drift=drift,
            powers=_POWERS,
            settled=_SETTLED,
            curves=(
                lambda time, end: share_on_metal(time - t[0], end - t[0]),
                lambda time, end: _SETTLED ** ((time - t[0]) / max(end - t[0], np.finfo(float).tiny)),
            ),
            spread=spread,
            edge=float(np.median(np.diff(t))),
            confidence=confidence,
        )
        for drift in (False, True)
    )
    if plain is None or drifting is None:
        return plain or drifting
    gain = 2.0 * t.size * np.log(plain.scatter / drifting.scatter) if drifting.scatter > 0 else 0.0
    return drifting if gain > 2.0 * np.log(t.size) + _DRIFT_GAIN else plain


def _spread(y: FloatArray) -> FloatArray:
    """Scatter about each value: rubbing metal jerks, a film does not."""
    steps = np.abs(np.diff(y, prepend=y[0]))
    steps[0] = steps[1]
    around = median_filter(steps, size=_AROUND, mode="nearest")
    typical = float(np.median(around)) or 1.0
    return np.asarray(np.clip(around, 0.5 * typical, 10.0 * typical), dtype=np.float64)


def _evened(time: FloatArray, friction: FloatArray) -> tuple[FloatArray, FloatArray]:
    there = np.isfinite(time) & np.isfinite(friction)
    t, y = time[there], friction[there]
    if t.size <= _MOST_POINTS:
        return t, y
    edges = np.linspace(t[0], t[-1], _MOST_POINTS + 1)
    of = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, _MOST_POINTS - 1)
    filled = np.unique(of)
    middles = [(float(np.mean(t[of == one])), float(np.median(y[of == one]))) for one in filled]
    columns = np.array(middles, dtype=np.float64)
    return columns[:, 0], columns[:, 1]


def _why_not(fall: Fall | None, time: FloatArray, span: float) -> str:
    if fall is None or fall.deviance < _LEAST_DEVIANCE:
        return "friction does not fall by more than its scatter"
    if fall.plateau <= 0 or fall.drop < LEAST_DROP * fall.plateau:
        return f"friction falls by less than {100 * LEAST_DROP:.0f} % of its plateau"
    if time[-1] - fall.end < LEAST_PLATEAU * span:
        return "friction was still falling near the end: no plateau"
    if time[-1] - fall.high < _LEAST_LEFT * span:
        return "friction may still have been falling at the end"
    if fall.high - fall.low > _WIDEST_SHARE * span:
        return "friction comes down so slowly that no end can be told"
    return ""


def _refused(reason: str, confidence: float) -> FrictionStop:
    return FrictionStop(False, reason, None, None, None, confidence, None, None)


def gap_between(first: tuple[float, float], second: tuple[float, float], allowance: float = CLOCKS) -> float:
    """Measure how far two intervals of the same moment lie apart.

    Parameters
    ----------
    first, second : tuple of float
        Lower and upper end [s].
    allowance : float
        How much two clocks may differ [s].

    Returns
    -------
    float
        Time between the intervals [s]; 0 where they overlap, or lie no further apart than the
        allowance: the two then agree.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> gap_between((20.0, 22.0), (23.0, 25.0)), gap_between((20.0, 22.0), (30.0, 35.0))
    (0.0, 8.0)
    """
    gap = max(first[0], second[0]) - min(first[1], second[1])
    return gap if gap > allowance else 0.0

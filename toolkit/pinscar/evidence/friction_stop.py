"""When wear stopped, from the friction of a run: the moment at which it has come down to its plateau."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter
from scipy.special import lambertw

from pinscar.evidence.fall import Fall, fit_fall
from pinscar.evidence.recorder import rounding_sd, scatter, short_spikes

FloatArray = NDArray[np.float64]

CLOCKS = 2.0
"""Two recorders started by hand differ by that much without a fault (common practice) [s]."""

LEAST_DROP = 0.05
"""Least fall of friction, as a share of the plateau [1]."""

LEAST_PLATEAU = 0.10
"""Least length of the plateau, as a share of the time looked at [1]."""

DRIFT_SD = 0.04
"""Friction on the film changes by that much over the time looked at, as the oil warms and thins (standard
deviation, as a share of the plateau) [1]."""

FALLS_ON = 0.25
"""What goes on falling by that share of the drop, along a line after it, is no plateau [1]."""

_MOST_POINTS = 200
_FEWEST = 15
_FEWEST_BEFORE = 4
_COARSE, _LATE = 0.1, 0.1
_ZOOM = 3.0
_SETTLED = 0.05
_POWERS = (1.0, 2.0, 4.0, 8.0)
_DRIFT_GAIN = 10.0
_AROUND = 15
_KNOWN = 0.5  # of the scatter about the neighbours, which a steep fall adds to
_LEAST_DEVIANCE = 20.0
_WIDEST_SHARE = 0.6
_LEAST_LEFT = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
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


def friction_stop(
    time: ArrayLike, friction: ArrayLike, confidence: float = 0.95, begun: float | None = None
) -> FrictionStop:
    """Find when friction had come down to its plateau.

    A fall onto a plateau is fitted (`fit_fall`: a step, powers 1, 2, 4 and 8, the exponential, and the fall
    of a scar that wears until the film carries the load, `share_on_metal`); it ends when 5 % of it is left.
    The interval takes in what these shapes differ by. The plateau may drift a little as the oil warms (4 % of
    it over the whole time, standard deviation; the fits with it and without it count alike), or along any
    straight line where that fits much better (twice the gain in log-likelihood above ``2 ln n + 10``). Values
    weigh by the scatter about them, from the median step between neighbours. Spikes of up to three readings
    are left out first (`short_spikes`). Sampling may be irregular and have gaps; more than 200 readings are
    then turned into medians over equal spans of time, and once the end is found, the same is done anew with
    finer spans about it.

    Parameters
    ----------
    time : array_like
        Times [s], rising; within one load step.
    friction : array_like
        Friction force or coefficient [any unit]; NaN where missing.
    confidence : float
        Confidence of the interval [-].
    begun : float, optional
        When the load came on [s]; with the first reading where it is left out.

    Returns
    -------
    FrictionStop
        Accepted, or refused with a reason: too few readings, a fall under 5 % of the plateau or not above the
        scatter, fewer than four readings before the end, a plateau shorter than a tenth of the time looked at
        or one that goes on falling by a quarter of the drop, rounding in steps over a tenth of the drop, no
        readings in the first tenth of the time after the load came on, an interval that reaches into its last
        twentieth or is wider than 0.6 of it.

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
    t, y = np.asarray(time, dtype=np.float64), np.asarray(friction, dtype=np.float64)
    there = np.isfinite(t) & np.isfinite(y)
    t, y = t[there], y[there]
    alone = short_spikes(t, y)
    t, y = t[~alone], y[~alone]
    if t.size < _FEWEST:
        readings = f"{t.size} reading{'' if t.size == 1 else 's'}"
        return _refused(f"only {readings} of friction, at least {_FEWEST} are needed", confidence)
    span = float(t[-1] - t[0])
    coarse = _evened(t, y)
    first = float(t[0]) if begun is None else min(begun, float(t[0]))
    fall = _fall(*coarse, first, confidence)
    if fall is not None:
        wide = max(fall.high - fall.low, span / min(t.size, _MOST_POINTS))
        zone = fall.low - _ZOOM * wide, fall.high + _ZOOM * wide
        fall = _fall(*_closer(t, y, coarse, zone), first, confidence, zone) or fall
    reason = _why_not(fall, t, span) or _unseen(fall, t, y, first)
    if fall is None or reason:
        return _refused(reason, confidence)
    between = 0.5 * float(np.median(np.diff(t)))  # friction may have come down between two readings
    fall = replace(
        fall, low=max(fall.low - between, float(t[0])), high=min(fall.high + between, float(t[-1]))
    )
    return FrictionStop(
        accepted=True,
        reason="",
        time=fall.end,
        low=fall.low,
        high=fall.high,
        confidence=confidence,
        drop=fall.drop,
        plateau=fall.plateau,
    )


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


def _fall(
    t: FloatArray,
    y: FloatArray,
    begun: float,
    confidence: float,
    between: tuple[float, float] | None = None,
) -> Fall | None:
    """Fit without a drift, and with one only where that is much better: it looks like the fall's own tail."""
    spread, known = _spread(y), scatter(t, y)
    known = _KNOWN * known if np.isfinite(known) else 0.0

    def fitted(*, drift: bool, stiffness: float = 0.0) -> Fall | None:
        return fit_fall(
            t,
            y,
            longest_fall=float(t[-1] - t[0]),
            drift=drift,
            powers=_POWERS,
            settled=_SETTLED,
            curves=(
                lambda time, end: share_on_metal(time - begun, end - begun),
                lambda time, end: _SETTLED ** ((time - begun) / max(end - begun, np.finfo(float).tiny)),
            ),
            spread=spread,
            edge=float(np.median(np.diff(t))),
            between=between,
            confidence=confidence,
            stiffness=stiffness,
            floor=known,
        )

    plain, drifting = fitted(drift=False), fitted(drift=True)
    if plain is None or drifting is None:
        return plain or drifting
    gain = 2.0 * t.size * np.log(plain.scatter / drifting.scatter) if drifting.scatter > 0 else 0.0
    if gain > 2.0 * np.log(t.size) + _DRIFT_GAIN:
        return drifting
    small = DRIFT_SD * abs(plain.plateau)
    if small == 0.0:
        return plain
    soft = fitted(drift=True, stiffness=plain.scatter / np.sqrt(plain.independent) / small)
    if soft is None:
        return plain
    # Nothing tells whether the last of it is a slow fall or a drift: both count.
    return replace(
        soft,
        end=0.5 * (soft.end + plain.end),
        low=min(soft.low, plain.low),
        high=max(soft.high, plain.high),
    )


def _spread(y: FloatArray) -> FloatArray:
    """Scatter about each value: rubbing metal jerks, a film does not."""
    steps = np.abs(np.diff(y, prepend=y[0]))
    steps[0] = steps[1]
    around = median_filter(steps, size=_AROUND, mode="nearest")
    typical = float(np.median(around)) or 1.0
    return np.asarray(np.clip(around, 0.5 * typical, 10.0 * typical), dtype=np.float64)


def _closer(
    t: FloatArray, y: FloatArray, coarse: tuple[FloatArray, FloatArray], zone: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Put finer medians in the place of those in a zone: one with metal and film in it tells neither."""
    inside = (t >= zone[0]) & (t <= zone[1])
    outside = (coarse[0] < zone[0]) | (coarse[0] > zone[1])
    if not inside.any():
        return coarse
    pairs = zip(_evened(t[inside], y[inside]), coarse, strict=True)
    time, values = (np.concatenate([fine, rough[outside]]) for fine, rough in pairs)
    order = np.argsort(time)
    return time[order], values[order]


def _evened(t: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
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
    if np.count_nonzero(time < fall.end) < _FEWEST_BEFORE:
        return f"fewer than {_FEWEST_BEFORE} readings lie before friction had come down"
    if fall.plateau <= 0 or fall.drop < LEAST_DROP * fall.plateau:
        return f"friction falls by less than {100 * LEAST_DROP:.0f} % of its plateau"
    if time[-1] - fall.end < LEAST_PLATEAU * span:
        return "friction was still falling near the end: no plateau"
    if -fall.slope * (time[-1] - fall.end) > FALLS_ON * fall.drop:
        return "friction goes on falling after its drop: no plateau"
    if time[-1] - fall.high < _LEAST_LEFT * span:
        return "friction may still have been falling at the end"
    if fall.high - fall.low > _WIDEST_SHARE * span:
        return "friction comes down so slowly that no end can be told"
    return ""


def _unseen(fall: Fall | None, time: FloatArray, values: FloatArray, begun: float) -> str:
    """Say why the beginning or the last of a fall was not seen."""
    step = float(np.sqrt(12.0)) * rounding_sd(values)
    if fall is not None and step > _COARSE * min(fall.drop, float(np.ptp(values))):
        return "the readings are rounded in steps too coarse for the last of the fall"
    if time[0] - begun > max(_LATE * (time[-1] - begun), 3.0 * float(np.median(np.diff(time)))):
        return "friction was not read when the load came on"
    return ""


def _refused(reason: str, confidence: float) -> FrictionStop:
    return FrictionStop(
        accepted=False,
        reason=reason,
        time=None,
        low=None,
        high=None,
        confidence=confidence,
        drop=None,
        plateau=None,
    )


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

"""Ratio of two medians with left-censored runs, each group with its own spread."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtri, stdtrit

from pinscar.stats.censored import (
    CensoredFit,
    censoring_shift,
    fit_one_group,
    profile_deviance,
    profile_limit,
)
from pinscar.stats.censored_groups import CensoredRatio
from pinscar.stats.checks import censored_mask, check_confidence, from_log, on_scale
from pinscar.stats.guarded_welch import guarded_critical, outward_factor
from pinscar.stats.rounding import pulled_in, rounding_shift

FloatArray = NDArray[np.float64]
Side = Literal["low", "high"]
TOLERANCE = 1e-10
NOTHING = 1e-8
"""Deviance below which a limit is at the estimate: the maximum is not known better."""
OPEN = 1e9
"""Stands for a limit that is not there, in logarithms."""
LEAST_LOG_P = -60.0
"""Logarithm of the smallest p that is worked out; anything smaller is given as this."""


@dataclass(frozen=True, slots=True)
class OwnGroup:
    """One group with its fit.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms of the values; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    fit : CensoredFit
        Its own median and spread.
    step : float
        Step of the readings on logarithms [-]; 0 where unknown.
    """

    logs: FloatArray
    left_censored: NDArray[np.bool_]
    fit: CensoredFit
    step: float


def reach(group: OwnGroup, side: Side, student: float) -> float:
    r"""Give how far a limit of a group's log median lies from its estimate, at a value of Student's t.

    The deviance is cut at :math:`(\sqrt{n \ln(1 + t^2/(n-1))} + d)^2`, which without censored runs is
    :math:`t\,s/\sqrt n` away; d of :func:`pinscar.stats.censored.censoring_shift` at the low end only. The
    spread is no smaller than rounding the readings can hide.

    Parameters
    ----------
    group : OwnGroup
        The group.
    side : {"low", "high"}
        Which limit.
    student : float
        t [-], not negative.

    Returns
    -------
    float
        Distance [-]; a huge number where the limit is open.

    References
    ----------
    As :func:`pinscar.stats.censored.deviance_cut`.

    Examples
    --------
    >>> logs, none = np.array([0.0, 1.0, 2.0]), np.zeros(3, dtype=bool)
    >>> group = OwnGroup(logs, none, fit_one_group(logs, none), 0.0)
    >>> round(reach(group, "high", 3.0), 6), round(3.0 / np.sqrt(3), 6)
    (1.732051, np.float64(1.732051))
    """
    n = group.logs.size
    shift = censoring_shift(n, int(group.left_censored.sum())) if side == "low" else 0.0
    root = float(np.sqrt(n * np.log1p(student**2 / (n - 1)))) + shift
    return _distance(group, side, root**2)


def _distance(group: OwnGroup, side: Side, cut: float) -> float:
    if cut <= NOTHING:
        return 0.0
    centre, sigma = float(group.fit.coefficients[0]), group.fit.sigma

    def deviance(location: float) -> float:
        taken = pulled_in(location, centre, sigma, group.step, means=0)
        return profile_deviance(group.logs, group.left_censored, taken, group.fit)

    step = sigma / float(np.sqrt(group.logs.size)) * (-1.0 if side == "low" else 1.0)
    found = profile_limit(deviance, centre, step, cut, TOLERANCE)
    return OPEN if found is None else abs(found - centre)


def own_group(values: ArrayLike, left_censored: ArrayLike, step: float = 0.0) -> OwnGroup:
    """Fit one group by itself.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values in any unit; the limit where censored. Two uncensored ones differ.
    left_censored : array_like of bool, shape (n,)
        True where the true value is at most the one recorded.
    step : float
        Step of the readings on logarithms [-]; 0 where unknown.

    Returns
    -------
    OwnGroup
        The group.

    Raises
    ------
    ValueError
        If fewer than two distinct values were observed, or the likelihood did not converge.

    References
    ----------
    As :func:`pinscar.stats.censored.left_censored_median`.

    Examples
    --------
    >>> round(float(np.exp(own_group([1.0, 2.0, 4.0], [False] * 3).fit.coefficients[0])), 6)
    2.0
    """
    logs = on_scale(values, "log")
    mask = censored_mask(left_censored, logs.size)
    if np.unique(logs[~mask]).size < 2:
        raise ValueError("two distinct uncensored values are needed for a spread of its own, found fewer")
    fit = fit_one_group(logs, mask)
    if not fit.converged:
        raise ValueError("the likelihood of a censored group must converge, found that it did not")
    return OwnGroup(logs, mask, fit, step)


def own_spread_ratio(subject: OwnGroup, reference: OwnGroup, confidence: float = 0.95) -> CensoredRatio:
    r"""Ratio of two medians, each group fitted by itself, with limits from those of both.

    With :math:`a` the distance of a group's limit on the side that matters (low of the subject and high of
    the reference for the low end of the ratio), at one critical value c for both,

    .. math:: \ln \text{low} = \hat\mu_1 - \hat\mu_0 - \sqrt{a_1^2(c) + a_0^2(c)}

    c is that of :func:`pinscar.stats.guarded_welch.guarded_critical` with the variances
    :math:`(a_i(t_{n_i-1})/t_{n_i-1})^2`. Without censored runs it is exactly the guarded Welch interval. What
    rounding may have shifted the medians by is added to the reach. p is the error at which the limits just
    reach one.

    Parameters
    ----------
    subject, reference : OwnGroup
        From :func:`own_group`.
    confidence : float
        Confidence of this one interval [-].

    Returns
    -------
    CensoredRatio
        Ratio, limits, p, and limits by the large-sample cut.

    References
    ----------
    Zou and Donner, "Construction of confidence limits about effect measures: a general approach", Statist.
    Med. 27 (2008) 1693-1702, for joining limits of both groups; the critical value: own derivation, simulated
    in ``tests/benchmarks/met_error_table.py``.

    Examples
    --------
    >>> none = [False] * 4
    >>> a, b = own_group([95.0, 100.0, 105.0, 98.0], none), own_group([140.0, 150.0, 145.0, 120.0], none)
    >>> found = own_spread_ratio(b, a)
    >>> 1.0 < found.low < found.ratio < found.high, found.p < 0.05
    (True, True)
    """
    check_confidence(confidence)
    groups = (subject, reference)
    dfs = (subject.logs.size - 1.0, reference.logs.size - 1.0)
    outside = 1.0 - confidence
    guard = outward_factor(dfs, round(outside, 12))
    difference = float(subject.fit.coefficients[0] - reference.fit.coefficients[0])
    rounded = sum(rounding_shift(group.fit.sigma, group.step) for group in groups)
    sides: dict[Side, tuple[Side, Side]] = {"low": ("low", "high"), "high": ("high", "low")}

    def share(side: Side) -> float | None:
        students = [-float(stdtrit(df, outside / 2.0)) for df in dfs]
        each = [reach(g, s, t) / t for g, s, t in zip(groups, sides[side], students, strict=True)]
        return None if max(each) * max(students) >= OPEN else each[0] ** 2 / (each[0] ** 2 + each[1] ** 2)

    shares = {side: share(side) for side in sides}

    def away(side: Side, error: float) -> float:
        held = shares[side]
        if held is None:
            return OPEN
        critical = float(guarded_critical(held, dfs, error, guard))
        parts = [reach(group, s, critical) for group, s in zip(groups, sides[side], strict=True)]
        return math.hypot(*parts) + rounded

    below, above = (away(side, outside) for side in sides)
    plain = float(chdtri(1, outside))
    large = [
        math.hypot(*(_distance(g, s, plain) for g, s in zip(groups, sides[x], strict=True))) for x in sides
    ]
    side: Side = "low" if difference > 0.0 else "high"
    return CensoredRatio(
        ratio=float(np.exp(difference)),
        low=_end(difference - below, below),
        high=_end(difference + above, above),
        p=_p(lambda error: away(side, error) - abs(difference), outside),
        profile_low=_end(difference - large[0], large[0]),
        profile_high=_end(difference + large[1], large[1]),
    )


def _end(location: float, distance: float) -> float | None:
    return None if distance >= OPEN / 2.0 else from_log(location)


def _p(excess: Callable[[float], float], outside: float) -> float:
    """Solve for the error at which the limit just reaches equality, on the side that the interval tells."""
    low, high = LEAST_LOG_P, math.log(outside)
    if excess(outside) >= 0.0:
        low, high = high, -1e-9
        if excess(math.exp(high)) >= 0.0:
            return 1.0
    elif excess(math.exp(low)) <= 0.0:
        return math.exp(low)
    log_p = brentq(lambda e: min(excess(math.exp(e)), 1e3), low, high, xtol=1e-7, rtol=1e-7)
    return math.exp(float(log_p))

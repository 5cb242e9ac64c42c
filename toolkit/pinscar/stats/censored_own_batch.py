"""Two medians with left-censored runs, each group with its own spread: many campaigns at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, stdtrit

from pinscar.stats.censored import censoring_shift
from pinscar.stats.two_groups import guarded_critical, outward_factor

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
NEWTON, ROUNDS, WIDENINGS = 40, 60, 40
CLOSE = 1e-9
"""Relative closeness of limits, and of the inverse spread in its inner maximum."""


@dataclass(frozen=True, slots=True)
class Groups:
    """One group of each of many campaigns, with its fit.

    Parameters
    ----------
    logs : ndarray, shape (campaigns, n)
        Logarithms of values or limits [-].
    hidden : ndarray of bool, shape (campaigns, n)
        True where the true value is at most the one recorded.
    median, sigma, height : ndarray, shape (campaigns,)
        Estimates on logarithms [-] and log-likelihood there, but for a constant.
    """

    logs: FloatArray
    hidden: BoolArray
    median: FloatArray
    sigma: FloatArray
    height: FloatArray


def fit_groups_apart(logs: FloatArray, hidden: BoolArray) -> Groups:
    """Fit one group of each of many campaigns by itself.

    Parameters
    ----------
    logs : ndarray, shape (campaigns, n)
        Logarithms of values or limits [-]; two seen ones differ in each campaign.
    hidden : ndarray of bool, shape (campaigns, n)
        True where the true value is at most the one recorded.

    Returns
    -------
    Groups
        With the maxima of the likelihood.

    Raises
    ------
    ArithmeticError
        If a likelihood did not settle.

    References
    ----------
    Olsen, Econometrica 46 (1978) 1211-1215: concave in 1/sigma and median/sigma; Newton's method.

    Examples
    --------
    >>> fitted = fit_groups_apart(np.array([[0.0, 1.0, 2.0]]), np.zeros((1, 3), dtype=bool))
    >>> round(float(fitted.median[0]), 9), round(float(fitted.sigma[0] ** 2), 9)
    (1.0, 0.666666667)
    """
    centre, unit = logs.mean(axis=1), logs.std(axis=1)
    v, seen = (logs - centre[:, None]) / unit[:, None], ~hidden
    theta, gamma = np.ones(len(v)), np.zeros(len(v))
    height = _height(theta[:, None] * v - gamma[:, None], theta, seen)
    for _ in range(NEWTON):
        u = theta[:, None] * v - gamma[:, None]
        slope, curve = _bends(u, seen)
        first = np.sum(slope * v, axis=1) + seen.sum(axis=1) / theta
        other = -np.sum(slope, axis=1)
        a = np.sum(curve * v**2, axis=1) + seen.sum(axis=1) / theta**2
        b, c = -np.sum(curve * v, axis=1), np.sum(curve, axis=1)
        size = a * c - b * b
        steps = (c * first - b * other) / size, (a * other - b * first) / size
        gain = (first * steps[0] + other * steps[1]) / 2.0
        if float(gain.max(initial=0.0)) < 1e-13:
            break
        theta, gamma, height = _climbed(v, seen, (theta, gamma, height), steps)
    else:
        raise ArithmeticError("the likelihood of a censored group must settle, found that it did not")
    height = height - seen.sum(axis=1) * np.log(unit)
    return Groups(logs, hidden, centre + unit * gamma / theta, unit / theta, height)


def _height(u: FloatArray, theta: FloatArray, seen: BoolArray) -> FloatArray:
    terms = np.where(seen, -(u**2) / 2.0, log_ndtr(u))
    return np.asarray(terms.sum(axis=1) + seen.sum(axis=1) * np.log(theta), dtype=np.float64)


def _bends(u: FloatArray, seen: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Slope and curvature of each run's log-likelihood in its residual."""
    mills = np.exp(-(u**2) / 2.0 - log_ndtr(u)) / np.sqrt(2.0 * np.pi)
    return np.where(seen, -u, mills), np.where(seen, 1.0, np.clip(mills * (mills + u), 0.0, 1.0))


def _climbed(
    v: FloatArray,
    seen: BoolArray,
    here: tuple[FloatArray, FloatArray, FloatArray],
    steps: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Take the whole step where it climbs, and where it does not, a half, a quarter, and so on."""
    theta, gamma, height = (one.copy() for one in here)
    left = np.ones(len(v), dtype=bool)
    for halving in range(30):
        tried = here[0] + steps[0] / 2.0**halving, here[1] + steps[1] / 2.0**halving
        allowed = left & (tried[0] > 0.0)
        reached = np.full(len(v), -np.inf)
        u = tried[0][allowed, None] * v[allowed] - tried[1][allowed, None]
        reached[allowed] = _height(u, tried[0][allowed], seen[allowed])
        better = allowed & (reached >= height)
        theta[better], gamma[better], height[better] = tried[0][better], tried[1][better], reached[better]
        left &= ~better
        if not left.any():
            break
    return theta, gamma, height


def _deviance(groups: Groups, locations: FloatArray) -> FloatArray:
    """Twice the log-likelihood lost where each median is held at a location."""
    w, seen = groups.logs - locations[:, None], ~groups.hidden
    count = seen.sum(axis=1)
    squares = np.sum(np.where(seen, w**2, 0.0), axis=1)
    theta = np.sqrt(count / squares)
    for _ in range(NEWTON):
        slope, curve = _bends(theta[:, None] * w, seen)
        first = count / theta - theta * squares + np.sum(np.where(seen, 0.0, slope * w), axis=1)
        second = count / theta**2 + squares + np.sum(np.where(seen, 0.0, curve * w**2), axis=1)
        moved = np.maximum(theta + first / second, theta / 4.0)
        done = np.abs(moved - theta) <= CLOSE * theta
        theta = moved
        if done.all():
            break
    return np.maximum(2.0 * (groups.height - _height(theta[:, None] * w, theta, seen)), 0.0)


def reaches(groups: Groups, low: BoolArray, student: FloatArray) -> FloatArray:
    """Give how far the limit of each median lies from its estimate, at a value of Student's t.

    Parameters
    ----------
    groups : Groups
        From :func:`fit_groups_apart`.
    low : ndarray of bool, shape (campaigns,)
        True where the low limit is asked for.
    student : ndarray, shape (campaigns,)
        t [-], positive.

    Returns
    -------
    ndarray, shape (campaigns,)
        Distance on logarithms [-]; infinite where the limit is open.

    References
    ----------
    The cut is that of :func:`pinscar.stats.censored_groups.reach`; zero by regula falsi (Illinois) on the
    root of the deviance, which is nearly straight.

    Examples
    --------
    >>> fitted = fit_groups_apart(np.array([[0.0, 1.0, 2.0]]), np.zeros((1, 3), dtype=bool))
    >>> reaches(fitted, np.array([True]), np.array([3.0])).round(6), round(3.0 / np.sqrt(3), 6)
    (array([1.732051]), np.float64(1.732051))
    """
    n = groups.logs.shape[1]
    if not groups.hidden.any():  # the deviance of a mean is a function of t
        return np.asarray(student * groups.sigma / np.sqrt(n - 1.0), dtype=np.float64)
    shifts = np.array([censoring_shift(n, count) for count in range(n + 1)])
    shift = np.where(low, shifts[groups.hidden.sum(axis=1)], 0.0)
    wanted = np.sqrt(n * np.log1p(student**2 / (n - 1))) + shift
    sign = np.where(low, -1.0, 1.0)

    def excess(distance: FloatArray) -> FloatArray:
        held = _deviance(groups, groups.median + sign * distance)
        return np.asarray(np.sqrt(held) - wanted, dtype=np.float64)

    near, far = np.zeros(len(wanted)), groups.sigma / np.sqrt(n) * wanted
    below, above = -wanted, excess(far)
    for _ in range(WIDENINGS):
        short = above < 0.0
        if not short.any():
            break
        near, below = np.where(short, far, near), np.where(short, above, below)
        far = np.where(short, 1.7 * far, far)
        above = excess(far)
    is_open = above < 0.0
    side = np.zeros(len(wanted))
    for _ in range(ROUNDS):
        middle = near - below * (far - near) / np.where(is_open, 1.0, above - below)
        value = excess(middle)
        if (is_open | (np.abs(value) <= CLOSE)).all():
            break
        left = value < 0.0
        above = np.where(left & (side < 0.0), above / 2.0, np.where(left, above, value))
        below = np.where(~left & (side > 0.0), below / 2.0, np.where(left, value, below))
        near, far = np.where(left, middle, near), np.where(left, far, middle)
        side = np.where(left, -1.0, 1.0)
    return np.asarray(np.where(is_open, np.inf, middle), dtype=np.float64)


def told_apart(values: FloatArray, left_censored: BoolArray, confidence: float) -> BoolArray:
    """Tell in which campaigns the limits of the ratio of group 1 to group 0 leave equality out.

    Parameters
    ----------
    values : ndarray, shape (campaigns, 2, n)
        Logarithms of values or bounds [-]; each group has two seen ones that differ.
    left_censored : ndarray of bool, shape (campaigns, 2, n)
        Which values are bounds.
    confidence : float
        Confidence of the one comparison [-].

    Returns
    -------
    ndarray of bool, shape (campaigns,)
        As the limits of :func:`pinscar.stats.censored_groups.own_spread_ratio` say.

    References
    ----------
    As :func:`pinscar.stats.censored_groups.own_spread_ratio`.

    Examples
    --------
    >>> logs = np.array([[[0.0, 0.1, 0.2], [1.0, 1.1, 1.2]], [[0.0, 0.1, 0.2], [0.0, 0.1, 0.3]]])
    >>> hidden = np.array([[[True, False, False], [False] * 3]] * 2)
    >>> told_apart(logs, hidden, 0.95).tolist()
    [True, False]
    """
    if len(values) == 0:
        return np.zeros(0, dtype=bool)
    base, subject = (fit_groups_apart(values[:, i], left_censored[:, i]) for i in (0, 1))
    return apart(subject, base, confidence)


def apart(subject: Groups, base: Groups, confidence: float) -> BoolArray:
    """Tell in which campaigns the limits of the ratio of two fitted groups leave equality out.

    Parameters
    ----------
    subject, base : Groups
        From :func:`fit_groups_apart`; their runs may differ in number.
    confidence : float
        Confidence of the one comparison [-].

    Returns
    -------
    ndarray of bool, shape (campaigns,)
        As :func:`told_apart`.

    References
    ----------
    As :func:`pinscar.stats.censored_groups.own_spread_ratio`.

    Examples
    --------
    >>> base = fit_groups_apart(np.array([[0.0, 0.1, 0.2, 0.1]]), np.zeros((1, 4), dtype=bool))
    >>> subject = fit_groups_apart(np.array([[3.0, 3.1, 3.2]]), np.array([[True, False, False]]))
    >>> apart(subject, base, 0.95).tolist()
    [True]
    """
    dfs = (subject.logs.shape[1] - 1.0, base.logs.shape[1] - 1.0)
    outside = 1.0 - confidence
    difference = subject.median - base.median
    up = difference > 0.0

    def both(students: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
        return reaches(subject, up, students[0]), reaches(base, ~up, students[1])

    alone = [np.full(len(up), -float(stdtrit(df, outside / 2.0))) for df in dfs]
    first, second = both((alone[0], alone[1]))
    closed = np.isfinite(first) & np.isfinite(second)
    one = np.where(closed, first, 1.0) / alone[0]
    two = np.where(closed, second, 1.0) / alone[1]
    critical = guarded_critical(
        one**2 / (one**2 + two**2), dfs, outside, outward_factor(dfs, round(outside, 12))
    )
    return np.asarray(closed & (np.hypot(*both((critical, critical))) < np.abs(difference)), dtype=np.bool_)

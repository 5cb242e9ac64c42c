"""Several groups of left-censored runs: log-normal regression with one spread or each with its own."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtri, stdtrit

from pinscar.stats.block_layout import indicator_columns
from pinscar.stats.censored import (
    CensoredFit,
    censoring_shift,
    deviance_cut,
    deviance_p,
    fit_left_censored,
    fit_one_group,
    left_censored_median,
    profile_deviance,
    profile_limit,
)
from pinscar.stats.estimates import (
    censored_mask,
    check_confidence,
    from_log,
    on_scale,
    pulled_in,
    rounding_shift,
)
from pinscar.stats.two_groups import guarded_critical, outward_factor

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CensoredGroups:
    """Groups of left-censored runs fitted together, one location a group and one spread.

    Parameters
    ----------
    names : tuple of str
        The groups.
    logs : ndarray, shape (n,)
        Natural logarithms of all values [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    design : ndarray, shape (n, k)
        One indicator column a group [-].
    fit : CensoredFit
        The fit; one coefficient a group: the logarithm of its median [-].
    """

    names: tuple[str, ...]
    logs: FloatArray
    left_censored: NDArray[np.bool_]
    design: FloatArray
    fit: CensoredFit


@dataclass(frozen=True, slots=True, kw_only=True)
class CensoredRatio:
    """A ratio of two medians from groups fitted together.

    Parameters
    ----------
    ratio : float
        Median of the subject over median of the reference [-].
    low, high : float or None
        Calibrated limits [-]; None where that side is open.
    p : float
        Two-sided p-value of equal medians that belongs to these limits [-], not adjusted.
    profile_low, profile_high : float or None
        Limits by the large-sample cut [-].
    """

    ratio: float
    low: float | None
    high: float | None
    p: float
    profile_low: float | None
    profile_high: float | None


def fit_censored_groups(
    groups: Mapping[str, ArrayLike], left_censored: Mapping[str, ArrayLike]
) -> CensoredGroups:
    r"""Fit groups of left-censored runs together: log-normal, a median a group, one spread of the logarithms.

    .. math:: \ln x_{ij} = \mu_i + \sigma \epsilon_{ij}

    Parameters
    ----------
    groups : mapping of str to array_like
        Positive values of each group, in one unit; the limit where censored. Each group holds at least one
        run that is not censored, and one of them two such runs that differ.
    left_censored : mapping of str to array_like of bool
        True where the true value is at most the one recorded; a group that is left out has none.

    Returns
    -------
    CensoredGroups
        The data as stacked, and the fit.

    Raises
    ------
    ValueError
        If a group is wholly censored, the spread cannot be estimated, or the likelihood did not converge.

    References
    ----------
    Tobin, "Estimation of relationships for limited dependent variables", Econometrica 26 (1958) 24-36; Olsen,
    Econometrica 46 (1978) 1211-1215, for the only maximum.

    Examples
    --------
    >>> fitted = fit_censored_groups({"A": [90.0, 100.0, 110.0], "B": [120.0, 130.0, 150.0]}, {})
    >>> float(np.exp(fitted.fit.coefficients[0]).round(4))
    99.6655
    """
    logs = {name: on_scale(values, "log", name) for name, values in groups.items()}
    masks = {
        name: censored_mask(left_censored.get(name, np.zeros(y.size, dtype=np.bool_)), y.size, name)
        for name, y in logs.items()
    }
    observed = [np.unique(logs[name][~masks[name]]).size for name in logs]
    if min(observed) < 1:
        raise ValueError("every group must hold a run that is not censored, found one wholly censored")
    if max(observed) < 2:
        raise ValueError(
            "one group must hold two distinct uncensored values, found none: the spread is unknown"
        )
    stacked, mask = np.concatenate(list(logs.values())), np.concatenate(list(masks.values()))
    design = indicator_columns([name for name, y in logs.items() for _ in range(y.size)])
    fit = fit_left_censored(stacked, mask, design)
    if not fit.converged:
        raise ValueError("the likelihood of the censored groups must converge, found that it did not")
    return CensoredGroups(tuple(groups), stacked, mask, design, fit)


def ratio_deviance(groups: CensoredGroups, subject: str, reference: str, log_ratio: float) -> float:
    """Twice the drop of the log-likelihood when the ratio of two medians is held at a value.

    Parameters
    ----------
    groups : CensoredGroups
        From :func:`fit_censored_groups`.
    subject, reference : str
        The two groups.
    log_ratio : float
        Natural logarithm of the ratio held [-].

    Returns
    -------
    float
        The deviance [-], compared with a chi-square quantile of one degree of freedom.

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94.

    Examples
    --------
    >>> fitted = fit_censored_groups({"A": [90.0, 100.0, 110.0], "B": [120.0, 130.0, 150.0]}, {})
    >>> ratio_deviance(fitted, "B", "A", 0.0) > 3.84
    True
    """
    s, r = groups.names.index(subject), groups.names.index(reference)
    shifted = groups.logs - log_ratio * groups.design[:, s]
    merged = groups.design.copy()
    merged[:, r] += merged[:, s]
    held = fit_left_censored(shifted, groups.left_censored, np.delete(merged, s, axis=1))
    return 2 * (groups.fit.log_likelihood - held.log_likelihood)


def censored_ratio(
    groups: CensoredGroups, subject: str, reference: str, confidence: float = 0.95, step: float = 0.0
) -> CensoredRatio:
    """Ratio of the medians of two groups fitted together, with calibrated likelihood limits.

    It assumes independent log-normal runs with one spread in all groups. The deviance of the ratio is cut
    where it makes the interval of complete data that of the pooled t; the low end is shifted for the censored
    runs of the subject, the high end for those of the reference
    (:func:`pinscar.stats.censored.censoring_shift`).

    Parameters
    ----------
    groups : CensoredGroups
        From :func:`fit_censored_groups`.
    subject, reference : str
        The two groups.
    confidence : float
        Confidence of this one interval [-].
    step : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.

    Returns
    -------
    CensoredRatio
        Ratio, limits and the unadjusted p of equal medians; the limits leave 1 out exactly where p is below
        one minus the confidence.

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94, for the interval;
    :func:`pinscar.stats.censored.deviance_cut` for its cut and the test.

    Examples
    --------
    >>> values = {"A": [95.0, 100.0, 105.0], "B": [140.0, 145.0, 150.0]}
    >>> fitted = fit_censored_groups(values, {"B": [True, False, False]})
    >>> result = censored_ratio(fitted, "B", "A")
    >>> 1 < result.low < result.ratio < result.high, result.p < 0.05
    (True, True)
    """
    n, k = groups.logs.size, len(groups.names)
    s, r = groups.names.index(subject), groups.names.index(reference)
    centre = float(groups.fit.coefficients[s] - groups.fit.coefficients[r])
    counts = groups.design.sum(axis=0)
    hidden = groups.design[groups.left_censored].sum(axis=0)
    shifts = [censoring_shift(int(counts[i]), int(hidden[i])) for i in (s, r)]
    width = groups.fit.sigma * float(np.sqrt(1 / counts[s] + 1 / counts[r]))

    def plain_deviance(log_ratio: float) -> float:
        return ratio_deviance(groups, subject, reference, log_ratio)

    def deviance(log_ratio: float) -> float:
        return plain_deviance(pulled_in(log_ratio, centre, groups.fit.sigma, step, means=2))

    def limits(
        of: Callable[[float], float], low_cut: float, high_cut: float
    ) -> tuple[float | None, float | None]:
        ends = profile_limit(of, centre, -width, low_cut), profile_limit(of, centre, width, high_cut)
        return from_log(ends[0]), from_log(ends[1])

    plain = deviance_cut(confidence, n, k)
    low, high = limits(deviance, *(deviance_cut(confidence, n, k, "student", shift) for shift in shifts))
    # Equality lies below the estimate where the ratio exceeds 1: the low end decides there.
    p = deviance_p(deviance(0.0), n, k, shifts[0] if centre > 0 else shifts[1])
    profile_low, profile_high = limits(plain_deviance, plain, plain)
    return CensoredRatio(
        ratio=float(np.exp(centre)),
        low=low,
        high=high,
        p=p,
        profile_low=profile_low,
        profile_high=profile_high,
    )


def sign_test_error(n: int) -> float:
    """Chance that the median of a wholly censored group lies beyond all of its recorded limits.

    Parameters
    ----------
    n : int
        Number of runs, all censored.

    Returns
    -------
    float
        The chance [-], at most.

    References
    ----------
    Sign test; Conover, Practical Nonparametric Statistics, 3rd ed. 1999, section 3.4.

    Examples
    --------
    >>> sign_test_error(5)
    0.03125
    """
    return float(0.5**n)


def all_censored_ratio_bound(
    subject: ArrayLike,
    subject_censored: ArrayLike,
    reference: ArrayLike,
    reference_censored: ArrayLike,
    confidence: float = 0.95,
) -> tuple[float | None, float | None]:
    """Bound the ratio of two medians where one group is wholly left-censored.

    The wholly censored group's median lies below its largest recorded value by the sign test; the other's
    median above a one-sided limit (t on logs, or the calibrated likelihood limit where some of its runs are
    censored).
    The two errors add up to at most one minus the confidence (Bonferroni), so the bound holds whatever the
    spread of the wholly censored group.

    Parameters
    ----------
    subject, reference : array_like
        Positive values of the two groups, in one unit; the limit where censored.
    subject_censored, reference_censored : array_like of bool
        True where the true value is at most the one recorded; all of exactly one of the groups.
    confidence : float
        Confidence of the bound [-].

    Returns
    -------
    low, high : float or None
        Bound of the ratio subject over reference [-]: an upper one where the subject is wholly censored, a
        lower one where the reference is; the other side is None.

    Raises
    ------
    ValueError
        If not exactly one of the groups is wholly censored, if it has too few runs for the confidence, or if
        the other group gives no limit.

    References
    ----------
    Own derivation: sign test and one-sided limit joined by Bonferroni's inequality.

    Examples
    --------
    >>> low, high = all_censored_ratio_bound([80.0] * 6, [True] * 6, [95.0, 100.0, 105.0, 101.0], [False] * 4)
    >>> low is None, 80 / 95 < high < 1
    (True, True)
    """
    masks = [np.asarray(subject_censored, dtype=bool), np.asarray(reference_censored, dtype=bool)]
    if bool(masks[0].all()) == bool(masks[1].all()):
        raise ValueError("exactly one of the two groups must be wholly censored")
    hidden, seen, seen_mask = (
        (subject, reference, masks[1]) if masks[0].all() else (reference, subject, masks[0])
    )
    top = np.exp(on_scale(hidden, "log").max())
    left = 1 - check_confidence(confidence) - sign_test_error(np.size(hidden))
    if not left > 0:
        own = 1 - sign_test_error(np.size(hidden))
        raise ValueError(
            f"{np.size(hidden)} runs, all censored, bound a median with confidence {own:.4g} at most"
        )
    limit = left_censored_median(seen, seen_mask, 1 - 2 * left)
    if limit.estimate is None or limit.low is None:
        raise ValueError("the other group's median has no lower limit")
    return (None, float(top / limit.low)) if masks[0].all() else (float(limit.low / top), None)


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

    c is that of :func:`pinscar.stats.two_groups.guarded_critical` with the variances
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

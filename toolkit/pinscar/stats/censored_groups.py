"""Several groups of left-censored runs: log-normal regression with one spread, ratios of medians."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.block_layout import indicator_columns
from pinscar.stats.censored import (
    CensoredFit,
    censoring_shift,
    deviance_cut,
    deviance_p,
    fit_left_censored,
    left_censored_median,
    profile_limit,
)
from pinscar.stats.checks import censored_mask, check_confidence, from_log, on_scale
from pinscar.stats.rounding import pulled_in

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
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.rounding`.

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

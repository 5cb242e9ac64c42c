"""The median of one group of runs of which some are censored: log-normal likelihood, or a bound only."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.censored_likelihood import CensoredFit, fit_left_censored, profile_limit
from pinscar.stats.checks import censored_mask, check_confidence, from_log, on_scale
from pinscar.stats.deviance_cut import censoring_shift, deviance_cut
from pinscar.stats.estimate import Estimate
from pinscar.stats.intervals import geometric_mean

FloatArray = NDArray[np.float64]
METHOD = (
    "median by log-normal maximum likelihood with {side} censoring, likelihood interval calibrated to "
    "Student's t and by simulation"
)
BOUND = "bound only ({side}-censored, sign test)"


def left_censored_median(values: ArrayLike, left_censored: ArrayLike, confidence: float = 0.95) -> Estimate:
    r"""Median of runs of which some are known only to lie at or below the value recorded.

    Log-normal maximum likelihood, with the interval of all medians :math:`e^\mu` for which

    .. math:: 2 \left[ \ell(\hat\mu, \hat\sigma) - \max_\sigma \ell(\mu, \sigma) \right] \le c

    The cut c is that of :func:`pinscar.stats.deviance_cut.deviance_cut`: Student's, and further out at the
    low end by :func:`pinscar.stats.deviance_cut.censoring_shift`. Coverage for 3 to 8 runs was simulated and
    is kept in ``data/censored_coverage.csv``. The limits by the large-sample cut :math:`\chi^2_1` are given
    as ``profile_low`` and ``profile_high``.

    It assumes independent runs, log-normally distributed, and that being censored tells nothing beyond the
    limit itself. Without censored runs the result is the t interval of :func:`geometric_mean`. Where all runs
    are censored, or fewer than two distinct values were observed so that the likelihood has no proper
    maximum, the result is a bound: each true value is at most the recorded one, so the median lies below
    the largest recorded value unless all n true values lie above the median, which happens with
    probability :math:`0.5^n`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit; the limit where censored.
    left_censored : array_like of bool, shape (n,)
        True where the true value is at most the one recorded.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Estimate
        Median and interval in the unit of the values; ``sd`` is the maximum-likelihood standard deviation of
        the natural logarithms. For a bound ``estimate`` and ``low`` are None, ``high`` is the largest value
        and ``confidence`` is the bound's own, :math:`1 - 0.5^n`, which the note compares with the one asked.

    Raises
    ------
    ValueError
        If there are no values, one is not positive and finite, or the mask does not fit them.

    References
    ----------
    Cohen, "Tables for maximum likelihood estimates: singly truncated and singly censored samples",
    Technometrics 3 (1961) 535-541; Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94, for the
    interval. The example is manganese in ground water, USEPA Unified Guidance (2009), Example 15-1.

    Examples
    --------
    >>> ppb = [5, 12.1, 16.9, 21.6, 2, 5, 7.7, 53.6, 9.5, 45.9, 5, 5.3, 12.6, 106.3, 34.5,
    ...        6.3, 11.9, 10, 2, 77.2, 17.9, 22.7, 3.3, 8.4, 2]
    >>> below = [True] + [False] * 3 + [True] * 2 + [False] * 4 + [True] + [False] * 7 + [True]
    >>> below = below + [False] * 5 + [True]
    >>> result = left_censored_median(ppb, below)
    >>> [round(float(np.log(x)), 4) for x in (result.estimate, result.profile_low, result.profile_high)]
    [2.2159, 1.5951, 2.7712]
    >>> [round(float(np.log(x)), 4) for x in (result.low, result.high)]
    [1.5459, 2.7896]
    >>> left_censored_median([118.0, 125.0], [True, True]).high
    125.0
    """
    logs = on_scale(values, "log")
    mask = censored_mask(left_censored, logs.size)
    if not mask.any():
        return geometric_mean(values, confidence)
    plain = np.asarray(values, dtype=np.float64)
    return _censored_median(logs, plain, mask, check_confidence(confidence), "left")


def right_censored_median(values: ArrayLike, right_censored: ArrayLike, confidence: float = 0.95) -> Estimate:
    r"""Median of runs of which some are known only to lie at or above the value recorded.

    The mirror image of :func:`left_censored_median` on the log scale; for instance the quiet time of runs
    that never fell quiet, with their duration as the value. A bound is a lower one: the
    smallest value recorded.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit; the limit where censored.
    right_censored : array_like of bool, shape (n,)
        True where the true value is at least the one recorded.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Estimate
        Median and interval in the unit of the values, as from :func:`left_censored_median`. For a bound
        ``estimate`` and ``high`` are None and ``low`` is the smallest value.

    Raises
    ------
    ValueError
        If there are no values, one is not positive and finite, or the mask does not fit them.

    References
    ----------
    Schmee and Hahn, "A simple method for regression analysis with censored data", Technometrics 21 (1979)
    417-432, for the model; the interval as in :func:`left_censored_median`.

    Examples
    --------
    >>> result = right_censored_median([40.0, 55.0, 61.0, 90.0], [False, False, False, True])
    >>> result.low < result.estimate < result.high
    True
    >>> right_censored_median([90.0, 90.0], [True, True]).low
    90.0
    """
    logs = on_scale(values, "log")
    mask = censored_mask(right_censored, logs.size, "right_censored")
    if not mask.any():
        return geometric_mean(values, confidence)
    plain = np.asarray(values, dtype=np.float64)
    return _censored_median(-logs, plain, mask, check_confidence(confidence), "right")


def fit_one_group(log_values: ArrayLike, left_censored: ArrayLike) -> CensoredFit:
    """Maximum-likelihood mean and standard deviation of left-censored log values.

    Parameters
    ----------
    log_values : array_like, shape (n,)
        Natural logarithms [-], of which at least two observed ones differ.
    left_censored : array_like of bool, shape (n,)
        True where the true value is at most the one recorded.

    Returns
    -------
    CensoredFit
        ``coefficients[0]`` is the mean of the logarithms.

    References
    ----------
    Cohen, Technometrics 3 (1961) 535-541.

    Examples
    --------
    >>> fit = fit_one_group([0.0, 1.0, 2.0], [False, False, False])
    >>> round(float(fit.coefficients[0]), 9)
    1.0
    """
    logs = np.asarray(log_values, dtype=np.float64)
    return fit_left_censored(logs, np.asarray(left_censored, dtype=np.bool_), np.ones((logs.size, 1)))


def profile_deviance(
    log_values: FloatArray, left_censored: NDArray[np.bool_], location: float, fit: CensoredFit
) -> float:
    """Twice the drop of the log-likelihood when the mean of the logarithms is held at a value.

    Parameters
    ----------
    log_values : ndarray, shape (n,)
        Natural logarithms [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    location : float
        The mean of the logarithms held [-].
    fit : CensoredFit
        The unrestricted fit of the same values, from :func:`fit_one_group`.

    Returns
    -------
    float
        The deviance [-], compared with a chi-square quantile of one degree of freedom.

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94.

    Examples
    --------
    >>> y, mask = np.array([0.0, 1.0, 2.0]), np.zeros(3, dtype=bool)
    >>> round(float(profile_deviance(y, mask, 2.0, fit_one_group(y, mask)) / (3 * np.log(2.5))), 9)
    1.0
    """
    held = fit_left_censored(log_values - location, left_censored, np.zeros((log_values.size, 0)))
    return 2 * (fit.log_likelihood - held.log_likelihood)


def _censored_median(
    logs: FloatArray, values: FloatArray, mask: NDArray[np.bool_], confidence: float, side: str
) -> Estimate:
    if np.unique(logs[~mask]).size < 2:
        return _bound(values, mask, confidence, side, _why_no_fit(mask))
    fit = fit_one_group(logs, mask)
    if not fit.converged:
        return _bound(values, mask, confidence, side, "the likelihood did not converge")
    sign = 1 if side == "left" else -1
    n, n_censored = values.size, int(mask.sum())
    plain = deviance_cut(confidence, n, 1)
    shifted = deviance_cut(confidence, n, 1, "student", censoring_shift(n, n_censored))
    cuts = (shifted, deviance_cut(confidence, n, 1, "student"))
    low, high = _limits(logs, mask, fit, cuts, sign)
    profile_low, profile_high = _limits(logs, mask, fit, (plain, plain), sign)
    return Estimate(
        n=n,
        n_censored=n_censored,
        estimate=from_log(sign * float(fit.coefficients[0])),
        low=low,
        high=high,
        confidence=confidence,
        scale="log",
        sd=fit.sigma,
        df=None,
        method=METHOD.format(side=side),
        note=_open_side(low) if None in (low, high) else None,
        profile_low=profile_low,
        profile_high=profile_high,
    )


def _limits(
    logs: FloatArray, mask: NDArray[np.bool_], fit: CensoredFit, cuts: tuple[float, float], sign: int
) -> tuple[float | None, float | None]:
    centre = float(fit.coefficients[0])
    step = fit.sigma / np.sqrt(logs.size)

    def deviance(location: float) -> float:
        return profile_deviance(logs, mask, location, fit)

    found = (profile_limit(deviance, centre, -step, cuts[0]), profile_limit(deviance, centre, step, cuts[1]))
    # The logarithms of right-censored runs come with their signs turned, so their limits change places.
    low, high = (from_log(None if x is None else sign * x) for x in found[::sign])
    return low, high


def _open_side(low: float | None) -> str:
    side = "below" if low is None else "above"
    return f"the interval has no limit {side}: too few runs were observed for the spread to be bounded"


def _why_no_fit(mask: NDArray[np.bool_]) -> str:
    if mask.all():
        return "all runs are censored"
    if np.count_nonzero(~mask) == 1:
        return "only one run is not censored, so the spread cannot be estimated"
    return "all uncensored runs gave the same value, so the spread cannot be estimated"


def _bound(values: FloatArray, mask: NDArray[np.bool_], confidence: float, side: str, why: str) -> Estimate:
    own = 1 - 0.5**values.size
    low = None if side == "left" else float(values.min())
    high = float(values.max()) if side == "left" else None
    word = "below the largest" if side == "left" else "above the smallest"
    shortfall = f", which is less than the {confidence:.4g} asked for" if own < confidence else ""
    return Estimate(
        n=values.size,
        n_censored=int(mask.sum()),
        estimate=None,
        low=low,
        high=high,
        confidence=own,
        scale="log",
        sd=None,
        df=None,
        method=BOUND.format(side=side),
        note=f"{why}: the median lies {word} value with confidence {own:.4g}{shortfall}",
    )

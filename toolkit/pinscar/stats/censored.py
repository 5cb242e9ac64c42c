"""Left-censored runs of one group: likelihood, calibrated limits or a bound only, and runs completed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtri, log_ndtr, stdtr, stdtrit

from pinscar.stats.estimates import (
    Estimate,
    censored_mask,
    check_confidence,
    from_log,
    geometric_mean,
    on_scale,
    pulled_in,
)

FloatArray = NDArray[np.float64]
HALF_LOG_2PI = 0.5 * np.log(2 * np.pi)
MAX_STEPS = 200
DECREMENT = 1e-12  # the step taken from there squares it, far below rounding


@dataclass(frozen=True, slots=True)
class CensoredFit:
    """The maximum of the likelihood of a left-censored normal linear model of log values.

    Parameters
    ----------
    coefficients : ndarray, shape (k,)
        One a column of the design [-].
    sigma : float
        Standard deviation of the logarithms [-], maximum likelihood (not corrected for the coefficients).
    log_likelihood : float
        Log-likelihood of the logarithms at the maximum [-].
    converged : bool
        Whether Newton's method reached the maximum.
    """

    coefficients: FloatArray
    sigma: float
    log_likelihood: float
    converged: bool


def fit_left_censored(
    log_values: FloatArray, left_censored: NDArray[np.bool_], design: FloatArray
) -> CensoredFit:
    r"""Maximise the likelihood of a normal linear model of left-censored log values.

    With :math:`h = 1/\sigma`, :math:`\theta = h \beta` and :math:`r = h y - X \theta` the log-likelihood

    .. math:: \ell = \sum_{obs} (\ln h - r_i^2/2 - \tfrac12 \ln 2\pi) + \sum_{cens} \ln \Phi(r_i)

    is concave in :math:`(\theta, h)`, so damped Newton steps from any start reach its only maximum. The
    log values are first taken from their least-squares fit and scaled, which leaves the problem unchanged
    and well-conditioned.

    Parameters
    ----------
    log_values : ndarray, shape (n,)
        Natural logarithms of the values; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    design : ndarray, shape (n, k)
        Design matrix of full column rank [-]; k may be 0. A maximum exists where the observed values do not
        fit the design exactly.

    Returns
    -------
    CensoredFit
        Coefficients, standard deviation and log-likelihood on the scale of the logarithms given.

    References
    ----------
    Olsen, "Note on the uniqueness of the maximum likelihood estimator for the Tobit model", Econometrica 46
    (1978) 1211-1215, for the parameters in which the likelihood is concave.

    Examples
    --------
    Without censored values the estimates are the mean and the root mean square deviation.

    >>> y = np.array([1.0, 2.0, 3.0])
    >>> fit = fit_left_censored(y, np.zeros(3, dtype=bool), np.ones((3, 1)))
    >>> round(float(fit.coefficients[0]), 9), round(fit.sigma, 9)
    (2.0, 0.816496581)
    """
    shift: FloatArray = np.zeros(design.shape[1])
    if shift.size:
        shift = np.asarray(np.linalg.lstsq(design, log_values, rcond=None)[0], dtype=np.float64)
    residuals = log_values - design @ shift
    unit = float(np.sqrt(np.mean(residuals**2)))
    if not unit > 0:
        return CensoredFit(shift, 0.0, np.inf, False)
    theta, inverse, value, converged = _newton(residuals / unit, left_censored, design)
    sigma = unit / inverse
    n_observed = int(np.count_nonzero(~left_censored))
    return CensoredFit(shift + theta * sigma, sigma, float(value - n_observed * np.log(unit)), converged)


def _newton(
    y: FloatArray, left_censored: NDArray[np.bool_], design: FloatArray
) -> tuple[FloatArray, float, float, bool]:
    jacobian = np.column_stack([-design, y])
    parameters = np.zeros(jacobian.shape[1])
    parameters[-1] = 1.0
    value = _log_likelihood(jacobian @ parameters, parameters[-1], left_censored)
    for _ in range(MAX_STEPS):
        gradient, curvature = _derivatives(jacobian, parameters, left_censored)
        step = np.asarray(np.linalg.solve(curvature, gradient), dtype=np.float64)
        decrement = float(gradient @ step)
        if decrement < DECREMENT:
            parameters = parameters + step
            value = _log_likelihood(jacobian @ parameters, parameters[-1], left_censored)
            return parameters[:-1], float(parameters[-1]), value, True
        parameters, value, moved = _line_search(jacobian, parameters, step, value, left_censored)
        if not moved:
            break
    return parameters[:-1], float(parameters[-1]), value, False


def _derivatives(
    jacobian: FloatArray, parameters: FloatArray, left_censored: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    residuals = jacobian @ parameters
    inverse_mills = np.exp(-0.5 * residuals**2 - HALF_LOG_2PI - log_ndtr(residuals))
    score = np.where(left_censored, inverse_mills, -residuals)
    weight = np.where(left_censored, inverse_mills * (inverse_mills + residuals), 1.0)
    n_observed = np.count_nonzero(~left_censored)
    gradient = jacobian.T @ score
    gradient[-1] += n_observed / parameters[-1]
    curvature = (jacobian.T * weight) @ jacobian
    curvature[-1, -1] += n_observed / parameters[-1] ** 2
    return gradient, curvature


def _line_search(
    jacobian: FloatArray,
    parameters: FloatArray,
    step: FloatArray,
    value: float,
    left_censored: NDArray[np.bool_],
) -> tuple[FloatArray, float, bool]:
    length = 1.0
    for _ in range(60):
        trial = parameters + length * step
        if trial[-1] > 0:
            trial_value = _log_likelihood(jacobian @ trial, trial[-1], left_censored)
            if trial_value >= value:
                return trial, trial_value, True
        length /= 2
    return parameters, value, False


def _log_likelihood(residuals: FloatArray, inverse: float, left_censored: NDArray[np.bool_]) -> float:
    observed = residuals[~left_censored]
    density = observed.size * (np.log(inverse) - HALF_LOG_2PI) - 0.5 * observed @ observed
    return float(density + np.sum(log_ndtr(residuals[left_censored])))


def profile_limit(
    deviance: Callable[[float], float], start: float, step: float, cut: float, tolerance: float = 1e-13
) -> float | None:
    """Find where a deviance that rises away from its minimum reaches a cut.

    The bracket grows by doubling from the minimum; inside it Brent's method finds the crossing.

    Parameters
    ----------
    deviance : callable
        Twice the drop of the profile log-likelihood, as a function of the parameter [-].
    start : float
        The maximum-likelihood estimate, where the deviance is zero [-].
    step : float
        First width of the bracket; its sign tells the side [-].
    cut : float
        Value that the deviance must reach [-].
    tolerance : float
        How closely the crossing is found, absolute and relative [-].

    Returns
    -------
    float or None
        The parameter at the crossing; None where the deviance never gets there.

    References
    ----------
    Venzon and Moolgavkar, "A method for computing profile-likelihood-based confidence intervals", Applied
    Statistics 37 (1988) 87-94, for the interval; Brent, Algorithms for Minimization without Derivatives,
    1973.

    Examples
    --------
    >>> round(profile_limit(lambda x: x * x, 0.0, 0.1, 4.0), 9)
    2.0
    """
    inner = start
    for _ in range(80):
        outer = start + step
        if deviance(outer) > cut:
            return float(brentq(lambda x: deviance(x) - cut, inner, outer, xtol=tolerance, rtol=tolerance))
        inner, step = outer, 2 * step
    return None


Cut = Literal["chi-square", "student"]
SHIFT = 6.0  # the smallest round number that holds a one-sided error of 2.5 % in the simulation


def deviance_cut(
    confidence: float, n: int, locations: int, kind: Cut = "chi-square", shift: float = 0.0
) -> float:
    r"""Give the value at which the profile deviance of a location is cut.

    "chi-square" is the large-sample quantile with one degree of freedom. "student" is the cut that turns the
    profile interval of complete data into Student's t interval exactly. There the deviance of a location, or
    of a difference of two, is :math:`n \ln(1 + t^2/(n-k))` with k locations fitted, so that cut is

    .. math:: \left( \sqrt{n \ln\left(1 + t_{n-k}^2 / (n-k)\right)} + d \right)^2

    with the shift d of :func:`censoring_shift` at an end that rests on censored runs, and d = 0 elsewhere.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [-].
    n : int
        Number of runs fitted together, censored ones included [-].
    locations : int
        Number of locations (medians) fitted [-]; fewer than n.
    kind : {"chi-square", "student"}
        Which cut.
    shift : float
        How far the root of the Student cut lies further out [-].

    Returns
    -------
    float
        The cut [-].

    Raises
    ------
    ValueError
        If the kind is unknown or there are no more runs than locations.

    References
    ----------
    Wilks, Ann. Math. Statist. 9 (1938) 60-62, for chi-square. Own derivation for "student": the likelihood
    ratio of the normal mean is a function of t (Kendall and Stuart, The Advanced Theory of Statistics, vol.
    2, chapter 24). Its coverage with censored runs was simulated; see ``data/censored_coverage.csv``.

    Examples
    --------
    >>> round(deviance_cut(0.95, 5, 1), 4), round(deviance_cut(0.95, 5, 1, "student"), 4)
    (3.8415, 5.3702)
    """
    if kind == "chi-square":
        return float(chdtri(1, 1 - check_confidence(confidence)))
    if kind != "student":
        raise ValueError(f"kind must be 'chi-square' or 'student', found {kind!r}")
    df = n - locations
    if df < 1:
        raise ValueError(f"n must exceed the number of locations ({locations}), found {n}")
    t = float(stdtrit(df, 0.5 + check_confidence(confidence) / 2))
    return float((np.sqrt(n * np.log1p(t**2 / df)) + shift) ** 2)


def censoring_shift(n: int, n_censored: int) -> float:
    r"""Give the shift of the cut's root for an end that rests on a group's censored runs.

    With left-censored runs the low end of the median is the one that the hidden values would pull at. The
    signed root of the deviance of the true median is then no longer centred, and where runs happen to be seen
    that lie close together above the truth, the low end is too high. The shift

    .. math:: d = 6 f^2 / \sqrt{n}, \quad f = n_{cens}/n

    was chosen so that the simulated chance of a low end above the truth is at most 2.5 % at 95 % confidence,
    for 3 to 12 runs, 10 to 80 % censored, fixed and scattered limits, while the whole interval covers
    93 to 98 %.

    Parameters
    ----------
    n : int
        Runs of the group [-].
    n_censored : int
        How many of them are censored [-].

    Returns
    -------
    float
        The shift [-].

    References
    ----------
    Own derivation: fitted to simulation. That the signed root needs a shift of order one over root n is
    Barndorff-Nielsen, "Inference on full or partial parameters based on the standardized signed log
    likelihood ratio", Biometrika 73 (1986) 307-322.

    Examples
    --------
    >>> censoring_shift(5, 0), round(censoring_shift(4, 2), 2)
    (0.0, 0.75)
    """
    return float(SHIFT * (n_censored / n) ** 2 / np.sqrt(n))


def deviance_p(deviance: float, n: int, locations: int, shift: float = 0.0) -> float:
    """Give the two-sided p of a location, by inverting the interval that :func:`deviance_cut` makes.

    Parameters
    ----------
    deviance : float
        Profile deviance of the location that is tested [-].
    n, locations : int
        Runs and locations fitted together [-].
    shift : float
        Shift of the end that points to the location tested [-].

    Returns
    -------
    float
        The p [-]: below one minus the confidence exactly where the interval leaves the location out.

    References
    ----------
    Own derivation: the cut of :func:`deviance_cut` solved for its confidence.

    Examples
    --------
    >>> round(deviance_p(deviance_cut(0.99, 6, 2, "student", 0.3), 6, 2, 0.3), 12)
    0.01
    """
    root = max(float(np.sqrt(max(deviance, 0.0))) - shift, 0.0)
    df = n - locations
    t = np.sqrt(df * np.expm1(root**2 / n))
    return float(2 * stdtr(df, -t))


METHOD = (
    "median by log-normal maximum likelihood with {side} censoring, likelihood interval calibrated to "
    "Student's t and by simulation"
)
BOUND = "bound only ({side}-censored, sign test)"


def left_censored_median(
    values: ArrayLike, left_censored: ArrayLike, confidence: float = 0.95, step: float = 0.0
) -> Estimate:
    r"""Median of runs of which some are known only to lie at or below the value recorded.

    Log-normal maximum likelihood, with the interval of all medians :math:`e^\mu` for which

    .. math:: 2 \left[ \ell(\hat\mu, \hat\sigma) - \max_\sigma \ell(\mu, \sigma) \right] \le c

    The cut c is that of :func:`pinscar.stats.censored.deviance_cut`: Student's, and further out at the
    low end by :func:`pinscar.stats.censored.censoring_shift`. Coverage for 3 to 8 runs was simulated and
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
        Positive values, one per run, in any unit; the limit where censored.
    left_censored : array_like of bool, shape (n,)
        True where the true value is at most the one recorded.
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.

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
        return geometric_mean(values, confidence, step)
    plain = np.asarray(values, dtype=np.float64)
    return _censored_median(logs, plain, mask, check_confidence(confidence), "left", step)


def right_censored_median(
    values: ArrayLike, right_censored: ArrayLike, confidence: float = 0.95, step: float = 0.0
) -> Estimate:
    r"""Median of runs of which some are known only to lie at or above the value recorded.

    The mirror image of :func:`left_censored_median` on the log scale; for instance the quiet time of runs
    that never fell quiet, with their duration as the value. A bound is a lower one: the
    smallest value recorded.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one per run, in any unit; the limit where censored.
    right_censored : array_like of bool, shape (n,)
        True where the true value is at least the one recorded.
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.

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
        return geometric_mean(values, confidence, step)
    plain = np.asarray(values, dtype=np.float64)
    return _censored_median(-logs, plain, mask, check_confidence(confidence), "right", step)


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
    logs: FloatArray, values: FloatArray, mask: NDArray[np.bool_], confidence: float, side: str, step: float
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
    low, high = _limits(logs, mask, fit, cuts, sign, step)
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
    logs: FloatArray,
    mask: NDArray[np.bool_],
    fit: CensoredFit,
    cuts: tuple[float, float],
    sign: int,
    rounded: float = 0.0,
) -> tuple[float | None, float | None]:
    centre = float(fit.coefficients[0])
    step = fit.sigma / np.sqrt(logs.size)

    def deviance(location: float) -> float:
        return profile_deviance(logs, mask, pulled_in(location, centre, fit.sigma, rounded), fit)

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


BoolArray = NDArray[np.bool_]


def completed_runs(
    logs: FloatArray, left_censored: BoolArray, means: FloatArray, sd: float
) -> tuple[FloatArray, FloatArray]:
    r"""Put the expected value of a normal below its limit in place of each limit.

    .. math:: E = \mu - s\,h(z), \quad V = s^2 [1 - h(z)(z + h(z))], \quad z = (c - \mu)/s, \quad
              h = \varphi / \Phi

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    means : ndarray, shape (n,)
        Mean of each run by the fit [-].
    sd : float
        Standard deviation of a run about it [-].

    Returns
    -------
    tuple of two ndarray, shape (n,)
        The completed logarithms, and the variance V of each that is not known; 0 where it was observed [-].

    References
    ----------
    Dempster, Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3; moments of the truncated normal
    as Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, 2nd ed. 1994, section 13.10.1.

    Examples
    --------
    Half a standard normal: its mean is minus the root of 2 / pi, its variance 1 - 2 / pi.

    >>> logs, lost = completed_runs(np.zeros(1), np.ones(1, bool), np.zeros(1), 1.0)
    >>> round(float(logs[0]), 6), round(float(lost[0]), 6)
    (-0.797885, 0.36338)
    """
    z = (logs - means) / sd
    mills = np.exp(-0.5 * z**2 - HALF_LOG_2PI - log_ndtr(z))
    values = np.where(left_censored, means - sd * mills, logs)
    lost = np.where(left_censored, sd**2 * (1.0 - mills * (z + mills)), 0.0)
    return np.asarray(values, dtype=np.float64), np.asarray(lost, dtype=np.float64)

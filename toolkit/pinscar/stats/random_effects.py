"""Random-effects combination of ratios from several campaigns: one spread between campaigns for all oils."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, fdtrc, ndtr

from pinscar.stats.uncertainty import t_factor

Group = tuple[ArrayLike, ArrayLike]  # estimates and their standard errors


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """Estimates of several campaigns combined.

    Parameters
    ----------
    k : int
        Number of campaigns.
    estimate, standard_error : float
        Combined estimate and its standard error.
    low, high : float
        Confidence limits.
    df : float
        Degrees of freedom of the t interval.
    confidence : float
        Two-sided confidence.
    between_sd : float or None
        Standard deviation between campaigns; None where it cannot be estimated.
    prediction_low, prediction_high : float or None
        Limits for the true value in one more campaign; None where the spread rests on fewer than two degrees
        of freedom.
    q, q_p : float or None
        Sum of squares for heterogeneity and its probability; None for one campaign.
    method : str
        What was done, as a report prints it.
    note : str or None
        A plain sentence where the result rests on little.
    """

    k: int
    estimate: float
    standard_error: float
    low: float
    high: float
    df: float
    confidence: float
    between_sd: float | None
    prediction_low: float | None
    prediction_high: float | None
    q: float | None
    q_p: float | None
    method: str
    note: str | None


def between_variance(groups: Sequence[Group]) -> float:
    r"""Estimate the variance between campaigns by Paule and Mandel, for one lubricant or shared by several.

    The variance is the root of

    .. math:: \sum_j \sum_i \frac{(y_{ij} - \bar y_j)^2}{s_{ij}^2 + \tau^2} = \sum_j (k_j - 1)

    with the weighted mean of each group, and zero where the sum is smaller than that already at zero.

    Parameters
    ----------
    groups : sequence of (array_like, array_like)
        For each lubricant its estimates and their standard errors [any one unit]; at least one has two or
        more.

    Returns
    -------
    float
        Variance between campaigns [unit squared].

    Raises
    ------
    ValueError
        Where no group has two estimates, or a standard error is not positive.

    References
    ----------
    R. C. Paule and J. Mandel, Consensus values and weighting factors, 1982; the sum over several groups with
    one variance is own derivation, the same moment equation.

    Examples
    --------
    >>> round(between_variance([([0.0, 1.0], [0.1, 0.1])]), 9)
    0.49
    """
    arrays = _checked(groups)
    return _root(arrays, float(sum(y.size - 1 for y, _ in arrays)))


def random_effects(
    estimates: ArrayLike,
    standard_errors: ArrayLike,
    confidence: float = 0.95,
    *,
    shared_with: Sequence[Group] = (),
    within_df: float = math.inf,
) -> Combination:
    r"""Combine the estimates of several campaigns, each with its standard error.

    .. math:: \hat\mu = \frac{\sum w_i y_i}{\sum w_i}, \quad w_i = \frac{1}{s_i^2 + \tau^2}, \quad
              \hat\mu \pm t_\nu \sqrt{\max(1, q) / \sum w_i}

    with the variance between campaigns by Paule and Mandel and q the weighted mean square about the mean
    (Hartung and Knapp, never under 1), nu = k - 1. Where other lubricants share the campaigns, their scatter
    may serve for one common variance: nu is then the sum of all k_j - 1. One campaign alone, with no scatter
    to borrow, has the t interval of its own standard error, which says nothing about other campaigns.
    Estimates are taken as normal, their standard errors as known.

    Parameters
    ----------
    estimates : array_like
        Estimate of each campaign, such as a log ratio to the reference [any one unit], shape (k,).
    standard_errors : array_like
        Their standard errors [the same], shape (k,), positive.
    confidence : float
        Two-sided confidence [-].
    shared_with : sequence of (array_like, array_like)
        Estimates and standard errors of the other lubricants [the same]; none for a variance of its own.
    within_df : float
        Degrees of freedom of a single campaign's standard error [-]; used for one campaign alone.

    Returns
    -------
    Combination
        Estimate, interval, standard deviation between campaigns and prediction limits.

    Raises
    ------
    ValueError
        Where there is no estimate, lengths differ or a standard error is not positive.

    References
    ----------
    R. C. Paule and J. Mandel, 1982; J. Hartung and G. Knapp, A refined method for the meta-analysis of
    controlled clinical trials with binary outcome, 2001; C. Rover, G. Knapp and T. Friede,
    Hartung-Knapp-Sidik-Jonkman approach and its modification for random-effects meta-analysis with few
    studies, 2015 (the floor at 1).

    Examples
    --------
    >>> result = random_effects([0.1, 0.3, 0.2], [0.05, 0.05, 0.05])
    >>> round(result.estimate, 3), round(result.between_sd, 3)
    (0.2, 0.087)
    """
    y, s = _arrays(estimates, standard_errors)
    groups = [(y, s), *shared_with]
    df = sum(np.asarray(group[0]).size - 1 for group in groups)
    tau2 = between_variance(groups) if df > 0 else None
    weights = 1.0 / (s**2 + (tau2 or 0.0))
    mean = float(np.sum(weights * y) / np.sum(weights))
    own_scatter = float(np.sum(weights * (y - mean) ** 2)) / (y.size - 1) if y.size > 1 else 1.0
    error = math.sqrt((1.0 if shared_with else max(1.0, own_scatter)) / float(np.sum(weights)))
    nu = float(df) if df > 0 else within_df
    half = t_factor(nu, confidence)
    reach = None if tau2 is None or df < 2 else half * math.sqrt(tau2 + error**2)
    q, q_p = _heterogeneity(y, s)
    return Combination(
        k=y.size,
        estimate=mean,
        standard_error=error,
        low=mean - half * error,
        high=mean + half * error,
        df=nu,
        confidence=confidence,
        between_sd=None if tau2 is None else math.sqrt(tau2),
        prediction_low=None if reach is None else mean - reach,
        prediction_high=None if reach is None else mean + reach,
        q=q,
        q_p=q_p,
        method=_method(df, bool(shared_with)),
        note=_note(y.size, df),
    )


_Arrays = tuple[NDArray[np.float64], NDArray[np.float64]]


def _arrays(estimates: ArrayLike, standard_errors: ArrayLike) -> _Arrays:
    y, s = np.asarray(estimates, dtype=np.float64), np.asarray(standard_errors, dtype=np.float64)
    if y.ndim != 1 or y.shape != s.shape or y.size == 0:
        raise ValueError(f"estimates {y.shape} and standard_errors {s.shape} must be rows of equal length")
    if not bool(np.all(s > 0.0)) or not bool(np.all(np.isfinite(y))):
        raise ValueError("estimates must be finite and standard errors positive")
    return y, s


def _checked(groups: Sequence[Group]) -> list[_Arrays]:
    arrays = [_arrays(*group) for group in groups]
    if not any(y.size > 1 for y, _ in arrays):
        raise ValueError("no lubricant was run in two campaigns: the spread between them cannot be estimated")
    return arrays


def _sum_of_squares(groups: Sequence[_Arrays]) -> Callable[[float], float]:
    def at(tau2: float) -> float:
        total = 0.0
        for y, s in groups:
            w = 1.0 / (s**2 + tau2)
            total += float(np.sum(w * (y - np.sum(w * y) / np.sum(w)) ** 2))
        return total

    return at


def _root(groups: Sequence[_Arrays], target: float) -> float:
    """Variance at which the falling sum of squares reaches the target; zero where it is under it at once."""
    at = _sum_of_squares(groups)
    if at(0.0) <= target:
        return 0.0
    high = max(float(np.max(s)) for _, s in groups) ** 2
    while at(high) > target:
        high *= 4.0
    return float(brentq(lambda tau2: at(tau2) - target, 0.0, high, xtol=1e-14, rtol=1e-12))


def _heterogeneity(y: NDArray[np.float64], s: NDArray[np.float64]) -> tuple[float | None, float | None]:
    if y.size < 2:
        return None, None
    q = _sum_of_squares([(y, s)])(0.0)
    return q, float(chdtrc(y.size - 1, q))


def _method(df: int, shared: bool) -> str:
    if df == 0:
        return "one campaign, t interval of its own spread"
    if shared:
        return "random effects, Paule-Mandel variance shared by all lubricants, t interval"
    return "random effects, Paule-Mandel variance, Hartung-Knapp interval (factor at least 1)"


def _note(k: int, df: int) -> str | None:
    if df == 0:
        return "One campaign: the spread between campaigns is not in the interval."
    if k == 1:
        return "One campaign: the spread between campaigns is taken from the other lubricants."
    if df < 3:
        return "The spread between campaigns rests on very few of them: the interval is wide."
    return None


SHARED = 0.25
"""Squared correlation of two oils' log ratios in a campaign: half of each variance is the reference's."""
UNLIKELY = 0.025
"""Probability of the scatter below which ratios are taken to agree by chance."""
_BETWEEN, _WITHIN = 301, 61
_TABLE = 400


@dataclass(frozen=True, slots=True)
class OilInCampaigns:
    """Log ratios of one oil to the reference.

    Parameters
    ----------
    campaigns : tuple of str
        Where it ran beside the reference.
    log_ratio : tuple of float
        Difference of the mean logarithms there.
    runs_factor : tuple of float
        Sum of the reciprocal numbers of runs, 1/n + 1/n0: the variance of the log ratio within the campaign
        is that of one run times this.
    """

    campaigns: tuple[str, ...]
    log_ratio: tuple[float, ...]
    runs_factor: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class JointFit:
    """All oils of a range, fitted together.

    Parameters
    ----------
    combinations : dict of str to Combination
        For each oil its ratio on the log scale with intervals.
    between_sd : float
        Standard deviation of an oil's true log ratio between campaigns.
    between_low, between_high : float
        Its confidence limits.
    df : float
        Effective degrees of freedom of the scatter between campaigns.
    """

    combinations: dict[str, Combination]
    between_sd: float
    between_low: float
    between_high: float
    df: float


def fit_shared_reference(
    oils: Mapping[str, OilInCampaigns], run_variance: float, run_df: float, confidence: float = 0.95
) -> JointFit:
    r"""Combine the log ratios of all oils, with one spread between campaigns and one between runs.

    The log ratio of oil j in campaign i has the variance :math:`\tau^2 + \sigma^2 h_{ij}`, with
    :math:`h = 1/n + 1/n_0`. The spread :math:`\tau` between campaigns is Paule and Mandel's over all oils,

    .. math:: Q(\tau^2) = \sum_j \sum_i \frac{(y_{ij} - \bar y_j)^2}{\tau^2 + s^2 h_{ij}} = K, \quad
              K = \sum_j (k_j - 1)

    and the variance of an oil's mean is :math:`\varphi / \sum_i (\tau^2 + s^2 h_{ij})^{-1}`, where
    :math:`\varphi = \min(1, Q(0)/K)` lets ratios that scatter less than their runs promise keep that scatter,
    but for the 2.5 % that chance does not reach: phi is never below that quantile of F on nu and f, so that
    ratios that happen to agree to the last digit make no interval of no width.

    Ratios of one campaign share its reference: where all oils scatter alike, two of them correlate by one
    half, and Q rests on fewer degrees of freedom than K,

    .. math:: \nu = \frac{K^2}{\sum_{j,l} \rho_{jl}^2 \operatorname{tr}(P_j P_l)}, \quad \rho_{jl}^2 = 1/4
              \;\text{for}\; j \neq l

    with P_j the centring over the campaigns of oil j. The interval of a ratio is that of Student's t on nu.
    The limits of :math:`\tau`, and of the true ratio in one more campaign, follow from the generalised pivots
    :math:`\sigma^2 \sim s^2 f/\chi^2_f` and :math:`Q \nu/K \sim \chi^2_\nu`, summed over a grid of both. For
    equal numbers of runs and one oil the t interval is exact.

    Parameters
    ----------
    oils : mapping of str to OilInCampaigns
        The oils; at least one ran in two campaigns.
    run_variance : float
        Variance s^2 of one run's logarithm, pooled over all campaigns [-], above 0.
    run_df : float
        Its degrees of freedom f [-].
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    JointFit
        Ratios, spread between campaigns, and their limits.

    Raises
    ------
    ValueError
        Where no oil ran in two campaigns or the variance is not positive.

    References
    ----------
    R. C. Paule and J. Mandel, 1982; J. Hartung and G. Knapp, 2001 (scaled variance of the mean);
    F. E. Satterthwaite, 1946 (degrees of freedom); S. Weerahandi, Generalized confidence intervals, 1993. The
    sum over oils that share a reference: own derivation, coverage by simulation in tests/stats.

    Examples
    --------
    One oil in three campaigns of five runs each, where the interval is the plain t interval of three numbers:

    >>> oil = OilInCampaigns(("1", "2", "3"), (0.1, 0.3, 0.2), (0.4, 0.4, 0.4))
    >>> fit = fit_shared_reference({"C": oil}, 0.01, 24)
    >>> [round(x, 4) for x in (fit.combinations["C"].low, fit.combinations["C"].high, fit.df)]
    [-0.0484, 0.4484, 2.0]
    """
    if not run_variance > 0.0:
        raise ValueError(f"run_variance must be above zero, found {run_variance:g}")
    parts = [_Part(np.array(oil.log_ratio), np.array(oil.runs_factor)) for oil in oils.values()]
    freedom = sum(part.y.size - 1 for part in parts)
    if freedom < 1:
        raise ValueError("no lubricant was run in two campaigns: the spread between them cannot be estimated")
    nu = freedom**2 / _correlated(list(oils.values()))
    r = _ratio_of_variances(parts, run_variance * freedom)
    least = run_variance * float(stats.f.ppf(UNLIKELY, nu, run_df))
    scale = run_variance if r > 0.0 else max(_q(parts, 0.0) / freedom, least)
    draws = _pivots(parts, freedom, nu, run_variance, run_df)
    tail = (1.0 - confidence) / 2.0
    low, high = (_between_limit(p, parts, freedom, nu, run_variance, run_df) for p in (tail, 1.0 - tail))
    pooled = math.sqrt(run_variance * r)
    combinations = {
        name: _combination(part, r, scale, nu, freedom, run_variance, run_df, pooled, confidence, draws)
        for name, part in zip(oils, parts, strict=True)
    }
    return JointFit(combinations, pooled, math.sqrt(low), math.sqrt(high), nu)


@dataclass(frozen=True, slots=True)
class _Part:
    y: NDArray[np.float64]
    h: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Pivots:
    between: NDArray[np.float64]
    within: NDArray[np.float64]


def _q(parts: Sequence[_Part], r: float) -> float:
    total = 0.0
    for part in parts:
        w = 1.0 / (r + part.h)
        total += float(np.sum(w * (part.y - np.sum(w * part.y) / np.sum(w)) ** 2))
    return total


def _correlated(oils: Sequence[OilInCampaigns]) -> float:
    total = 0.0
    for j, one in enumerate(oils):
        for other_j, other in enumerate(oils):
            k, m = len(one.campaigns), len(other.campaigns)
            both = len(set(one.campaigns) & set(other.campaigns))
            trace = both - both / k - both / m + both**2 / (k * m)
            total += trace if j == other_j else SHARED * trace
    return total


def _ratio_of_variances(parts: Sequence[_Part], target: float) -> float:
    """Find the variance between campaigns over that of a run at which the sum of squares meets the target."""
    if _q(parts, 0.0) <= target:
        return 0.0
    high = 1.0
    while _q(parts, high) > target:
        high *= 4.0
    return float(brentq(lambda r: _q(parts, r) - target, 0.0, high, xtol=1e-14, rtol=1e-12))


def _between_limit(
    probability: float, parts: Sequence[_Part], freedom: int, nu: float, run_variance: float, run_df: float
) -> float:
    """Give the variance between campaigns that the pivots leave with this probability below it."""
    within = run_variance * run_df / chdtri(run_df, (np.arange(_WITHIN) + 0.5) / _WITHIN)

    def below(variance: float) -> float:
        squares = np.array([_q(parts, variance / one) / one for one in within])
        return float(np.mean(chdtrc(nu, squares * nu / freedom))) - probability

    if below(0.0) >= 0.0:
        return 0.0
    high = run_variance
    while below(high) < 0.0:
        high *= 4.0
    return float(brentq(below, 0.0, high, xtol=1e-14, rtol=1e-9))


def _pivots(parts: Sequence[_Part], freedom: int, nu: float, run_variance: float, run_df: float) -> _Pivots:
    chi = chdtri(nu, (np.arange(_BETWEEN) + 0.5) / _BETWEEN)[:, None]
    within = run_variance * run_df / chdtri(run_df, (np.arange(_WITHIN) + 0.5) / _WITHIN)[None, :]
    target = (within * freedom / nu * chi).ravel()
    # The sum of squares falls with r, as 1/r beyond all h: log r over its logarithm is nearly straight.
    end = 4.0 * _q(parts, 0.0) * max(float(part.h.max()) for part in parts) / float(target.min()) + 1.0
    grid = np.concatenate([[0.0], np.geomspace(1e-6, end, _TABLE)])
    sums = np.array([_q(parts, r) for r in grid])
    if sums[0] <= 1e-12 * float(target.min()):
        ratio = np.zeros_like(target)
    else:
        logs = np.log(np.maximum(grid, 1e-7))
        ratio = np.exp(np.interp(-np.log(target), -np.log(sums), logs))
        ratio = np.where(target >= sums[0], 0.0, ratio)
    sigma = np.broadcast_to(within, (_BETWEEN, _WITHIN)).ravel()
    return _Pivots(ratio * sigma, sigma)


def _combination(
    part: _Part,
    r: float,
    scale: float,
    nu: float,
    freedom: int,
    run_variance: float,
    run_df: float,
    between: float,
    confidence: float,
    draws: _Pivots,
) -> Combination:
    w = 1.0 / (r + part.h)
    mean = float(np.sum(w * part.y) / np.sum(w))
    error = math.sqrt(scale / float(np.sum(w)))
    half = t_factor(nu, confidence) * error
    reach = _reach(part, draws, confidence) if freedom >= 2 else None
    k = part.y.size
    q = _q([part], 0.0) / run_variance if k > 1 else None
    return Combination(
        k=k,
        estimate=mean,
        standard_error=error,
        low=mean - half,
        high=mean + half,
        df=nu,
        confidence=confidence,
        between_sd=between,
        prediction_low=None if reach is None else mean - reach,
        prediction_high=None if reach is None else mean + reach,
        q=q,
        q_p=None if q is None else float(fdtrc(k - 1, run_df, q / (k - 1))),
        method="random effects, one Paule-Mandel variance for all lubricants, shared reference, t interval",
        note=_shared_note(k, freedom),
    )


def _reach(part: _Part, draws: _Pivots, confidence: float) -> float:
    """Give the distance from the mean within which the true value of one more campaign lies."""
    weights = np.sum(1.0 / (draws.between[:, None] + draws.within[:, None] * part.h), axis=1)
    spread = np.sqrt(draws.between + 1.0 / weights)
    wanted = (1.0 - confidence) / 2.0
    high = float(spread.max()) * 10.0
    return float(brentq(lambda x: float(np.mean(ndtr(-x / spread))) - wanted, 0.0, high, rtol=1e-10))


def _shared_note(k: int, freedom: int) -> str | None:
    if k == 1:
        return "One campaign: the spread between campaigns is taken from the other lubricants."
    if freedom < 3:
        return "The spread between campaigns rests on very few of them: the interval is wide."
    return None

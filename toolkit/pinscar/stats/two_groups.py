"""Two groups compared: pooled t, paired t, and Welch guarded so that its error never passes what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import roots_jacobi, stdtr, stdtrit

from pinscar.stats.estimates import (
    VariancePrior,
    check_confidence,
    finite_vector,
    least_variance,
    moderated,
    rounding_shift,
)

FloatArray = NDArray[np.float64]
NODES = 48
STEP, MOST = 0.02, 3.0
"""Step in which the outward factor is looked for, and the largest one."""
LARGE = 200.0
"""Degrees of freedom of both groups from which on Welch's own are good to the third digit of the error."""
LOGITS = np.linspace(-7.0, 7.0, 57)


def guarded_critical(
    share: ArrayLike, dfs: tuple[float, float], alpha: float, outward: float | None, link: float = 0.0
) -> FloatArray:
    r"""Give the two-sided critical value of Welch's statistic, guarded against a share found by chance.

    With :math:`W = v_1/(v_1 + v_2)`, the share of the first group in the variance of the difference, Welch's
    degrees of freedom are :math:`1/\nu(W) = W^2/f_1 + (1 - W)^2/f_2`, largest at
    :math:`W_* = f_1/(f_1 + f_2)`. The W found scatters, and where the true one lies further from
    :math:`W_*` the degrees of freedom come out too large. So W is first taken outward,

    .. math:: W' = W_* + (1 + \kappa)(W - W_*) \text{, between 0 and 1}, \qquad c = t(\nu(W'))

    with :math:`\kappa` from :func:`outward_factor`. Where no :math:`\kappa` will do,
    :math:`c^2 = W t^2(f_1) + (1 - W) t^2(f_2)`, which is proven to hold.

    Within blocks both variances come from the same residuals, which adds :math:`2 W (1 - W)\, l` to
    :math:`1/\nu` and moves :math:`W_*`.

    Parameters
    ----------
    share : array_like
        W [-].
    dfs : tuple of float
        Degrees of freedom of both variances [-].
    alpha : float
        Error of both sides together [-].
    outward : float or None
        The factor :math:`\kappa` [-]; None takes the proven bound.
    link : float
        l, from :func:`pinscar.stats.within_blocks.within_blocks` [-]; 0 for independent variances.

    Returns
    -------
    ndarray
        The critical value [-].

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; the bound: Banerjee, "Approximate confidence interval for linear
    functions of means of k populations when the population variances are not equal", Sankhya 22 (1960)
    357-358. The outward factor is an own derivation.

    Examples
    --------
    At balance the degrees of freedom are all four, at the edge two.

    >>> guarded_critical([0.5, 0.99], (2.0, 2.0), 0.05, 0.32).round(3)
    array([2.776, 4.303])
    """
    w = np.asarray(share, dtype=np.float64)
    first, second = dfs
    if outward is None:
        t1, t2 = (np.minimum(-stdtrit(df, alpha / 2.0), 1e150) for df in dfs)
        return np.asarray(np.sqrt(w * t1**2 + (1.0 - w) * t2**2), dtype=np.float64)
    bend = 1.0 / first + 1.0 / second - 2.0 * link
    # Paired runs have one number of degrees of freedom whatever W is: then no place is best.
    best = float(np.clip((1.0 / second - link) / bend, 0.0, 1.0)) if bend > 1e-9 / first else 0.5
    taken = np.clip(best + (1.0 + outward) * (w - best), 0.0, 1.0)
    inverse = taken**2 / first + 2.0 * taken * (1.0 - taken) * link + (1.0 - taken) ** 2 / second
    return np.asarray(-stdtrit(1.0 / inverse, alpha / 2.0), dtype=np.float64)


@lru_cache(maxsize=1024)
def outward_factor(dfs: tuple[float, float], alpha: float) -> float | None:
    r"""Find the smallest outward factor with which the error holds for every ratio of the true spreads.

    The error at a true share :math:`\theta` needs one integral: with :math:`B` of the Beta distribution with
    parameters :math:`f_1/2, f_2/2` the statistic's square is that of t with :math:`f_1 + f_2` degrees of
    freedom over :math:`(f_1 + f_2)(\theta B/f_1 + (1 - \theta)(1 - B)/f_2)`, and W is a function of B.

    Parameters
    ----------
    dfs : tuple of float
        Degrees of freedom of both variances [-], positive.
    alpha : float
        Error of both sides together [-].

    Returns
    -------
    float or None
        The factor [-], a multiple of 0.02; None where none up to 3 will do.

    References
    ----------
    Own derivation: the ratio of two independent chi-squares is independent of their sum (Johnson, Kotz and
    Balakrishnan, Continuous Univariate Distributions, vol. 2, chapter 25); Gauss-Jacobi quadrature.

    Examples
    --------
    >>> outward_factor((2.0, 2.0), 0.05), outward_factor((7.0, 7.0), 0.05), outward_factor((1.0, 7.0), 0.05)
    (0.32, 0.08, None)
    """
    if min(dfs) >= LARGE:
        return 0.0
    low, high = 0, round(MOST / STEP)
    if largest_error(dfs, alpha, high * STEP) > alpha:
        return None
    if largest_error(dfs, alpha, 0.0) <= alpha:
        return 0.0
    while high - low > 1:
        middle = (low + high) // 2
        if largest_error(dfs, alpha, middle * STEP) > alpha:
            low = middle
        else:
            high = middle
    return round(high * STEP, 2)


def largest_error(dfs: tuple[float, float], alpha: float, outward: float | None) -> float:
    """Give the largest error of the guarded limits over all ratios of the true spreads.

    Parameters
    ----------
    dfs : tuple of float
        Degrees of freedom of both variances [-], positive.
    alpha : float
        Error that is asked for, both sides together [-].
    outward : float or None
        The factor as in :func:`guarded_critical` [-].

    Returns
    -------
    float
        Error of both sides together [-].

    References
    ----------
    As :func:`outward_factor`.

    Examples
    --------
    Welch's own degrees of freedom give 5.9 % for two groups of three runs.

    >>> round(largest_error((2.0, 2.0), 0.05, 0.0), 3), largest_error((2.0, 2.0), 0.05, 0.32) <= 0.05
    (0.059, True)
    """
    first, second = dfs
    total = first + second
    nodes, weights = roots_jacobi(NODES, second / 2.0 - 1.0, first / 2.0 - 1.0)
    beta = (nodes + 1.0) / 2.0
    true_share = 1.0 / (1.0 + np.exp(-LOGITS))[:, None]
    parts = true_share * beta / first, (1.0 - true_share) * (1.0 - beta) / second
    variance = parts[0] + parts[1]
    critical = guarded_critical(parts[0] / variance, dfs, alpha, outward)
    outside = 2.0 * stdtr(total, -critical * np.sqrt(total * variance))
    return float((outside @ weights).max() / weights.sum())


LEAST_LOG_P = -200.0
"""Logarithm of the smallest p that is worked out; anything smaller is given as this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """A difference of two means with its test and interval, on the scale of the values given.

    Parameters
    ----------
    estimate : float
        The difference, in the unit of the values.
    standard_error : float
        Its standard error, in the unit of the values.
    statistic : float
        Estimate over standard error [-].
    df : float
        Degrees of freedom of the standard error.
    p : float
        Two-sided p-value [-] unless the function that made it says otherwise; adjusted where it belongs to
        a family.
    critical : float
        Multiplier of the standard error in the interval [-].
    low, high : float
        Limits of the interval, in the unit of the values.
    """

    estimate: float
    standard_error: float
    statistic: float
    df: float
    p: float
    critical: float
    low: float
    high: float


def contrast(
    estimate: float, standard_error: float, df: float, confidence: float, shift: float = 0.0
) -> Contrast:
    """Student's t test and interval for an estimate with a standard error.

    Parameters
    ----------
    estimate : float
        The estimate, in any unit.
    standard_error : float
        Its standard error, in the same unit; positive.
    df : float
        Degrees of freedom of the standard error [-].
    confidence : float
        Confidence of the interval [-].
    shift : float
        Most that rounding can have shifted the estimate [its unit]: taken off it in the test, added to the
        reach.

    Returns
    -------
    Contrast
        With the two-sided p of the estimate being zero.

    Raises
    ------
    ValueError
        If the standard error is not positive.

    References
    ----------
    Student, Biometrika 6 (1908) 1-25.

    Examples
    --------
    >>> round(contrast(2.0, 1.0, 10, 0.95).p, 6)
    0.073388
    """
    if not standard_error > 0:
        raise ValueError(f"standard_error must be positive, found {standard_error}: the runs show no spread")
    critical = float(stdtrit(df, 0.5 + check_confidence(confidence) / 2))
    statistic = estimate / standard_error
    p = 2 * float(stdtr(df, -max(abs(estimate) - shift, 0.0) / standard_error))
    reach = critical * standard_error + shift
    return Contrast(
        estimate=float(estimate),
        standard_error=float(standard_error),
        statistic=float(statistic),
        df=float(df),
        p=p,
        critical=critical,
        low=estimate - reach,
        high=estimate + reach,
    )


def pooled_variance(groups: Sequence[ArrayLike]) -> tuple[float, int]:
    """Variance within groups, pooled over all of them.

    Parameters
    ----------
    groups : sequence of array_like
        Values of each group, in one unit.

    Returns
    -------
    variance : float
        Sum of squares within groups over its degrees of freedom, in the unit of the values squared.
    df : int
        Degrees of freedom.

    Raises
    ------
    ValueError
        If no group has two values.

    References
    ----------
    Snedecor and Cochran, Statistical Methods, 8th ed. 1989, chapter 12.

    Examples
    --------
    >>> pooled_variance([[1.0, 3.0], [5.0, 7.0]])
    (2.0, 2)
    """
    vectors = [finite_vector(group) for group in groups]
    df = sum(vector.size - 1 for vector in vectors)
    if df < 1:
        raise ValueError("groups must hold at least one with two values, found single values only")
    squares = sum(float(np.sum((vector - vector.mean()) ** 2)) for vector in vectors)
    return squares / df, df


def pooled_t(subject: ArrayLike, reference: ArrayLike, confidence: float = 0.95) -> Contrast:
    """Difference of two means with one spread for both groups.

    Parameters
    ----------
    subject, reference : array_like
        Values of the two groups, in one unit (for ratios: their logarithms).
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Student, Biometrika 6 (1908) 1-25; Fisher, Metron 5 (1925) 90-104. The example is the shoe-wear data of
    Box, Hunter and Hunter, Statistics for Experimenters (R package MASS), taken as unpaired.

    Examples
    --------
    >>> a = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
    >>> b = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]
    >>> result = pooled_t(a, b)
    >>> round(result.statistic, 6), round(result.p, 6)
    (-0.368911, 0.716498)
    """
    first, second = finite_vector(subject, "subject"), finite_vector(reference, "reference")
    variance, df = pooled_variance([first, second])
    error = np.sqrt(variance * (1 / first.size + 1 / second.size))
    return contrast(float(first.mean() - second.mean()), float(error), df, confidence)


def own_spreads(
    difference: float,
    variances: tuple[float, float],
    dfs: tuple[float, float],
    confidence: float,
    *,
    guarded: bool = False,
    shift: float = 0.0,
    link: float = 0.0,
) -> Contrast:
    r"""Difference of two means that each bring the variance of their own.

    By Welch's degrees of freedom, guarded where asked against a share of the variances found by chance
    (:func:`pinscar.stats.two_groups.guarded_critical`):

    .. math:: \nu = \frac{(v_1 + v_2)^2}{v_1^2/\nu_1 + v_2^2/\nu_2}

    A shift that rounding may have given to both means is taken off the difference before it is tested, and
    added to the reach of the limits. p is the error at which the limits just reach zero.

    Parameters
    ----------
    difference : float
        Difference of the means, in any unit.
    variances : tuple of float
        Variance of either mean, in that unit squared; one at least is positive.
    dfs : tuple of float
        Degrees of freedom of either variance [-].
    confidence : float
        Confidence of the interval [-].
    guarded : bool
        Whether the critical value is guarded. The guard is that of the confidence asked for, also for p,
        and of whole degrees of freedom, rounded down.
    shift : float
        Most that rounding can have shifted the difference, in the unit of the means.
    link : float
        What both variances share of their error where they come from the same residuals
        (:func:`pinscar.stats.within_blocks.within_blocks`) [-].

    Returns
    -------
    Contrast
        With Welch's degrees of freedom whatever the critical value.

    Raises
    ------
    ValueError
        If both variances are zero.

    References
    ----------
    Welch, "The generalization of Student's problem when several different population variances are involved",
    Biometrika 34 (1947) 28-35; Satterthwaite, Biometrics Bulletin 2 (1946) 110-114.

    Examples
    --------
    >>> round(own_spreads(1.0, (1.0, 1.0), (1, 1), 0.95).df, 6)
    2.0
    """
    check_confidence(confidence)
    total = variances[0] + variances[1]
    if not total > 0:
        raise ValueError("subject and reference must show some spread, found none in either")
    shared = 2.0 * link * variances[0] * variances[1]
    df = total**2 / (variances[0] ** 2 / dfs[0] + shared + variances[1] ** 2 / dfs[1])
    error = float(np.sqrt(total))

    guard: float | None = 0.0
    if guarded:
        whole = [float(max(int(one + 1e-9), 1)) for one in dfs]
        guard = outward_factor((whole[0], whole[1]), round(1 - confidence, 12))

    def critical(outside: float) -> float:
        if not guarded:
            return -float(stdtrit(df, outside / 2))
        return float(guarded_critical(variances[0] / total, dfs, outside, guard, link))

    size = max(abs(difference) - shift, 0.0) / error
    if not guarded:
        p = 2 * float(stdtr(df, -size))
    elif size == 0.0:
        p = 1.0
    else:
        log_p = LEAST_LOG_P
        if critical(float(np.exp(LEAST_LOG_P))) > size:
            log_p = brentq(lambda e: critical(float(np.exp(e))) - size, LEAST_LOG_P, 0.0, xtol=1e-13)
        p = float(np.exp(log_p))
    reach = critical(1 - confidence) * error + shift
    return Contrast(
        estimate=float(difference),
        standard_error=error,
        statistic=float(difference) / error,
        df=float(df),
        p=p,
        critical=critical(1 - confidence),
        low=float(difference) - reach,
        high=float(difference) + reach,
    )


def welch_t(subject: ArrayLike, reference: ArrayLike, confidence: float = 0.95) -> Contrast:
    """Difference of two means, each group with its own spread.

    Parameters
    ----------
    subject, reference : array_like
        Values of the two groups, at least two of each, in one unit.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    Raises
    ------
    ValueError
        If a group has fewer than two values, or both show no spread.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35. The example is R's sleep data (data from memory).

    Examples
    --------
    >>> result = welch_t([.7, -1.6, -.2, -1.2, -.1, 3.4, 3.7, .8, 0, 2],
    ...                  [1.9, .8, 1.1, .1, -.1, 4.4, 5.5, 1.6, 4.6, 3.4])
    >>> round(result.statistic, 6), round(result.df, 6)
    (-1.860813, 17.776474)
    """
    return own_spreads(*_two(subject, reference), confidence)


def _two(subject: ArrayLike, reference: ArrayLike) -> tuple[float, tuple[float, float], tuple[float, float]]:
    vectors = finite_vector(subject, "subject"), finite_vector(reference, "reference")
    for name, vector in zip(("subject", "reference"), vectors, strict=True):
        if vector.size < 2:
            raise ValueError(f"{name} must hold at least two values, found {vector.size}")
    first, second = vectors
    variances = float(first.var(ddof=1)) / first.size, float(second.var(ddof=1)) / second.size
    return float(first.mean() - second.mean()), variances, (first.size - 1.0, second.size - 1.0)


def paired_t(subject: ArrayLike, reference: ArrayLike, confidence: float = 0.95) -> Contrast:
    """Mean of the differences of pairs.

    Parameters
    ----------
    subject, reference : array_like, shape (n,)
        Values of the two members of each pair, in one unit; at least two pairs.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Contrast
        Mean of subject minus reference.

    Raises
    ------
    ValueError
        If the groups differ in length, hold fewer than two pairs, or all differences are equal.

    References
    ----------
    Student, Biometrika 6 (1908) 1-25. The example is the shoe-wear data of Box, Hunter and Hunter, Statistics
    for Experimenters (R package MASS).

    Examples
    --------
    >>> a = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
    >>> b = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]
    >>> result = paired_t(a, b)
    >>> round(result.statistic, 6), round(result.low, 6), round(result.high, 6)
    (-3.348877, -0.686954, -0.133046)
    """
    first, second = finite_vector(subject, "subject"), finite_vector(reference, "reference")
    if first.size != second.size or first.size < 2:
        raise ValueError(
            f"pairs must be at least two and complete, found {first.size} and {second.size} values"
        )
    differences = first - second
    error = float(differences.std(ddof=1) / np.sqrt(differences.size))
    return contrast(float(differences.mean()), error, differences.size - 1, confidence)


Better = Literal["higher", "lower"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginTest:
    """A ratio held against a margin.

    Parameters
    ----------
    ratio : float
        Subject over reference [-].
    low, high : float
        Two-sided limits of the ratio whose one-sided error is that of the test: 90 % limits for a test at 5
        % [-].
    p : float
        One-sided p-value [-]; for equivalence the larger of the two.
    shown : bool
        Whether the claim is shown at the confidence asked for.
    method : str
        What was done.
    """

    ratio: float
    low: float
    high: float
    p: float
    shown: bool
    method: str


def noninferiority(
    contrast: Contrast, margin: float, better: Better = "higher", confidence: float = 0.95
) -> MarginTest:
    r"""Test whether a subject is not worse than the reference by more than a margin.

    Where higher is better the claim is :math:`\rho > 1 - m`, where lower is better :math:`\rho < 1 + m`; it
    is shown when the one-sided confidence limit of the ratio lies on that side. The interval given
    alongside is the two-sided one at twice the error, so the claim is shown exactly when that interval
    clears the margin.

    Parameters
    ----------
    contrast : Contrast
        Subject minus reference of natural logarithms, from pooled, Welch or paired t.
    margin : float
        Largest loss that still counts as not worse [-], such as 0.1 for 10 %.
    better : {"higher", "lower"}
        Which way is better.
    confidence : float
        One minus the one-sided error of the test [-].

    Returns
    -------
    MarginTest
        Ratio, limits, p, and whether the claim is shown.

    Raises
    ------
    ValueError
        If the margin does not lie between 0 and 1, or the direction is unknown.

    References
    ----------
    Wellek, Testing Statistical Hypotheses of Equivalence and Noninferiority, 2nd ed. 2010, chapter 2. The
    example is the shoe-wear data of Box, Hunter and Hunter (R package MASS).

    Examples
    --------
    >>> from pinscar.stats.two_groups import paired_t
    >>> a = np.log([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    >>> b = np.log([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    >>> result = noninferiority(paired_t(b, a), 0.1)
    >>> result.shown, round(result.low, 6)
    (True, 1.015496)
    """
    if not 0 < margin < 1:
        raise ValueError(f"margin must lie between 0 and 1, found {margin}")
    if better not in ("higher", "lower"):
        raise ValueError(f"better must be 'higher' or 'lower', found {better!r}")
    limit = 1 - margin if better == "higher" else 1 + margin
    p = _p_above(contrast, limit) if better == "higher" else _p_below(contrast, limit)
    method = f"non-inferiority with a margin of {100 * margin:.3g} %, one-sided t on logs"
    return _result(contrast, p, confidence, method)


def equivalence(contrast: Contrast, lowest: float, highest: float, confidence: float = 0.95) -> MarginTest:
    """Test whether a ratio lies between two limits, by two one-sided tests.

    Equivalence is shown when both one-sided tests reject, which is when the two-sided interval at twice the
    error (90 % for tests at 5 %) lies wholly between the limits.

    Parameters
    ----------
    contrast : Contrast
        Subject minus reference of natural logarithms, from pooled, Welch or paired t.
    lowest, highest : float
        Limits between which ratios count as equivalent [-], such as 0.9 and 1.1; one lies between them.
    confidence : float
        One minus the error of each one-sided test [-].

    Returns
    -------
    MarginTest
        Ratio, limits, the larger p, and whether equivalence is shown.

    Raises
    ------
    ValueError
        If the limits do not lie on either side of one.

    References
    ----------
    Schuirmann, "A comparison of the two one-sided tests procedure and the power approach", J. Pharmacokinet.
    Biopharm. 15 (1987) 657-680. The example is the shoe-wear data of Box, Hunter and Hunter (R package MASS).

    Examples
    --------
    >>> from pinscar.stats.two_groups import paired_t
    >>> a = np.log([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    >>> b = np.log([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    >>> result = equivalence(paired_t(b, a), 0.9, 1.1)
    >>> result.shown, round(result.low, 6), round(result.high, 6)
    (True, 1.015496, 1.0605)
    """
    if not 0 < lowest < 1 < highest:
        raise ValueError(f"lowest and highest must lie on either side of 1, found {lowest} and {highest}")
    p = max(_p_above(contrast, lowest), _p_below(contrast, highest))
    method = f"equivalence between {lowest:.4g} and {highest:.4g}, two one-sided t tests on logs"
    return _result(contrast, p, confidence, method)


def _p_above(contrast: Contrast, limit: float) -> float:
    return float(stdtr(contrast.df, -(contrast.estimate - np.log(limit)) / contrast.standard_error))


def _p_below(contrast: Contrast, limit: float) -> float:
    return float(stdtr(contrast.df, (contrast.estimate - np.log(limit)) / contrast.standard_error))


def _result(contrast: Contrast, p: float, confidence: float, method: str) -> MarginTest:
    reach = float(stdtrit(contrast.df, check_confidence(confidence))) * contrast.standard_error
    low, high = np.exp([contrast.estimate - reach, contrast.estimate + reach])
    shown = p < 1 - confidence
    shown_level = f"{method} ({100 * (2 * confidence - 1):.4g} % limits shown)"
    return MarginTest(
        ratio=float(np.exp(contrast.estimate)),
        low=float(low),
        high=float(high),
        p=p,
        shown=shown,
        method=shown_level,
    )


def holm(p_values: ArrayLike) -> NDArray[np.float64]:
    r"""Holm's adjusted p-values.

    .. math:: \tilde p_{(i)} = \max_{j \le i} \min\left(1, (m - j + 1) \, p_{(j)}\right)

    Parameters
    ----------
    p_values : array_like, shape (m,)
        Unadjusted p-values of one family [-].

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p-values [-], in the order given.

    Raises
    ------
    ValueError
        If there are none, or one lies outside 0 to 1.

    References
    ----------
    Holm, "A simple sequentially rejective multiple test procedure", Scand. J. Statist. 6 (1979) 65-70.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).round(6)
    array([0.03, 0.06, 0.06])
    """
    p = finite_vector(p_values, "p_values")
    if np.any((p < 0) | (p > 1)):
        raise ValueError(f"p_values must lie between 0 and 1, found {p[(p < 0) | (p > 1)][0]}")
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


def bonferroni_confidence(confidence: float, comparisons: int) -> float:
    """Confidence of each single interval that gives a family the confidence asked for.

    Parameters
    ----------
    confidence : float
        Joint confidence [-].
    comparisons : int
        Number of intervals in the family; at least one.

    Returns
    -------
    float
        Confidence of each interval [-].

    Raises
    ------
    ValueError
        If the confidence does not lie between 0 and 1 or there are no comparisons.

    References
    ----------
    Dunn, "Multiple comparisons among means", JASA 56 (1961) 52-64.

    Examples
    --------
    >>> round(bonferroni_confidence(0.95, 5), 12)
    0.99
    """
    if comparisons < 1:
        raise ValueError(f"comparisons must be at least one, found {comparisons}")
    return 1 - (1 - check_confidence(confidence)) / comparisons


def own_spreads_t(
    subject: FloatArray,
    reference: FloatArray,
    confidence: float,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> Contrast:
    """Two groups, each with its own spread: Welch's t, guarded so that unlike spreads never raise the error.

    The spread of rounded readings counts as no smaller than rounding can hide, and the shift that rounding
    can give to the means is added to the reach. With a prior both variances are moderated by it.

    Parameters
    ----------
    subject, reference : ndarray
        Two or more values each, on the scale of the analysis [any one unit].
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; :mod:`pinscar.stats.two_groups`; rounding:
    :mod:`pinscar.stats.estimates`.

    Examples
    --------
    >>> from pinscar.stats.two_groups import welch_t
    >>> logs = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> own_spreads_t(*logs, 0.95).low < welch_t(*logs).low
    True
    """
    raw = [float(group.var(ddof=1)) for group in (subject, reference)]
    sizes = subject.size, reference.size
    spreads = [moderated(least_variance(v, step), n - 1.0, prior) for v, n in zip(raw, sizes, strict=True)]
    return own_spreads(
        float(subject.mean() - reference.mean()),
        (spreads[0][0] / sizes[0], spreads[1][0] / sizes[1]),
        (spreads[0][1], spreads[1][1]),
        confidence,
        guarded=True,
        shift=sum(rounding_shift(float(np.sqrt(variance)), step) for variance in raw),
    )


def one_spread_t(
    subject: FloatArray,
    reference: FloatArray,
    confidence: float,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> Contrast:
    """Two groups with one spread: the pooled t, its spread and reach no smaller than rounding allows.

    Parameters
    ----------
    subject, reference : ndarray
        Values of both, on the scale of the analysis [any one unit]; together more than two.
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Student, Biometrika 6 (1908) 1-25; rounding: :mod:`pinscar.stats.estimates`.

    Examples
    --------
    >>> from pinscar.stats.two_groups import pooled_t
    >>> logs = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> one_spread_t(*logs, 0.95) == pooled_t(*logs)
    True
    """
    raw, df = pooled_variance([subject, reference])
    variance, freedom = moderated(least_variance(raw, step), df, prior)
    error = np.sqrt(variance * (1 / subject.size + 1 / reference.size))
    shift = 2.0 * rounding_shift(float(np.sqrt(raw)), step)
    return contrast(float(subject.mean() - reference.mean()), float(error), freedom, confidence, shift)


def sidak_welch(
    subjects: list[FloatArray],
    reference: FloatArray,
    confidence: float,
    comparisons: int | None = None,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> list[Contrast]:
    r"""Each subject against one reference, each group with its own spread, joint by Sidak's inequality.

    Parameters
    ----------
    subjects : list of ndarray
        The groups, each of two or more values that differ [any one unit].
    reference : ndarray
        The group they are compared with [any one unit].
    confidence : float
        Joint confidence [-].
    comparisons : int, optional
        How many comparisons hold together; as many as there are subjects where not given.
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    list of Contrast
        One a subject: difference, joint limits, adjusted p, degrees of freedom.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; :mod:`pinscar.stats.two_groups`; Sidak, JASA 62 (1967) 626-633.

    Examples
    --------
    >>> groups = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> sidak_welch([groups[0]], groups[1], 0.95)[0] == own_spreads_t(*groups, 0.95)
    True
    """
    k = len(subjects) if comparisons is None else comparisons
    each = confidence ** (1.0 / k)
    return [shared(own_spreads_t(subject, reference, each, step, prior), k) for subject in subjects]


def shared(one: Contrast, comparisons: int) -> Contrast:
    r"""Adjust the p of one of several comparisons by Sidak's inequality, :math:`1 - (1 - p)^k`.

    Parameters
    ----------
    one : Contrast
        At the confidence of each comparison.
    comparisons : int
        How many hold together.

    Returns
    -------
    Contrast
        With the adjusted p.

    References
    ----------
    Sidak, JASA 62 (1967) 626-633.

    Examples
    --------
    >>> from pinscar.stats.two_groups import contrast
    >>> one = contrast(1.0, 0.5, 4, 0.95)
    >>> round(shared(one, 2).p, 6) == round(1.0 - (1.0 - one.p) ** 2, 6)
    True
    """
    if comparisons == 1:
        return one
    p = float(-np.expm1(comparisons * np.log1p(-one.p))) if one.p < 1.0 else 1.0
    return replace(one, p=p)

"""Two groups: pooled t, Welch, paired t.

P values are adjusted for the number of comparisons where no joint distribution is at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import stdtr, stdtrit

from pinscar.stats.checks import check_confidence, finite_vector
from pinscar.stats.guarded_welch import guarded_critical, outward_factor

FloatArray = NDArray[np.float64]
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
    (:func:`pinscar.stats.guarded_welch.guarded_critical`):

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
    >>> from pinscar.stats.pairwise import paired_t
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
    >>> from pinscar.stats.pairwise import paired_t
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

"""Every pair of several groups: Tukey with one spread, Games-Howell with each group's own."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr

from pinscar.stats.checks import check_confidence, finite_vector
from pinscar.stats.pairwise import Contrast, pooled_variance, welch_error

Pairs = dict[tuple[str, str], Contrast]


def tukey(groups: Mapping[str, ArrayLike], confidence: float = 0.95) -> Pairs:
    r"""Compare every pair of groups at one joint confidence, with one spread for all.

    .. math:: \bar x_i - \bar x_j \pm q_{k,\nu} \, s \sqrt{\tfrac12 (1/n_i + 1/n_j)}

    It assumes independent runs, normally distributed on the scale given, with one spread. For unequal group
    sizes (Tukey-Kramer) the joint confidence is at least the one asked for.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in one unit (for ratios: logarithms).
    confidence : float
        Joint confidence of all intervals [-].

    Returns
    -------
    dict of (str, str) to Contrast
        For each pair in the order of the mapping: mean of the first minus mean of the second, adjusted p.

    Raises
    ------
    ValueError
        If there are fewer than two groups, or no spread.

    References
    ----------
    Tukey, The Problem of Multiple Comparisons, 1953; Kramer, Biometrics 12 (1956) 307-310; Hayter, Annals of
    Statistics 12 (1984) 61-75, for the confidence with unequal sizes.

    Examples
    --------
    >>> pairs = tukey({"a": [1.0, 2.0, 3.0], "b": [2.0, 3.0, 4.0], "c": [7.0, 8.0, 9.0]})
    >>> pairs["a", "c"].p < 0.01 < pairs["a", "b"].p
    True
    """
    vectors = _named(groups)
    variance, df = pooled_variance(list(vectors.values()))
    if not variance > 0:
        raise ValueError("the groups must show some spread, found none")
    pairs = {}
    for first, second in combinations(vectors, 2):
        a, b = vectors[first], vectors[second]
        error = float(np.sqrt(variance * (1 / a.size + 1 / b.size)))
        pairs[first, second] = range_contrast(float(a.mean() - b.mean()), error, df, len(vectors), confidence)
    return pairs


def games_howell(groups: Mapping[str, ArrayLike], confidence: float = 0.95) -> Pairs:
    """Compare every pair of groups at one joint confidence, each group with its own spread.

    Welch's standard error and degrees of freedom for each pair, referred to the studentized range. The joint
    confidence is approximate, and falls short in groups of fewer than about six.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, at least two, in one unit (for ratios: logarithms).
    confidence : float
        Joint confidence of all intervals [-].

    Returns
    -------
    dict of (str, str) to Contrast
        For each pair in the order of the mapping: mean of the first minus mean of the second, adjusted p.

    Raises
    ------
    ValueError
        If there are fewer than two groups, a group has one value, or a pair shows no spread.

    References
    ----------
    Games and Howell, "Pairwise multiple comparison procedures with unequal n's and/or variances", J. Educ.
    Stat. 1 (1976) 113-125. The example is Dunnett's blood counts (JASA 50, 1955).

    Examples
    --------
    >>> pairs = games_howell({"control": [7.40, 8.50, 7.20, 8.24, 9.84, 8.32], "A": [9.76, 8.80, 7.68, 9.36],
    ...                       "B": [12.80, 9.68, 12.16, 9.20, 10.55]})
    >>> pair = pairs["control", "B"]
    >>> round(pair.statistic, 6), round(pair.df, 6), round(pair.p, 5)
    (-3.305314, 6.333034, 0.03496)
    """
    vectors = _named(groups)
    pairs = {}
    for first, second in combinations(vectors, 2):
        error, df = welch_error(vectors[first], vectors[second])
        difference = float(vectors[first].mean() - vectors[second].mean())
        pairs[first, second] = range_contrast(difference, error, df, len(vectors), confidence)
    return pairs


def range_contrast(
    estimate: float, standard_error: float, df: float, groups: int, confidence: float
) -> Contrast:
    """One difference of a family of all pairs, referred to the studentized range.

    Parameters
    ----------
    estimate : float
        The difference of two means, in any unit.
    standard_error : float
        Its standard error, in the same unit; positive.
    df : float
        Degrees of freedom of the standard error.
    groups : int
        Number of groups in the family.
    confidence : float
        Joint confidence of the intervals [-].

    Returns
    -------
    Contrast
        With the adjusted p; ``critical`` is the studentized range over the root of two.

    References
    ----------
    Tukey, The Problem of Multiple Comparisons, 1953; the distribution is that of scipy.stats.

    Examples
    --------
    >>> round(range_contrast(1.0, 0.5, 10, 3, 0.95).critical * np.sqrt(2), 3)
    np.float64(3.877)
    """
    from scipy.stats import studentized_range  # slow to import, and needed here only

    statistic = estimate / standard_error
    critical = _range_quantile(check_confidence(confidence), groups, df) / np.sqrt(2)
    outside = float(studentized_range.sf(abs(statistic) * np.sqrt(2), groups, df))
    single = 2 * float(stdtr(df, -abs(statistic)))
    p = min(
        max(outside, single), 1.0
    )  # the quadrature rounds small tails to zero; the unadjusted p bounds them
    reach = float(critical * standard_error)
    return Contrast(
        estimate, standard_error, statistic, float(df), p, float(critical), estimate - reach, estimate + reach
    )


@lru_cache(maxsize=256)
def _range_quantile(confidence: float, groups: int, df: float) -> float:
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(confidence, groups, df))  # a tenth of a second each


def _named(groups: Mapping[str, ArrayLike]) -> dict[str, np.ndarray[tuple[int, ...], np.dtype[np.float64]]]:
    if len(groups) < 2:
        raise ValueError(f"groups must be at least two, found {len(groups)}")
    return {name: finite_vector(values, name) for name, values in groups.items()}

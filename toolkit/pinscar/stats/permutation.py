"""Rank methods for ordered classes (smoke none, light, heavy) and for counts with many ties."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

# All splits of two groups are listed up to this many (9 against 9 has 48 620).
MOST_SPLITS = 100_000
# Of more distinct values, in groups as large, p comes from the normal distribution: lots drawn for 2400
# values take half a minute, and are less sure than the approximation where p > 0.01.
MOST_DISTINCT, LARGE_GROUP = 200, 50
MOST_AT_ONCE = 4_000_000  # counts that are drawn at once, 32 MB


@dataclass(frozen=True, slots=True, kw_only=True)
class RankComparison:
    """A comparison of two groups by ranks.

    Parameters
    ----------
    n, n_reference : int
        Sizes of the groups.
    superiority : float
        Probability that a value of the group is larger than one of the reference, ties counted half.
    p : float or None
        Two-sided probability; None where the test is not defined.
    method : str
        The test, as a report prints it.
    note : str or None
        Why there is no probability.
    """

    n: int
    n_reference: int
    superiority: float
    p: float | None
    method: str
    note: str | None = None


def ordered_codes(labels: Sequence[str], order: Sequence[str]) -> NDArray[np.float64]:
    """Turn ordered classes into their places in the order.

    Parameters
    ----------
    labels : sequence of str
        Class of each run.
    order : sequence of str
        The classes from least to most.

    Returns
    -------
    ndarray
        Places from 0 up, shape (n,).

    Raises
    ------
    ValueError
        Where a label is none of the classes.

    References
    ----------
    Own derivation: rank methods use the order of the classes only.

    Examples
    --------
    >>> ordered_codes(["light", "none", "heavy"], ["none", "light", "heavy"])
    array([1., 0., 2.])
    """
    places = {label: float(place) for place, label in enumerate(order)}
    unknown = sorted(set(labels) - set(places))
    if unknown:
        raise ValueError(f"{unknown[0]!r} is none of the classes {', '.join(order)}")
    return np.array([places[label] for label in labels], dtype=np.float64)


def mann_whitney(values: ArrayLike, reference: ArrayLike, seed: int = 0) -> RankComparison:
    """Compare two groups by the Mann-Whitney test, exact also with ties.

    The p value is that of the permutation distribution over all splits of the pooled values, ties kept; above
    100 000 splits it is estimated from as many random ones, seeded, and the method says so; they are drawn as
    counts of each distinct value. Two groups of 50 or more with over 200 distinct values get the normal
    approximation with correction for ties and continuity, whose p is 3 % off at 0.01 and too large below.

    Parameters
    ----------
    values : array_like
        Values or codes of the group [any unit], shape (n,).
    reference : array_like
        The same of the reference, shape (m,) [any one unit].
    seed : int
        Seed of the random splits.

    Returns
    -------
    RankComparison
        Probability of superiority and two-sided p.

    Raises
    ------
    ValueError
        Where a group is empty or holds something not finite.

    References
    ----------
    H. B. Mann and D. R. Whitney, On a test of whether one of two random variables is stochastically larger
    than the other, 1947; E. L. Lehmann, Nonparametrics, 1975, section 1.4 (ties); the normal approximation
    is that of ``scipy.stats.mannwhitneyu``.

    Examples
    --------
    >>> result = mann_whitney([1, 2, 2, 1], [0, 0, 1, 0])
    >>> round(result.superiority, 3), round(result.p, 4)
    (0.938, 0.0857)
    """
    x, y = _vector(values, "values"), _vector(reference, "reference")
    exact = math.comb(x.size + y.size, x.size) <= MOST_SPLITS
    method = "Mann-Whitney test, " + ("exact" if exact else f"{MOST_SPLITS} random splits (seed {seed})")
    _, places, counts = np.unique(np.concatenate([x, y]), return_inverse=True, return_counts=True)
    # The mean sign of the difference from all values: how many lie below less how many above.
    below = np.cumsum(counts) - counts
    scores = (2.0 * below + counts - (x.size + y.size)) / (x.size + y.size)
    observed = abs(float(np.sum(scores[places[: x.size]])))
    if counts.size > MOST_DISTINCT and min(x.size, y.size) >= LARGE_GROUP:
        from scipy.stats import mannwhitneyu  # here: slow to import, and for large groups only

        return RankComparison(
            n=x.size,
            n_reference=y.size,
            superiority=_superiority(x, y),
            p=float(mannwhitneyu(x, y, method="asymptotic").pvalue),
            method="Mann-Whitney test, normal approximation",
        )
    if exact:
        sums = np.sum(scores[places][_all_splits(x.size + y.size, x.size)], axis=1)
    else:
        sums = _random_sums(scores, counts, x.size, seed)
    as_extreme = int(np.sum(np.abs(sums) >= observed - 1e-9))
    # Of random splits the observed one is counted too, so that p is never zero and its level holds.
    p = as_extreme / len(sums) if exact else (as_extreme + 1) / (len(sums) + 1)
    return RankComparison(n=x.size, n_reference=y.size, superiority=_superiority(x, y), p=p, method=method)


def _all_splits(total: int, n: int) -> NDArray[np.intp]:
    flat = itertools.chain.from_iterable(itertools.combinations(range(total), n))
    return np.fromiter(flat, dtype=np.intp, count=math.comb(total, n) * n).reshape(-1, n)


def _random_sums(
    scores: NDArray[np.float64], counts: NDArray[np.intp], n: int, seed: int
) -> NDArray[np.float64]:
    """Sum the scores of n values drawn by lot: only how many of each distinct value there are matters."""
    rng = np.random.default_rng(seed)
    rows = max(1, MOST_AT_ONCE // counts.size)
    parts = [
        rng.multivariate_hypergeometric(counts, n, size=min(rows, MOST_SPLITS - start)) @ scores
        for start in range(0, MOST_SPLITS, rows)
    ]
    return np.concatenate(parts)


def _superiority(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    ordered = np.sort(y)
    below = np.searchsorted(ordered, x, side="left") + np.searchsorted(ordered, x, side="right")
    return float(np.mean(below)) / (2.0 * y.size)


def _vector(values: ArrayLike, name: str) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size == 0 or not bool(np.all(np.isfinite(x))):
        raise ValueError(f"{name} must be a row of one or more finite numbers")
    return x

"""Permutation tests: ranks of ordered classes and counts, and what goes along with another factor."""

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


DRAWS = 1_999
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Association:
    """What two groups and a factor have in common.

    Parameters
    ----------
    cramers_v : float
        Cramer's V, 0 where the factor is spread alike over both groups, 1 where it tells them apart.
    variance_inflation : float
        Variance of the difference between the groups with the factor allowed for, over that without;
        infinite where the factor tells them apart.
    adjusted_share : float
        V squared less what random assignment gives on average; may be below 0.
    p : float
        Probability of a share at least as large where the levels go to the runs of a stratum by lot.
    """

    cramers_v: float
    variance_inflation: float
    adjusted_share: float
    p: float


def association(
    in_group: Sequence[bool], levels: Sequence[str], strata: Sequence[str] | None = None, seed: int = 1
) -> Association | None:
    r"""Compute how far a factor goes along with the membership of one of two groups.

    R squared of the regression of the membership on the factor's levels (within strata, where given) is
    Cramer's V squared of the 2 by k table, and

    .. math:: \mathrm{VIF} = \frac{1}{1 - R^2}, \quad
              R^2_a = 1 - (1 - R^2) \frac{n - s}{n - s - (k - 1)}

    with n runs, s strata and k levels. The adjusted share is 0 on average where the levels were given by lot;
    how often lot alone gives as much is drawn 1 999 times, p = (b + 1)/2 000.

    Parameters
    ----------
    in_group : sequence of bool
        Whether each run belongs to the first of the two groups.
    levels : sequence of str
        Level of the factor in each run.
    strata : sequence of str, optional
        Stratum of each run, such as its load.
    seed : int
        Seed of the draws.

    Returns
    -------
    Association or None
        None where one group is missing, the factor has one level, or its levels use up all runs.

    Raises
    ------
    ValueError
        Where the sequences differ in length.

    References
    ----------
    H. Cramer, Mathematical Methods of Statistics, 1946, section 21.9 (mean square contingency);
    J. Neter and others, Applied Linear Statistical Models (variance inflation factor, adjusted R squared);
    A. C. Davison and D. V. Hinkley, Bootstrap Methods and their Application, 1997, section 4.2 (b + 1).

    Examples
    --------
    Operator 1 ran five of six runs of the one oil and one of six of the other: chi-square = 12 V^2 = 16/3.

    >>> found = association([True] * 6 + [False] * 6, ["1"] * 5 + ["2", "1"] + ["2"] * 5)
    >>> round(12 * found.cramers_v**2, 4), round(found.variance_inflation, 3)
    (5.3333, 1.8)
    """
    strata = [""] * len(levels) if strata is None else strata
    if not len(in_group) == len(levels) == len(strata):
        raise ValueError(
            f"in_group, levels and strata must be equally long; found {len(in_group)}, {len(levels)} and "
            f"{len(strata)}"
        )
    y = np.asarray(in_group, dtype=bool)
    cells = _Cells.of(strata, levels)
    ours = np.asarray(np.bincount(_codes(strata), y), dtype=np.float64)
    total, s = float(np.sum(ours * (1.0 - ours / cells.sizes))), cells.sizes.size
    free = y.size - s - cells.rank
    if total < _ROUNDING or cells.rank == 0 or free < 1:
        return None
    held = np.asarray(np.bincount(cells.of_runs, y, cells.counts.size), dtype=np.float64)
    # Rounding may put a share of none or of all just outside 0 and 1.
    share = min(max(float(cells.explained(held[None, :], ours)[0]) / total, 0.0), 1.0)
    adjusted = 1.0 - (1.0 - share) * (y.size - s) / free
    inflation = np.inf if share > 1.0 - _ROUNDING else 1.0 / (1.0 - share)
    rng = np.random.default_rng(seed)
    drawn = np.empty((DRAWS, cells.counts.size))
    for one, ones in enumerate(ours):
        here = cells.stratum == one
        # Only how many runs of a level are drawn matters, not which.
        drawn[:, here] = rng.multivariate_hypergeometric(cells.counts[here], int(ones), size=DRAWS)
    p = (float(np.sum(cells.explained(drawn, ours) / total >= share - _ROUNDING)) + 1.0) / (DRAWS + 1.0)
    return Association(float(np.sqrt(share)), float(inflation), float(adjusted), p)


@dataclass(frozen=True, slots=True)
class _Cells:
    """The runs by stratum and level, and what the sum of squares that levels add needs.

    The regression on strata and levels takes the levels out first, which leaves a matrix of strata by strata,
    few where there are many levels.
    """

    of_runs: NDArray[np.intp]
    counts: NDArray[np.intp]
    stratum: NDArray[np.intp]
    level: NDArray[np.intp]
    sizes: NDArray[np.intp]
    inverse: NDArray[np.float64]
    rank: int

    @classmethod
    def of(cls, strata: Sequence[str], levels: Sequence[str]) -> _Cells:
        pairs = list(zip(strata, levels, strict=True))
        distinct = list(dict.fromkeys(pairs))
        of_runs = _codes(pairs)
        counts = np.bincount(of_runs)
        stratum, level = _codes([one for one, _ in distinct]), _codes([one for _, one in distinct])
        sizes = np.bincount(_codes(strata))
        together = np.zeros((sizes.size, level.max() + 1))
        together[stratum, level] = counts
        left = np.diag(sizes.astype(np.float64)) - (together / together.sum(axis=0)) @ together.T
        values, vectors = np.linalg.eigh(left)
        kept = values > 1e-10 * max(float(values.max()), 1.0)
        inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
        rank = int(np.count_nonzero(kept)) + together.shape[1] - sizes.size
        return cls(of_runs, counts, stratum, level, sizes, inverse, rank)

    def explained(self, held: NDArray[np.float64], ours: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the sum of squares that levels add, for rows of how many runs of each cell are ours."""
        order = np.argsort(self.level, kind="stable")
        starts = np.searchsorted(self.level[order], np.arange(self.level.max() + 1))
        runs = np.add.reduceat(self.counts[order], starts)
        sums = np.add.reduceat(held[:, order], starts, axis=1)
        means = (sums / runs)[:, self.level] * self.counts
        rest = np.empty((len(held), self.sizes.size))
        for one in range(self.sizes.size):
            rest[:, one] = ours[one] - means[:, self.stratum == one].sum(axis=1)
        added = np.sum((rest @ self.inverse) * rest, axis=1)
        return np.asarray(np.sum(sums**2 / runs, axis=1) + added - np.sum(ours**2 / self.sizes))


def _codes(values: Sequence[object]) -> NDArray[np.intp]:
    """Give each value its number in the order in which they first appear."""
    places: dict[object, int] = {}
    return np.array([places.setdefault(value, len(places)) for value in values], dtype=np.intp)

"""How much of a comparison of two groups goes along with another factor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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

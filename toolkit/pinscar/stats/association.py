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
    y = np.asarray(in_group, dtype=np.float64)
    base, factor = _dummies(strata), _dummies(levels)
    own = _basis(factor - _fitted(factor, base))
    centred = y - _fitted(y, base)
    total, s = float(centred @ centred), base.shape[1]
    free = y.size - s - own.shape[1]
    if total < _ROUNDING or own.shape[1] == 0 or free < 1:
        return None
    share = min(float(np.sum((own.T @ y) ** 2)) / total, 1.0)
    adjusted = 1.0 - (1.0 - share) * (y.size - s) / free
    inflation = np.inf if share > 1.0 - _ROUNDING else 1.0 / (1.0 - share)
    drawn = np.sum((_by_lot(y, base, np.random.default_rng(seed)) @ own) ** 2, axis=1) / total
    p = (float(np.sum(drawn >= share - _ROUNDING)) + 1.0) / (DRAWS + 1.0)
    return Association(float(np.sqrt(share)), float(inflation), float(adjusted), p)


def _by_lot(
    y: NDArray[np.float64], base: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Draw the membership anew within each stratum, one row a draw."""
    drawn = np.tile(y, (DRAWS, 1))
    for stratum in base.T.astype(bool):
        drawn[:, stratum] = rng.permuted(drawn[:, stratum], axis=1)
    return drawn


def _basis(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give an orthonormal basis of what the columns span."""
    left, singular, _ = np.linalg.svd(x, full_matrices=False)
    return np.asarray(left[:, singular > 1e-8], dtype=np.float64)


def _dummies(values: Sequence[str]) -> NDArray[np.float64]:
    names = list(dict.fromkeys(values))
    return np.array([[float(value == name) for name in names] for value in values])


def _fitted(y: NDArray[np.float64], x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(x @ np.linalg.lstsq(x, y, rcond=None)[0], dtype=np.float64)

"""Cochran's test for one group with a larger variance than the others. A flag only."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betaincc, betaincinv

from pinscar.stats.moments import sum_of_squares


@dataclass(frozen=True, slots=True)
class CochranResult:
    """Result of Cochran's test.

    Parameters
    ----------
    group : str or None
        The group that stands out most; None where no test was possible.
    statistic : float or None
        Its share C of the sum of all sums of squares (of all variances, where groups are of equal size).
    critical : float or None
        Critical value for a group of its size.
    p : float or None
        Probability of a share this large with one variance for all, an upper bound (Bonferroni), at most 1.
    flagged : bool
        Whether the statistic is over its critical value.
    note : str or None
        Why no test was possible, or that sizes differ.
    """

    group: str | None
    statistic: float | None
    critical: float | None
    p: float | None
    flagged: bool
    note: str | None = None


def cochran(groups: Mapping[str, ArrayLike], alpha: float = 0.05) -> CochranResult:
    r"""Test whether one group varies more than the others, by Cochran's C.

    .. math:: C = \frac{(n_j - 1) s_j^2}{\sum_i (n_i - 1) s_i^2}, \quad
              C_c = B_{1 - \alpha/p}\!\left(\frac{n_j - 1}{2}, \frac{\sum_{i \ne j} (n_i - 1)}{2}\right)

    With groups of equal size this is the standard's C and its critical value
    :math:`1/(1 + (p - 1)/F_{1-\alpha/p})`. For unequal sizes the group with the smallest probability is
    shown. Normal values are assumed; groups of a single value take no part.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group on the scale of analysis [any one unit], finite.
    alpha : float
        Level of the test [-].

    Returns
    -------
    CochranResult
        Group, statistic, critical value and flag; a note where no test was possible.

    Raises
    ------
    ValueError
        Where alpha is not between 0 and 1.

    References
    ----------
    ISO 5725-2:1994, 7.3.3; the beta form for unequal groups is own derivation and equals it for equal ones.

    Examples
    --------
    >>> result = cochran({"A": [1.0, 1.1, 0.9], "B": [1.0, 1.2, 1.1], "C": [0.2, 2.0, 1.1]})
    >>> result.group, round(result.statistic, 3), result.flagged
    ('C', 0.976, True)
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha is {alpha}, it must lie between 0 and 1")
    sizes = {name: np.asarray(values).size for name, values in groups.items() if np.asarray(values).size > 1}
    squares = {name: sum_of_squares(groups[name]) for name in sizes}
    total, degrees = math.fsum(squares.values()), sum(sizes.values()) - len(sizes)
    if len(sizes) < 2 or total <= 0.0:
        reason = "fewer than two groups have repeats" if len(sizes) < 2 else "no group varies"
        return CochranResult(None, None, None, None, False, f"No test: {reason}.")

    def tail(name: str) -> float:
        v = sizes[name] - 1
        return float(betaincc(v / 2.0, (degrees - v) / 2.0, squares[name] / total))

    group = min(sizes, key=lambda name: (tail(name), -squares[name]))
    v = sizes[group] - 1
    statistic = squares[group] / total
    critical = float(betaincinv(v / 2.0, (degrees - v) / 2.0, 1.0 - alpha / len(sizes)))
    note = None if len(set(sizes.values())) == 1 else "Groups differ in size; each is judged by its own."
    p = min(1.0, len(sizes) * tail(group))
    return CochranResult(group, statistic, critical, p, statistic > critical, note)

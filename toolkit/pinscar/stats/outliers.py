"""Outlier tests for single values: Grubbs and the generalised extreme studentised deviate. Flags only.

Nothing is dropped. Positive responses are tested on their logarithms, as they are analysed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr, stdtrit

Side = Literal["two-sided", "high", "low"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GrubbsResult:
    """Result of a Grubbs test.

    Parameters
    ----------
    index : int or None
        Position of the most extreme value; None where no test was possible.
    statistic : float or None
        Its distance from the mean in standard deviations.
    critical : float or None
        Critical value.
    p : float or None
        Probability of a statistic this large without outliers, an upper bound (Bonferroni), at most 1.
    flagged : bool
        Whether the statistic is over the critical value.
    note : str or None
        Why no test was possible.
    """

    index: int | None
    statistic: float | None
    critical: float | None
    p: float | None
    flagged: bool
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EsdResult:
    """Result of the generalised extreme studentised deviate test.

    Parameters
    ----------
    indices : tuple of int
        Positions in the order in which they were taken out, the most extreme first.
    statistics, criticals : tuple of float
        R_i and lambda_i of each step.
    n_outliers : int
        Largest i with R_i over lambda_i.
    flagged : tuple of int
        Positions of the outliers.
    note : str or None
        Why fewer steps were made than asked for.
    """

    indices: tuple[int, ...]
    statistics: tuple[float, ...]
    criticals: tuple[float, ...]
    n_outliers: int
    flagged: tuple[int, ...]
    note: str | None = None


def grubbs_critical(n: int, alpha: float = 0.05, side: Side = "two-sided") -> float:
    r"""Compute the critical value of the Grubbs statistic.

    .. math:: G_c = \frac{n-1}{\sqrt n} \sqrt{\frac{t^2}{n - 2 + t^2}}, \quad t = t_{1-\alpha/m}(n - 2)

    with m = 2 n for the two-sided and m = n for a one-sided test.

    Parameters
    ----------
    n : int
        Number of values [-], at least 3.
    alpha : float
        Level of the test [-].
    side : {"two-sided", "high", "low"}
        Which end is tested.

    Returns
    -------
    float
        Critical value [-].

    Raises
    ------
    ValueError
        Where n is under 3 or alpha is not between 0 and 1.

    References
    ----------
    F. E. Grubbs, Procedures for detecting outlying observations in samples, 1969; ASTM E178; NIST/SEMATECH
    e-Handbook of Statistical Methods, 1.3.5.17.1.

    Examples
    --------
    >>> round(grubbs_critical(8, 0.05, "high"), 3)
    2.032
    """
    if n < 3 or not 0.0 < alpha < 1.0:
        raise ValueError(f"n is {n} and alpha {alpha}: needs at least 3 values and a level between 0 and 1")
    t = float(stdtrit(n - 2, 1.0 - alpha / _tails(n, side)))
    return (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))


def grubbs(values: ArrayLike, alpha: float = 0.05, side: Side = "two-sided") -> GrubbsResult:
    r"""Test the most extreme of a row of values by Grubbs.

    .. math:: G = \max_i |x_i - \bar x| / s

    Normal values are assumed. With three values any two close ones make the third look far: a flag calls for
    a look at the run, no more.

    Parameters
    ----------
    values : array_like
        Values on the scale of analysis [any unit], shape (n,), finite.
    alpha : float
        Level of the test [-].
    side : {"two-sided", "high", "low"}
        Which end is tested.

    Returns
    -------
    GrubbsResult
        Position, statistic, critical value and flag; a note where fewer than three values or no spread allow
        none.

    References
    ----------
    F. E. Grubbs, Procedures for detecting outlying observations in samples, 1969; ASTM E178.

    Examples
    --------
    >>> result = grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], side="high")
    >>> result.index, round(result.statistic, 4), result.flagged
    (7, 2.4688, True)
    """
    x = _vector(values)
    if x.size < 3 or np.ptp(x) == 0.0:
        reason = "Fewer than three values: no outlier test." if x.size < 3 else "All values equal: no test."
        return GrubbsResult(index=None, statistic=None, critical=None, p=None, flagged=False, note=reason)
    critical = grubbs_critical(x.size, alpha, side)
    deviations = _signed_deviations(x, side)
    index = int(np.argmax(deviations))
    statistic = float(deviations[index] / np.std(x, ddof=1))
    return GrubbsResult(
        index=index,
        statistic=statistic,
        critical=critical,
        p=_grubbs_p(statistic, x.size, side),
        flagged=statistic > critical,
    )


def generalised_esd(values: ArrayLike, max_outliers: int, alpha: float = 0.05) -> EsdResult:
    r"""Test for up to a stated number of outliers by the generalised extreme studentised deviate.

    Step i takes out the value farthest from the mean of those left, with

    .. math::
        R_i = \max |x - \bar x| / s, \quad
        \lambda_i = \frac{(n - i)\, t}{\sqrt{(n - i - 1 + t^2)(n - i + 1)}}, \quad
        t = t_{1 - \alpha / (2 (n - i + 1))}(n - i - 1)

    The number of outliers is the largest i with R_i over lambda_i, also where an earlier step stays under it.
    Normal values are assumed; the level is near its nominal value from about 15 values up.

    Parameters
    ----------
    values : array_like
        Values on the scale of analysis [any unit], shape (n,), finite.
    max_outliers : int
        Largest number of outliers looked for [-], at least 1; at most n - 2 steps are made.
    alpha : float
        Level of the test [-].

    Returns
    -------
    EsdResult
        Statistics and critical values of every step, and the flagged positions.

    Raises
    ------
    ValueError
        Where `max_outliers` is under 1 or alpha is not between 0 and 1.

    References
    ----------
    B. Rosner, Percentage points for a generalized ESD many-outlier procedure, 1983; NIST/SEMATECH e-Handbook
    of Statistical Methods, 1.3.5.17.3.

    Examples
    --------
    >>> result = generalised_esd([1.0, 1.2, 0.9, 1.1, 1.0, 0.8, 1.05, 9.0, 8.5], 3)
    >>> result.n_outliers, result.flagged
    (2, (7, 8))
    """
    x = _vector(values)
    if max_outliers < 1 or not 0.0 < alpha < 1.0:
        raise ValueError(f"max_outliers is {max_outliers} and alpha {alpha}: needs 1 or more and 0 to 1")
    left = np.arange(x.size)
    indices, statistics, criticals = [], [], []
    for step in range(1, min(max_outliers, x.size - 2) + 1):
        here = x[left]
        if np.ptp(here) == 0.0:
            break
        position = int(np.argmax(np.abs(here - here.mean())))
        statistics.append(float(abs(here[position] - here.mean()) / np.std(here, ddof=1)))
        criticals.append(_esd_critical(x.size, step, alpha))
        indices.append(int(left[position]))
        left = np.delete(left, position)
    over = [i for i, (r, limit) in enumerate(zip(statistics, criticals, strict=True), 1) if r > limit]
    n_outliers = max(over, default=0)
    note = None if len(indices) == max_outliers else f"{x.size} values allow {len(indices)} steps."
    return EsdResult(
        indices=tuple(indices),
        statistics=tuple(statistics),
        criticals=tuple(criticals),
        n_outliers=n_outliers,
        flagged=tuple(indices[:n_outliers]),
        note=note,
    )


def _esd_critical(n: int, step: int, alpha: float) -> float:
    t = float(stdtrit(n - step - 1, 1.0 - alpha / (2.0 * (n - step + 1))))
    return (n - step) * t / math.sqrt((n - step - 1 + t * t) * (n - step + 1))


def _signed_deviations(x: NDArray[np.float64], side: Side) -> NDArray[np.float64]:
    deviations = x - x.mean()
    signed = np.abs(deviations) if side == "two-sided" else deviations if side == "high" else -deviations
    return np.asarray(signed, dtype=np.float64)


def _tails(n: int, side: Side) -> int:
    if side not in ("two-sided", "high", "low"):
        raise ValueError(f"side is {side!r}, it must be two-sided, high or low")
    return 2 * n if side == "two-sided" else n


def _grubbs_p(statistic: float, n: int, side: Side) -> float:
    rest = (n - 1) ** 2 / n - statistic**2
    if rest <= 0.0:
        return 0.0
    t = statistic * math.sqrt((n - 2) / rest)
    return min(1.0, _tails(n, side) * float(stdtr(n - 2, -t)))


def _vector(values: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be a row of finite numbers")
    return x

"""One-way analysis of variance that keeps its digits where the groups share many leading ones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc

from pinscar.stats.moments import stable_mean, sum_of_squares


@dataclass(frozen=True, slots=True)
class OneWayAnova:
    """A one-way analysis of variance.

    Parameters
    ----------
    n : tuple of int
        Values in each group.
    means : tuple of float
        Mean of each group.
    sum_of_squares_between, sum_of_squares_within : float
        Sums of squares between and within the groups.
    df_between, df_within : int
        Their degrees of freedom.
    f : float or None
        Ratio of the mean squares; None where nothing varies within the groups.
    p : float or None
        Probability of a larger ratio where all groups have one mean.
    residual_sd : float
        Root of the mean square within.
    """

    n: tuple[int, ...]
    means: tuple[float, ...]
    sum_of_squares_between: float
    sum_of_squares_within: float
    df_between: int
    df_within: int
    f: float | None
    p: float | None
    residual_sd: float


def one_way_anova(groups: Sequence[ArrayLike]) -> OneWayAnova:
    r"""Analyse the variance of several groups into that between and that within them.

    .. math::
        F = \frac{\sum_i n_i (\bar x_i - \bar x)^2 / (k - 1)}{\sum_i \sum_j (x_{ij} - \bar x_i)^2 / (N - k)}

    All sums are of deviations, summed exactly; none is a difference of large squares. Normal values of equal
    variance are assumed.

    Parameters
    ----------
    groups : sequence of array_like
        Values of each group [any one unit], each of shape (n_i,); at least two groups, and
        more values than groups.

    Returns
    -------
    OneWayAnova
        Sums of squares, degrees of freedom, F, p and the residual standard deviation.

    Raises
    ------
    ValueError
        Where there are fewer than two groups, or no more values than groups.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.3 and 7.4.3.4.

    Examples
    --------
    >>> result = one_way_anova([[1, 2, 3], [2, 3, 4]])
    >>> round(result.f, 9), result.df_between, result.df_within
    (1.5, 1, 4)
    """
    arrays = [np.asarray(group, dtype=np.float64) for group in groups]
    sizes = [array.size for array in arrays]
    if len(arrays) < 2 or sum(sizes) <= len(arrays):
        raise ValueError(f"{len(arrays)} groups of {sum(sizes)} values: needs two groups and a repeated one")
    origin = float(arrays[0].flat[0]) if sizes[0] else 0.0
    # Means about a common origin keep the digits in which the groups differ.
    shifted = [stable_mean(array - origin) for array in arrays]
    grand = math.fsum(n * mean for n, mean in zip(sizes, shifted, strict=True)) / sum(sizes)
    between = math.fsum(n * (mean - grand) ** 2 for n, mean in zip(sizes, shifted, strict=True))
    within = math.fsum(sum_of_squares(array) for array in arrays)
    df_between, df_within = len(arrays) - 1, sum(sizes) - len(arrays)
    mean_square = within / df_within
    f = between / df_between / mean_square if mean_square > 0.0 else None
    return OneWayAnova(
        n=tuple(sizes),
        means=tuple(origin + mean for mean in shifted),
        sum_of_squares_between=between,
        sum_of_squares_within=within,
        df_between=df_between,
        df_within=df_within,
        f=f,
        p=None if f is None else float(fdtrc(df_between, df_within, f)),
        residual_sd=math.sqrt(mean_square),
    )

"""The ratio of two means where logarithms do not exist: Fieller's limits with unequal spreads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from pinscar.stats.checks import check_confidence, finite_vector


@dataclass(frozen=True, slots=True)
class MeanRatio:
    """A ratio of two means with its limits.

    Parameters
    ----------
    ratio : float or None
        Mean of the subject over mean of the reference [-]; None where that is not clearly above zero.
    low, high : float or None
        Its limits [-]; None where there are none.
    p : float or None
        Two-sided p of a ratio of 1 [-].
    df : float or None
        Degrees of freedom.
    reason : str or None
        Why there are no limits.
    """

    ratio: float | None
    low: float | None
    high: float | None
    p: float | None
    df: float | None
    reason: str | None


def mean_ratio(subject: ArrayLike, reference: ArrayLike, confidence: float = 0.95) -> MeanRatio:
    r"""Ratio of two means by Fieller's theorem, each group with its own spread.

    The limits are the values of theta that a t test does not reject,

    .. math:: \frac{(\bar x - \theta \bar y)^2}{s_x^2/m + \theta^2 s_y^2/n} \le t_\nu^2

    with :math:`\nu = \min(m, n) - 1`, which keeps the error at or below what is asked also where the spreads
    differ. The set is an interval only where the mean of the reference is clearly above zero,
    :math:`\bar y / (s_y/\sqrt n) > t_\nu`; elsewhere there are no limits. It assumes independent runs with
    roughly normal means.

    Parameters
    ----------
    subject, reference : array_like, shapes (m,) and (n,)
        Values of both groups in one unit; zeros and negative values are allowed.
    confidence : float
        Confidence of the limits [-].

    Returns
    -------
    MeanRatio
        Ratio and limits, or the reason why there are none.

    Raises
    ------
    ValueError
        If a value is not finite, or the confidence lies outside 0 to 1.

    References
    ----------
    Fieller, "Some problems in interval estimation", J. R. Stat. Soc. B 16 (1954) 175-185, for the theorem;
    the smaller degrees of freedom as in Scheffe, JASA 65 (1970) 1501-1508.

    Examples
    --------
    >>> found = mean_ratio([4.0, 5.0, 6.0], [1.0, 2.0, 3.0, 2.0])
    >>> round(found.ratio, 2), found.low < 2.5 < found.high
    (2.5, True)
    >>> mean_ratio([1.0, 2.0], [0.0, 1.0]).reason
    'the mean of the reference is not clearly above zero'
    """
    check_confidence(confidence)
    first, second = finite_vector(subject, "subject"), finite_vector(reference, "reference")
    if min(first.size, second.size) < 2:
        return MeanRatio(None, None, None, None, None, "a single run has no spread")
    if np.ptp(first) == 0 or np.ptp(second) == 0:
        return MeanRatio(None, None, None, None, None, "all runs of one side gave the same value")
    x, y = float(first.mean()), float(second.mean())
    vx, vy = float(first.var(ddof=1)) / first.size, float(second.var(ddof=1)) / second.size
    df = float(min(first.size, second.size) - 1)
    t2 = float(stdtrit(df, 0.5 + confidence / 2)) ** 2
    a = y * y - t2 * vy
    if y <= 0 or a <= 0:
        reason = "the mean of the reference is not clearly above zero"
        return MeanRatio(None, None, None, None, df, reason)
    root = float(np.sqrt((x * y) ** 2 - a * (x * x - t2 * vx)))
    p = 2.0 * float(stdtr(df, -abs(x - y) / np.sqrt(vx + vy)))
    return MeanRatio(x / y, (x * y - root) / a, (x * y + root) / a, p, df, None)

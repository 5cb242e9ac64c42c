"""The centre of one group of runs with Student's t interval, on the log or the linear scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from pinscar.stats.checks import check_confidence, from_log, on_scale
from pinscar.stats.estimate import Estimate, Scale

SINGLE_RUN = "single run, no interval"
NO_LIMIT = "the runs differ so widely that the interval has no limit on one side"
ZERO_SPREAD = (
    "all runs gave the same value, so the interval has no width; "
    "that tells of the resolution of the reading, not of certainty"
)


def geometric_mean(values: ArrayLike, confidence: float = 0.95) -> Estimate:
    r"""Geometric mean with the t interval on logarithms.

    .. math:: \exp\left(\bar y \pm t_{n-1} \, s_y / \sqrt n\right), \quad y = \ln x

    It assumes that the runs are independent and that their logarithms are normally distributed; the
    geometric mean then estimates the median.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Estimate
        In the unit of the values; ``sd`` is that of the natural logarithms. One run gives no interval.

    Raises
    ------
    ValueError
        If there are no values, or one is not positive and finite.

    References
    ----------
    Student, "The probable error of a mean", Biometrika 6 (1908) 1-25, applied to logarithms.

    Examples
    --------
    >>> result = geometric_mean([100.0, 110.0, 121.0])
    >>> round(result.estimate, 6), round(result.low, 4), round(result.high, 3)
    (110.0, 86.8096, 139.386)
    >>> geometric_mean([118.0]).method
    'single run, no interval'
    """
    return _t_estimate(on_scale(values, "log"), "log", check_confidence(confidence), values)


def mean(values: ArrayLike, confidence: float = 0.95) -> Estimate:
    r"""Arithmetic mean with the t interval.

    .. math:: \bar x \pm t_{n-1} \, s / \sqrt n

    It assumes that the runs are independent and normally distributed.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one a run, in any unit.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Estimate
        In the unit of the values. One run gives no interval.

    Raises
    ------
    ValueError
        If there are no values, or one is not finite.

    References
    ----------
    Student, "The probable error of a mean", Biometrika 6 (1908) 1-25. The example is NIST/SEMATECH e-Handbook
    1.3.5.2's formula on three numbers.

    Examples
    --------
    >>> result = mean([1.0, 2.0, 3.0])
    >>> result.estimate, round(result.low, 4), round(result.high, 4)
    (2.0, -0.4841, 4.4841)
    """
    return _t_estimate(on_scale(values, "linear"), "linear", check_confidence(confidence), values)


def _t_estimate(scaled: NDArray[np.float64], scale: Scale, confidence: float, values: ArrayLike) -> Estimate:
    name = "geometric mean, t interval on logs" if scale == "log" else "mean, t interval"
    n = scaled.size
    centre = float(scaled.mean())
    if n == 1:
        only = float(np.asarray(values, dtype=np.float64)[0])
        return Estimate(1, 0, only, None, None, confidence, scale, None, None, SINGLE_RUN, None)
    if np.ptp(scaled) == 0:
        same = float(np.asarray(values, dtype=np.float64)[0])
        return Estimate(n, 0, same, same, same, confidence, scale, 0.0, float(n - 1), name, ZERO_SPREAD)
    sd = float(scaled.std(ddof=1))
    reach = float(stdtrit(n - 1, 0.5 + confidence / 2)) * sd / np.sqrt(n)
    back = from_log if scale == "log" else float
    low, high = back(centre - reach), back(centre + reach)
    note = NO_LIMIT if None in (low, high) else None
    return Estimate(n, 0, back(centre), low, high, confidence, scale, sd, float(n - 1), name, note)

"""Left-censored runs completed by what a fit expects of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from pinscar.stats.censored import HALF_LOG_2PI

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def completed_runs(
    logs: FloatArray, left_censored: BoolArray, means: FloatArray, sd: float
) -> tuple[FloatArray, FloatArray]:
    r"""Put the expected value of a normal below its limit in place of each limit.

    .. math:: E = \mu - s\,h(z), \quad V = s^2 [1 - h(z)(z + h(z))], \quad z = (c - \mu)/s, \quad
              h = \varphi / \Phi

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    means : ndarray, shape (n,)
        Mean of each run by the fit [-].
    sd : float
        Standard deviation of a run about it [-].

    Returns
    -------
    tuple of two ndarray, shape (n,)
        The completed logarithms, and the variance V of each that is not known; 0 where it was observed [-].

    References
    ----------
    Dempster, Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3; moments of the truncated normal
    as Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, 2nd ed. 1994, section 13.10.1.

    Examples
    --------
    Half a standard normal: its mean is minus the root of 2 / pi, its variance 1 - 2 / pi.

    >>> logs, lost = completed_runs(np.zeros(1), np.ones(1, bool), np.zeros(1), 1.0)
    >>> round(float(logs[0]), 6), round(float(lost[0]), 6)
    (-0.797885, 0.36338)
    """
    z = (logs - means) / sd
    mills = np.exp(-0.5 * z**2 - HALF_LOG_2PI - log_ndtr(z))
    values = np.where(left_censored, means - sd * mills, logs)
    lost = np.where(left_censored, sd**2 * (1.0 - mills * (z + mills)), 0.0)
    return np.asarray(values, dtype=np.float64), np.asarray(lost, dtype=np.float64)

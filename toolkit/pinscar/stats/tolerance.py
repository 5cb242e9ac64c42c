"""Where the next run, or most runs, will lie: prediction and tolerance intervals."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import chdtrc, chndtrix, ndtri, stdtrit

from pinscar.stats.checks import check_confidence, from_log, on_scale
from pinscar.stats.estimate import Estimate, Scale
from pinscar.stats.intervals import SINGLE_RUN, ZERO_SPREAD


def prediction_interval(values: ArrayLike, confidence: float = 0.95, scale: Scale = "log") -> Estimate:
    r"""Interval that will hold one more run.

    .. math:: \bar y \pm t_{n-1} \, s \sqrt{1 + 1/n}

    It assumes that the next run comes from the same normal distribution, on the scale of the analysis.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one a run, in any unit; positive on the log scale.
    confidence : float
        Chance that the next run lies inside [-].
    scale : {"log", "linear"}
        Scale of the analysis.

    Returns
    -------
    Estimate
        The centre, and the limits for one more run. One run gives no interval.

    References
    ----------
    Hahn and Meeker, Statistical Intervals, Wiley 1991, section 4.7.

    Examples
    --------
    >>> result = prediction_interval([1.0, 2.0, 3.0], 0.95, "linear")
    >>> round(result.low, 4), round(result.high, 4)
    (-2.9683, 6.9683)
    """
    n = on_scale(values, scale).size
    factor = (
        float(stdtrit(n - 1, 0.5 + check_confidence(confidence) / 2)) * np.sqrt(1 + 1 / n) if n > 1 else 0.0
    )
    return _around(values, factor, confidence, scale, "prediction interval for one more run")


def tolerance_interval(
    values: ArrayLike, content: float = 0.95, confidence: float = 0.95, scale: Scale = "log"
) -> Estimate:
    r"""Interval that holds a share of all runs, with a confidence: :math:`\bar y \pm k_2 s`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one a run, in any unit; positive on the log scale.
    content : float
        Share of all runs that the interval is to hold [-].
    confidence : float
        Confidence that it does [-].
    scale : {"log", "linear"}
        Scale of the analysis.

    Returns
    -------
    Estimate
        The centre, and the tolerance limits. One run gives no interval.

    References
    ----------
    ISO 16269-6; Hahn and Meeker, Statistical Intervals, Wiley 1991, section 4.6.

    Examples
    --------
    >>> result = tolerance_interval([1.0, 2.0, 3.0, 4.0, 5.0], 0.95, 0.95, "linear")
    >>> round((result.high - 3.0) / np.std([1, 2, 3, 4, 5], ddof=1), 3)
    np.float64(5.077)
    """
    n = on_scale(values, scale).size
    factor = two_sided_factor(n, content, confidence) if n > 1 else 0.0
    return _around(
        values, factor, confidence, scale, f"tolerance interval for {100 * content:.4g} % of all runs"
    )


def one_sided_factor(n: int, content: float, confidence: float) -> float:
    r"""Factor of a one-sided tolerance limit, from the noncentral t distribution.

    .. math:: k_1 = t'_{n-1, \gamma}\!\left(z_P \sqrt n\right) / \sqrt n

    Parameters
    ----------
    n : int
        Number of runs, at least two [-].
    content : float
        Share of all runs on the right side of the limit [-].
    confidence : float
        Confidence of the limit [-].

    Returns
    -------
    float
        The factor of the standard deviation [-].

    Raises
    ------
    ValueError
        If n is below two, or a share does not lie between 0 and 1.

    References
    ----------
    ISO 16269-6 (prints 2.911 for n 10, 95 %, 95 %, from memory); NIST/SEMATECH e-Handbook 7.2.6.3.

    Examples
    --------
    >>> round(one_sided_factor(10, 0.95, 0.95), 3)
    2.911
    """
    from scipy.stats import nct  # slow to import, and needed here only

    _check(n, content, confidence)
    root = float(np.sqrt(n))
    return float(nct.ppf(confidence, n - 1, float(ndtri(content)) * root)) / root


def two_sided_factor(n: int, content: float, confidence: float) -> float:
    r"""Factor of a two-sided tolerance interval, from the exact integral.

    .. math:: \gamma = 2 \sqrt n \int_0^\infty \varphi(\sqrt n x) \,
        P\left(\chi^2_{n-1} \ge (n-1) r(x)^2 / k^2\right) dx, \quad \Phi(x + r) - \Phi(x - r) = P

    done by Gauss-Legendre quadrature, and solved for k.

    Parameters
    ----------
    n : int
        Number of runs, at least two [-].
    content : float
        Share of all runs inside the interval [-].
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    float
        The factor of the standard deviation [-].

    Raises
    ------
    ValueError
        If n is below two, or a share does not lie between 0 and 1.

    References
    ----------
    Odeh and Owen, Tables for Normal Tolerance Limits, 1980; ISO 16269-6 (prints 3.394 for n 10, 95 %, 95 %,
    from memory).

    Examples
    --------
    >>> round(two_sided_factor(10, 0.95, 0.95), 3)
    3.393
    """
    _check(n, content, confidence)
    nodes, weights = np.polynomial.legendre.leggauss(80)
    span = 9 / np.sqrt(n)
    x = span * (nodes + 1) / 2
    density = weights * span * np.sqrt(n / (2 * np.pi)) * np.exp(-n * x**2 / 2)
    radius_squared = chndtrix(content, 1.0, x**2)

    def shortfall(log_k: float) -> float:
        return float(density @ chdtrc(n - 1, (n - 1) * radius_squared * np.exp(-2 * log_k))) - confidence

    return float(np.exp(brentq(shortfall, -10.0, 20.0, xtol=1e-12)))


def _check(n: int, content: float, confidence: float) -> None:
    if n < 2:
        raise ValueError(f"n must be at least 2, found {n}")
    if not 0 < content < 1:
        raise ValueError(f"content must lie between 0 and 1, found {content}")
    check_confidence(confidence)


def _around(values: ArrayLike, factor: float, confidence: float, scale: Scale, what: str) -> Estimate:
    scaled = on_scale(values, scale)
    back = from_log if scale == "log" else float
    n, centre = scaled.size, float(scaled.mean())
    if n == 1:
        return Estimate(1, 0, back(centre), None, None, confidence, scale, None, None, SINGLE_RUN)
    sd = 0.0 if np.ptp(scaled) == 0 else float(scaled.std(ddof=1))
    low, high = back(centre - factor * sd), back(centre + factor * sd)
    method = what + (", normal logarithms" if scale == "log" else ", normal values")
    note = ZERO_SPREAD if sd == 0 else None
    return Estimate(n, 0, back(centre), low, high, confidence, scale, sd, float(n - 1), method, note)

"""Exact power and sample size of t tests, by the noncentral t distribution."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import stdtrit

from pinscar.stats.noncentral_t import noncentral_t_tail

Design = Literal["two-sample", "one-sample", "paired"]
Sided = Literal["two-sided", "one-sided"]

# No bench makes more repeats; the root is looked for below this.
MOST = 1e7


def noncentral_t_power(
    df: ArrayLike, noncentrality: ArrayLike, alpha: float = 0.05, sided: Sided = "two-sided"
) -> NDArray[np.float64]:
    r"""Compute the power of a t test from its degrees of freedom and noncentrality.

    .. math:: 1 - F_{\nu,\delta}(t_c) + F_{\nu,\delta}(-t_c), \quad t_c = t_{1-\alpha/2}(\nu)

    One-sided, the last term falls away and t_c is the 1 - alpha quantile.

    Parameters
    ----------
    df : array_like
        Degrees of freedom [-], positive, broadcast.
    noncentrality : array_like
        True difference over its standard error [-], zero or more, broadcast.
    alpha : float
        Level of the test [-].
    sided : {"two-sided", "one-sided"}
        Kind of test.

    Returns
    -------
    ndarray
        Power [-].

    Raises
    ------
    ValueError
        Where alpha is not between 0 and 1 or the kind of test is unknown.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2; N. L. Johnson and B. L.
    Welch, Applications of the non-central t-distribution, 1940.

    Examples
    --------
    Two groups of 20 whose means lie one standard deviation apart.

    >>> round(float(noncentral_t_power(38, 10**0.5)), 6)
    0.868953
    """
    if not 0.0 < alpha < 1.0 or sided not in ("two-sided", "one-sided"):
        raise ValueError(f"alpha is {alpha} and sided {sided!r}: needs 0 to 1, and two-sided or one-sided")
    nu, delta = np.asarray(df, dtype=np.float64), np.asarray(noncentrality, dtype=np.float64)
    critical = stdtrit(nu, 1.0 - (alpha / 2.0 if sided == "two-sided" else alpha))
    power = noncentral_t_tail(critical, nu, delta)
    if sided == "two-sided":
        power = power + noncentral_t_tail(critical, nu, -delta)
    return np.asarray(power, dtype=np.float64)


def t_test_power(
    n: ArrayLike,
    effect: float,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
) -> NDArray[np.float64]:
    r"""Compute the power of a t test for a standardised difference.

    Two samples of n each: :math:`\delta = d \sqrt{n/2}` with 2 n - 2 degrees of freedom; one sample or n
    pairs: :math:`\delta = d \sqrt n` with n - 1.

    Parameters
    ----------
    n : array_like
        Runs a group, or pairs [-], over 1; fractions allowed.
    effect : float
        True difference over the standard deviation (paired: of the differences) [-].
    alpha : float
        Level of the test [-].
    design : {"two-sample", "one-sample", "paired"}
        Design of the comparison.
    sided : {"two-sided", "one-sided"}
        Kind of test.

    Returns
    -------
    ndarray
        Power [-], the shape of `n`.

    Raises
    ------
    ValueError
        Where a group has no degrees of freedom or the design is unknown.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2.

    Examples
    --------
    >>> round(float(t_test_power(20, 1.0)), 6)
    0.868953
    """
    runs = np.asarray(n, dtype=np.float64)
    if not bool(np.all(runs > 1.0)):
        raise ValueError("n must be over 1: a single run a group leaves no spread to judge by")
    if design not in ("two-sample", "one-sample", "paired"):
        raise ValueError(f"design is {design!r}, it must be two-sample, one-sample or paired")
    samples = 2.0 if design == "two-sample" else 1.0
    return noncentral_t_power(samples * (runs - 1.0), abs(effect) * np.sqrt(runs / samples), alpha, sided)


def sample_size(
    effect: float,
    power: float = 0.8,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
) -> float:
    """Compute the runs a group (or pairs) that give a wanted power, as a fraction.

    Parameters
    ----------
    effect : float
        True difference over the standard deviation [-], not zero.
    power : float
        Wanted power [-], over alpha and under 1.
    alpha : float
        Level of the test [-].
    design : {"two-sample", "one-sample", "paired"}
        Design of the comparison.
    sided : {"two-sided", "one-sided"}
        Kind of test.

    Returns
    -------
    float
        Runs a group [-]; round up. At least 2, and infinite over ten million.

    Raises
    ------
    ValueError
        Where the effect is zero or the power is not between alpha and 1.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2; root by Brent's method.

    Examples
    --------
    >>> round(sample_size(1.0, 0.9), 3)
    22.021
    """
    if effect == 0.0 or not alpha < power < 1.0:
        raise ValueError(f"effect is {effect} and power {power}: needs a difference, and alpha < power < 1")

    def lacking(log_n: float) -> float:
        return float(t_test_power(math.exp(log_n), effect, alpha, design, sided)) - power

    low = high = math.log(2.0)
    if lacking(low) >= 0.0:
        return 2.0
    # A coarse search first: far above the answer the distribution is costly and of no use.
    while lacking(high) < 0.0:
        low, high = high, high + math.log(2.0)
        if high > math.log(MOST):
            return math.inf
    return math.exp(float(brentq(lacking, low, high, xtol=1e-12)))

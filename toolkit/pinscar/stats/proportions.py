"""Intervals for proportions (runs that smoked) and for counts (drips in a run)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import betaincinv, gammaincinv, ndtri


@dataclass(frozen=True, slots=True)
class RateInterval:
    """A proportion or a rate with its interval.

    Parameters
    ----------
    estimate : float
        The proportion or rate.
    low, high : float
        Confidence limits.
    confidence : float
        Two-sided confidence.
    method : str
        Kind of interval, as a report prints it.
    """

    estimate: float
    low: float
    high: float
    confidence: float
    method: str


def wilson(successes: int, n: int, confidence: float = 0.95) -> RateInterval:
    r"""Estimate a proportion with the Wilson score interval.

    .. math:: \frac{2 x + z^2 \pm z \sqrt{z^2 + 4 x (1 - x/n)}}{2 (n + z^2)}

    Its coverage is near the nominal one on average, also for few runs; `clopper_pearson` never falls under
    it.

    Parameters
    ----------
    successes : int
        Runs in which it happened, x [-].
    n : int
        All runs [-], at least 1.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RateInterval
        Proportion and limits [-].

    Raises
    ------
    ValueError
        Where the counts or the confidence are impossible.

    References
    ----------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference, 1927; R. G. Newcombe,
    Two-sided confidence intervals for the single proportion, 1998, method 3.

    Examples
    --------
    >>> result = wilson(15, 148)
    >>> round(result.low, 4), round(result.high, 4)
    (0.0624, 0.1605)
    """
    _check(successes, n, confidence)
    z = float(ndtri(0.5 + confidence / 2.0))
    root = z * math.sqrt(z * z + 4.0 * successes * (1.0 - successes / n))
    middle, width = 2.0 * successes + z * z, 2.0 * (n + z * z)
    # At the ends the limit is 0 or 1 in exact arithmetic; rounding must not leave it beside that.
    low = 0.0 if successes == 0 else (middle - root) / width
    high = 1.0 if successes == n else (middle + root) / width
    return RateInterval(successes / n, low, high, confidence, "Wilson score interval")


def clopper_pearson(successes: int, n: int, confidence: float = 0.95) -> RateInterval:
    r"""Estimate a proportion with the exact interval of Clopper and Pearson.

    .. math:: B_{\alpha/2}(x, n - x + 1) \;\text{to}\; B_{1-\alpha/2}(x + 1, n - x)

    Parameters
    ----------
    successes : int
        Runs in which it happened, x [-].
    n : int
        All runs [-], at least 1.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RateInterval
        Proportion and limits [-].

    Raises
    ------
    ValueError
        Where the counts or the confidence are impossible.

    References
    ----------
    C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits illustrated in the case of the
    binomial, 1934.

    Examples
    --------
    >>> result = clopper_pearson(1, 29)
    >>> round(result.low, 4), round(result.high, 4)
    (0.0009, 0.1776)
    """
    _check(successes, n, confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if successes == 0 else float(betaincinv(successes, n - successes + 1, tail))
    high = 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, 1.0 - tail))
    return RateInterval(successes / n, low, high, confidence, "Clopper-Pearson exact interval")


def poisson_interval(count: int, exposure: float = 1.0, confidence: float = 0.95) -> RateInterval:
    r"""Estimate the rate of a count with the exact Poisson interval.

    .. math:: \chi^2_{\alpha/2}(2 x) / 2 \;\text{to}\; \chi^2_{1-\alpha/2}(2 x + 2) / 2

    Events are assumed independent and of one rate; drips that come in bursts vary more.

    Parameters
    ----------
    count : int
        Number of events x [-], over all runs taken together.
    exposure : float
        What the rate is taken over: number of runs [-], time [s] or distance [m]; positive.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RateInterval
        Rate and limits [1/exposure].

    Raises
    ------
    ValueError
        Where the count is negative, the exposure not positive or the confidence not in (0, 1).

    References
    ----------
    F. Garwood, Fiducial limits for the Poisson distribution, 1936.

    Examples
    --------
    >>> result = poisson_interval(10)
    >>> round(result.low, 3), round(result.high, 2)
    (4.795, 18.39)
    """
    if count < 0 or not exposure > 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError(f"count {count}, exposure {exposure}, confidence {confidence}: out of range")
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    high = float(gammaincinv(count + 1, 1.0 - tail))
    return RateInterval(
        count / exposure, low / exposure, high / exposure, confidence, "exact Poisson interval"
    )


def _check(successes: int, n: int, confidence: float) -> None:
    if n < 1 or not 0 <= successes <= n:
        raise ValueError(f"{successes} of {n}: needs at least one run and no more successes than runs")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}, it must lie between 0 and 1")

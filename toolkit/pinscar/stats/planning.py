"""Repeats for a wanted ratio, and the ratio that a number of repeats can show, on the log scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

from pinscar.stats.power import Design, Sided, noncentral_t_power


@dataclass(frozen=True, slots=True)
class RepeatsPlan:
    """Repeats a lubricant for a wanted ratio.

    Parameters
    ----------
    repeats : int or None
        Runs of each lubricant; None where more than the stated most would be needed.
    power : float or None
        Power that they give.
    ratio, log_sd : float
        Ratio to be shown, and standard deviation of the logarithms planned with.
    alpha : float
        Level for one comparison, after the adjustment for several.
    method : str
        What was computed, as a report prints it.
    """

    repeats: int | None
    power: float | None
    ratio: float
    log_sd: float
    alpha: float
    method: str


def family_alpha(alpha: float, comparisons: int) -> float:
    r"""Compute the level for one of several comparisons with one reference.

    .. math:: 1 - (1 - \alpha)^{1/m}

    Comparisons that share a reference are positively correlated, so this errs on the safe side of Dunnett's
    exact critical value: about one run in twenty more.

    Parameters
    ----------
    alpha : float
        Level for all comparisons together [-].
    comparisons : int
        Number m of candidates compared with the reference [-], at least 1.

    Returns
    -------
    float
        Level for one comparison [-].

    Raises
    ------
    ValueError
        Where alpha is not between 0 and 1 or there is no comparison.

    References
    ----------
    Z. Sidak, Rectangular confidence regions for the means of multivariate normal distributions, 1967.

    Examples
    --------
    >>> round(family_alpha(0.05, 3), 5)
    0.01695
    """
    if not 0.0 < alpha < 1.0 or comparisons < 1:
        raise ValueError(f"alpha is {alpha} and comparisons {comparisons}: needs 0 to 1, and at least one")
    return float(-math.expm1(math.log1p(-alpha) / comparisons))


def ratio_power(
    repeats: ArrayLike,
    ratio: float,
    log_sd: float,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
    comparisons: int = 1,
) -> NDArray[np.float64]:
    r"""Compute the power to show a ratio of geometric means.

    The effect is :math:`|\ln \text{ratio}|` over the standard deviation of the logarithms. With several
    candidates compared with one reference, all groups of equal size share the spread, (m + 1)(n - 1) degrees
    of freedom, and the level is that of `family_alpha`.

    Parameters
    ----------
    repeats : array_like
        Runs n of each lubricant, or pairs [-], over 1.
    ratio : float
        True ratio of the geometric means [-], positive.
    log_sd : float
        Standard deviation of the logarithms (paired: of the log ratios) [-], positive.
    alpha : float
        Level for all comparisons together [-].
    design : {"two-sample", "one-sample", "paired"}
        Design of the comparison; one-sample is against a fixed limit.
    sided : {"two-sided", "one-sided"}
        Kind of test.
    comparisons : int
        Candidates compared with the reference [-].

    Returns
    -------
    ndarray
        Power [-], the shape of `repeats`.

    Raises
    ------
    ValueError
        Where ratio or standard deviation is not positive, or a group has one run.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2; for several candidates
    Z. Sidak, 1967.

    Examples
    --------
    A difference of one standard deviation, 20 runs each.

    >>> import math
    >>> round(float(ratio_power(20, math.exp(0.2), 0.2)), 6)
    0.868953
    """
    n = np.asarray(repeats, dtype=np.float64)
    if not (ratio > 0.0 and log_sd > 0.0) or not bool(np.all(n > 1.0)):
        raise ValueError(f"ratio {ratio} and log_sd {log_sd} must be positive, repeats over 1")
    level = family_alpha(alpha, comparisons)
    groups = comparisons + 1.0 if design == "two-sample" else 1.0
    effect = abs(math.log(ratio)) / log_sd
    noncentrality = effect * np.sqrt(n / 2.0 if design == "two-sample" else n)
    return noncentral_t_power(groups * (n - 1.0), noncentrality, level, sided)


def repeats_for_ratio(
    ratio: float,
    log_sd: float,
    power: float = 0.8,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
    comparisons: int = 1,
    most: int = 200,
) -> RepeatsPlan:
    """Plan the repeats per lubricant that show a ratio with a wanted power.

    Parameters
    ----------
    ratio : float
        Ratio of geometric means to be shown [-], positive, not 1.
    log_sd : float
        Standard deviation of the logarithms, from a pilot or an earlier campaign [-], positive.
    power : float
        Wanted probability of showing it [-].
    alpha : float
        Level for all comparisons together [-].
    design : {"two-sample", "one-sample", "paired"}
        Design of the comparison.
    sided : {"two-sided", "one-sided"}
        Kind of test.
    comparisons : int
        Candidates compared with the reference [-].
    most : int
        Largest number of repeats looked at [-].

    Returns
    -------
    RepeatsPlan
        Repeats, the power they give, and the method.

    Raises
    ------
    ValueError
        Where the ratio is 1 or an argument is out of range.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2.

    Examples
    --------
    >>> plan = repeats_for_ratio(1.25, 0.15)
    >>> plan.repeats, round(plan.power, 2)
    (9, 0.84)
    """
    if ratio == 1.0 or not 0.0 < power < 1.0:
        raise ValueError(f"ratio is {ratio} and power {power}: needs a difference, and a power from 0 to 1")
    n = np.arange(2, most + 1)
    powers = ratio_power(n, ratio, log_sd, alpha, design, sided, comparisons)
    enough = np.flatnonzero(powers >= power)
    level = family_alpha(alpha, comparisons)
    method = f"{design} t test on logarithms, {sided}, level {level:.3g}, exact power (noncentral t)"
    if comparisons > 1:
        method += f"; level adjusted for {comparisons} comparisons"
    if enough.size == 0:
        return RepeatsPlan(None, None, ratio, log_sd, level, method)
    first = int(enough[0])
    return RepeatsPlan(int(n[first]), float(powers[first]), ratio, log_sd, level, method)


def detectable_ratio(
    repeats: int,
    log_sd: float,
    power: float = 0.8,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
    comparisons: int = 1,
) -> float:
    """Compute the smallest ratio over 1 that a number of repeats shows with a wanted power.

    Its inverse is shown with the same power.

    Parameters
    ----------
    repeats : int
        Runs of each lubricant, or pairs [-], at least 2.
    log_sd : float
        Standard deviation of the logarithms [-], positive.
    power : float
        Wanted probability of showing it [-], over alpha and under 1.
    alpha : float
        Level for all comparisons together [-].
    design : {"two-sample", "one-sample", "paired"}
        Design of the comparison.
    sided : {"two-sided", "one-sided"}
        Kind of test.
    comparisons : int
        Candidates compared with the reference [-].

    Returns
    -------
    float
        Ratio of geometric means [-], over 1.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, ch. 2; root by Brent's method.

    Examples
    --------
    >>> round(detectable_ratio(5, 0.15), 2)
    1.35
    """
    from scipy.optimize import brentq

    if not alpha < power < 1.0:
        raise ValueError(f"power is {power}, it must lie between alpha and 1")

    def lacking(effect: float) -> float:
        ratio = math.exp(effect * log_sd)
        return float(ratio_power(repeats, ratio, log_sd, alpha, design, sided, comparisons)) - power

    high = 1.0
    while lacking(high) < 0.0:
        high *= 2.0
    return math.exp(float(brentq(lacking, 0.0, high, xtol=1e-12)) * log_sd)


def upper_sd(log_sd: float, df: int, confidence: float = 0.8) -> float:
    r"""Compute the upper confidence limit of a pilot's standard deviation, to plan with.

    .. math:: s \sqrt{\nu / \chi^2_{1 - \gamma}(\nu)}

    A plan made with the pilot's own value falls short of its power about every second time; one made with
    this limit falls short in 1 - confidence of the cases.

    Parameters
    ----------
    log_sd : float
        Standard deviation of the logarithms in the pilot [-], positive.
    df : int
        Its degrees of freedom [-], at least 1.
    confidence : float
        One-sided confidence [-].

    Returns
    -------
    float
        Upper limit [-].

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    R. H. Browne, On the use of a pilot sample for sample size determination, 1995.

    Examples
    --------
    >>> round(upper_sd(0.15, 8), 3)
    0.198
    """
    if not log_sd > 0.0 or df < 1 or not 0.0 < confidence < 1.0:
        raise ValueError(f"log_sd {log_sd}, df {df}, confidence {confidence}: out of range")
    return log_sd * math.sqrt(df / float(chdtri(df, confidence)))

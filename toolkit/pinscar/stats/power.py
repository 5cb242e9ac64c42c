"""Exact power and sample size of t tests, pooled and guarded Welch, by the noncentral t distribution."""

from __future__ import annotations

import bisect
import functools
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtri, gammainc, gammaln, ndtr, roots_jacobi, stdtr, stdtrit

from pinscar.stats.simultaneous import control_correlation, joint_critical_value
from pinscar.stats.two_groups import guarded_critical, outward_factor

# Beyond nine standard deviations a normal variable has 1e-19 left.
REACH = 9.0
# From here the spread of the estimated standard deviation is small against the width of the normal step.
MANY = 30.0
LEGENDRE_NODES = 256


def noncentral_t_tail(t: ArrayLike, df: ArrayLike, noncentrality: ArrayLike) -> NDArray[np.float64]:
    r"""Compute the probability that a noncentral t variable exceeds a positive value.

    With Z standard normal and X the root of a chi-square over its degrees of freedom, T = (Z + delta)/X and

    .. math::
        P(T > t) = \int \varphi(z)\, P\!\left(X < \tfrac{z + \delta}{t}\right) dz
                 = \int f_X(x)\, \Phi(\delta - t x)\, dx

    The first form is integrated for less than 30 degrees of freedom, the second from there; both by Gauss and
    Legendre with 256 nodes. A negative noncentrality gives the lower tail of a positive one, by symmetry.

    Parameters
    ----------
    t : array_like
        Value to exceed [-], positive, broadcast.
    df : array_like
        Degrees of freedom [-], at least 1, broadcast.
    noncentrality : array_like
        Noncentrality delta [-], any sign, broadcast.

    Returns
    -------
    ndarray
        Probability [-].

    Raises
    ------
    ValueError
        Where t is not positive or the degrees of freedom are under 1.

    References
    ----------
    N. L. Johnson and B. L. Welch, Applications of the non-central t-distribution, 1940 (the definition; the
    quadrature is own derivation).

    Examples
    --------
    Without noncentrality it is the tail of Student's t: 2.5 % beyond 2.228 at 10 degrees of freedom.

    >>> round(float(noncentral_t_tail(2.228139, 10, 0.0)), 6)
    0.025
    """
    arrays = (np.asarray(value, dtype=np.float64) for value in (t, df, noncentrality))
    value, nu, delta = np.broadcast_arrays(*arrays)
    if not (bool(np.all(value > 0.0)) and bool(np.all(nu >= 1.0))):
        raise ValueError("t must be positive and df at least 1")
    result = np.empty(value.shape, dtype=np.float64)
    for form, here in ((_over_normal, nu < MANY), (_over_spread, nu >= MANY)):
        if bool(np.any(here)):
            result[here] = form(value[here][:, None], nu[here][:, None], delta[here][:, None])
    # The weights add up to one within rounding; a probability must not pass it.
    return np.clip(result, 0.0, 1.0)


@functools.cache
def _gauss_legendre() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    nodes, weights = np.polynomial.legendre.leggauss(LEGENDRE_NODES)
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights


def _over_normal(
    t: NDArray[np.float64], nu: NDArray[np.float64], delta: NDArray[np.float64]
) -> NDArray[np.float64]:
    nodes, weights = _gauss_legendre()
    low = np.clip(-delta, -REACH, REACH)
    half = (REACH - low) / 2.0
    z = low + half * (nodes + 1.0)
    below = gammainc(nu / 2.0, nu / 2.0 * (np.maximum(z + delta, 0.0) / t) ** 2)
    density = np.exp(-(z**2) / 2.0) / np.sqrt(2.0 * np.pi)
    return np.asarray(np.sum(weights * half * density * below, axis=-1), dtype=np.float64)


def _over_spread(
    t: NDArray[np.float64], nu: NDArray[np.float64], delta: NDArray[np.float64]
) -> NDArray[np.float64]:
    nodes, weights = _gauss_legendre()
    reach = (REACH + 3.0) / np.sqrt(2.0 * nu)
    low = np.maximum(1.0 - reach, 0.0)
    half = (1.0 + reach - low) / 2.0
    x = low + half * (nodes + 1.0)
    log_density = (nu - 1.0) * np.log(x) - nu * (x**2 - 1.0) / 2.0
    # Stirling's form of the constant: its large terms cancel on paper instead of in the sum.
    constant = np.log(2.0) + nu / 2.0 * (np.log(nu / 2.0) - 1.0) - gammaln(nu / 2.0)
    density = np.exp(log_density + constant)
    return np.asarray(np.sum(weights * half * density * ndtr(delta - t * x), axis=-1), dtype=np.float64)


JACOBI_NODES = 24


def welch_power(repeats: ArrayLike, noncentrality: ArrayLike, alpha: float = 0.05) -> NDArray[np.float64]:
    r"""Compute the power of Welch's two-sided t test for two groups of n runs whose true spreads are equal.

    With :math:`R = s_1^2/(s_1^2 + s_2^2)` the critical value c(R) is that of
    :func:`pinscar.stats.two_groups.guarded_critical`. R has the Beta distribution with both parameters
    :math:`(n - 1)/2` and is independent of the statistic, which is noncentral t with 2(n - 1) degrees of
    freedom, so

    .. math:: \mathrm{E}_R\left[ P\left(|T_{2(n-1)}(\delta)| > c(R)\right) \right]

    by Gauss-Jacobi quadrature with 24 nodes. Nothing random is drawn.

    Parameters
    ----------
    repeats : array_like
        Runs n of each group [-], over 1, broadcast.
    noncentrality : array_like
        True difference over its standard error, :math:`\delta`, broadcast [-].
    alpha : float
        Level of the test, two-sided [-].

    Returns
    -------
    ndarray
        Power [-].

    Raises
    ------
    ValueError
        If a group has no two runs, or alpha does not lie between 0 and 1.

    References
    ----------
    Own derivation: the ratio of two independent chi-squares is independent of their sum (Johnson, Kotz and
    Balakrishnan, Continuous Univariate Distributions, vol. 2, chapter 25). Test: Welch, Biometrika 34 (1947)
    28-35.

    Examples
    --------
    Without a difference it is the true level, below the nominal one for few runs.

    >>> [round(float(welch_power(n, 0.0)), 4) for n in (3, 5, 20)]
    [0.0297, 0.0427, 0.0496]
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha must lie between 0 and 1, found {alpha}")
    n, delta = np.broadcast_arrays(np.asarray(repeats, dtype=np.float64), np.asarray(noncentrality, float))
    if not bool(np.all(n > 1.0)):
        raise ValueError("repeats must be over 1")
    power = np.array([_one(float(a), float(d), alpha) for a, d in zip(n.flat, delta.flat, strict=True)])
    return power.reshape(n.shape)


def unlike_welch_power(
    variances: tuple[float, float],
    dfs: tuple[float, float],
    difference: float,
    alpha: float = 0.05,
    critical: float | None = None,
) -> float:
    r"""Compute the chance that Welch's limits clear a value on one side, for two groups of any spreads.

    With the true variances of the means :math:`v_1, v_2`, :math:`\theta = v_1/(v_1 + v_2)`, and B of the Beta
    distribution with parameters :math:`f_1/2, f_2/2`, the variance found over the true one is
    :math:`S\,[\theta B/f_1 + (1 - \theta)(1 - B)/f_2]` with S an independent chi-square of
    :math:`f = f_1 + f_2` degrees of freedom, so

    .. math:: \mathrm{E}_B\left[ P\left(T_f(\delta) > c(W)\sqrt{f\,[\theta B/f_1 +
        (1 - \theta)(1 - B)/f_2]}\right) \right], \quad \delta = \frac{|\Delta|}{\sqrt{v_1 + v_2}}

    by Gauss-Jacobi quadrature, with W the share of the first variance found and c that of
    :func:`pinscar.stats.two_groups.guarded_critical`. Nothing random is drawn.

    Parameters
    ----------
    variances : tuple of float
        True variances of both means [any one unit squared], one at least positive.
    dfs : tuple of float
        Degrees of freedom of the variances found [-], positive.
    difference : float
        True difference from the value to be cleared [that unit].
    alpha : float
        Error of both sides of the limits together [-].
    critical : float, optional
        A critical value that takes the place of the guarded one [-].

    Returns
    -------
    float
        The chance [-].

    Raises
    ------
    ValueError
        If alpha does not lie between 0 and 1, or there is no variance.

    References
    ----------
    Own derivation, as :func:`welch_power`.

    Examples
    --------
    Equal groups: but for the other tail it is :func:`welch_power`.

    >>> round(unlike_welch_power((0.2, 0.2), (4.0, 4.0), 2.0), 5), round(float(welch_power(5, 10**0.5)), 5)
    (0.75898, 0.75898)
    """
    total = variances[0] + variances[1]
    if not 0.0 < alpha < 1.0 or not total > 0.0:
        raise ValueError(
            f"alpha must lie between 0 and 1 and variances be over 0, found {alpha}, {variances}"
        )
    share, (first, second) = variances[0] / total, dfs
    df = first + second
    nodes, weights = roots_jacobi(JACOBI_NODES, second / 2.0 - 1.0, first / 2.0 - 1.0)
    beta = (nodes + 1.0) / 2.0
    parts = share * beta / first, (1.0 - share) * (1.0 - beta) / second
    found = parts[0] + parts[1]
    if critical is None:
        whole = (float(max(int(first + 1e-9), 1)), float(max(int(second + 1e-9), 1)))
        guard = outward_factor(whole, round(alpha, 12))
        limit = guarded_critical(parts[0] / found, dfs, alpha, guard)
    else:
        limit = np.full(beta.shape, critical)
    tails = noncentral_t_tail(limit * np.sqrt(df * found), df, abs(difference) / float(np.sqrt(total)))
    return float(min(np.sum(weights * tails) / np.sum(weights), 1.0))


def _one(n: float, delta: float, alpha: float) -> float:
    shape = (n - 1.0) / 2.0 - 1.0
    nodes, weights = roots_jacobi(JACOBI_NODES, shape, shape)
    share = (nodes + 1.0) / 2.0
    dfs = (n - 1.0, n - 1.0)
    critical = guarded_critical(share, dfs, alpha, outward_factor(dfs, round(alpha, 12)))
    tails = noncentral_t_tail(critical, 2.0 * (n - 1.0), delta) + noncentral_t_tail(
        critical, 2.0 * (n - 1.0), -delta
    )
    return float(min(np.sum(weights * tails) / np.sum(weights), 1.0))


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
        raise ValueError("n must be over 1: a single run per group leaves no spread to judge by")
    if design not in ("two-sample", "one-sample", "paired"):
        raise ValueError(f"design is {design!r}, it must be two-sample, one-sample or paired")
    samples = 2.0 if design == "two-sample" else 1.0
    return noncentral_t_power(samples * (runs - 1.0), abs(effect) * np.sqrt(runs / samples), alpha, sided)


Spread = Literal["one", "own"]


@dataclass(frozen=True, slots=True, kw_only=True)
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
    spread: Spread = "one",
) -> NDArray[np.float64]:
    r"""Compute the power to show a ratio of geometric means.

    The effect is :math:`|\ln \text{ratio}|` over the standard deviation of the logarithms. With several
    candidates compared with one reference, all groups are of equal size. Where each group keeps its own
    spread in the comparison, it is the power of Welch's t at the level of `family_alpha`, exactly as a
    campaign is judged; where one spread is taken for all, with (m + 1)(n - 1) degrees of freedom, that of
    Dunnett's limits (one-sided: the level of `family_alpha`).

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
    spread : {"one", "own"}
        Whether the comparison takes one spread for all groups, or each group's own.

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
    Z. Sidak, 1967, and C. W. Dunnett, 1955; for own spreads `pinscar.stats.power`.

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
    if design == "two-sample" and sided == "two-sided":
        if spread == "own":
            return welch_power(n, noncentrality, level)
        if comparisons > 1:
            return _dunnett_power(n, noncentrality, alpha, comparisons)
    return noncentral_t_power(groups * (n - 1.0), noncentrality, level, sided)


def _dunnett_power(
    n: NDArray[np.float64], noncentrality: NDArray[np.float64], alpha: float, comparisons: int
) -> NDArray[np.float64]:
    df = (comparisons + 1.0) * (n - 1.0)
    rho = control_correlation(np.ones(comparisons), 1.0)
    critical = np.array([joint_critical_value(rho, one, 1.0 - alpha) for one in df.ravel()]).reshape(df.shape)
    upper = noncentral_t_tail(critical, df, noncentrality)
    return np.asarray(upper + noncentral_t_tail(critical, df, -noncentrality), dtype=np.float64)


def repeats_for_ratio(
    ratio: float,
    log_sd: float,
    power: float = 0.8,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
    comparisons: int = 1,
    most: int = 200,
    spread: Spread = "one",
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
    spread : {"one", "own"}
        Whether the comparison takes one spread for all groups, or each group's own.

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

    def reached(n: int) -> float:
        return float(ratio_power(n, ratio, log_sd, alpha, design, sided, comparisons, spread))

    level = family_alpha(alpha, comparisons)
    test = "Welch's t test" if spread == "own" else "t test"
    method = f"{design} {test} on logarithms, {sided}, level {level:.3g}, exact power (noncentral t)"
    if comparisons > 1:
        by = "Šidák" if spread == "own" or sided == "one-sided" or design != "two-sample" else "Dunnett"
        method += f"; level adjusted for {comparisons} comparisons ({by})"
    if reached(most) < power:
        return RepeatsPlan(repeats=None, power=None, ratio=ratio, log_sd=log_sd, alpha=level, method=method)
    n = bisect.bisect_left(range(2, most), True, key=lambda runs: reached(runs) >= power) + 2
    return RepeatsPlan(repeats=n, power=reached(n), ratio=ratio, log_sd=log_sd, alpha=level, method=method)


def detectable_ratio(
    repeats: int,
    log_sd: float,
    power: float = 0.8,
    alpha: float = 0.05,
    design: Design = "two-sample",
    sided: Sided = "two-sided",
    comparisons: int = 1,
    spread: Spread = "one",
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
    spread : {"one", "own"}
        Whether the comparison takes one spread for all groups, or each group's own.

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
    if not alpha < power < 1.0:
        raise ValueError(f"power is {power}, it must lie between alpha and 1")

    def lacking(effect: float) -> float:
        ratio = math.exp(effect * log_sd)
        return float(ratio_power(repeats, ratio, log_sd, alpha, design, sided, comparisons, spread)) - power

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


Scale = Literal["log", "linear"]


def further_repeats_to_settle(
    n: int,
    sd: float,
    estimate: float,
    limit: float,
    confidence: float,
    *,
    n_reference: int | None = None,
    comparisons: int = 1,
    scale: Scale = "log",
    probability: float = 0.8,
    most: int = 50,
    more_df: float = 0.0,
) -> int | None:
    r"""Compute how many further repeats are likely to settle a criterion that is undecided now.

    If the estimate and the spread seen now were the truth, the t interval of all N = n + m runs clears the
    limit with the probability that

    .. math:: T > t_{1 - \alpha/2}(N - 1), \quad
              T \sim t'\!\left(N - 1,\; \delta = \frac{|\hat\theta - \theta_0|}{s} \sqrt N\right)

    and the smallest m with at least the wanted probability is given. For a ratio to a reference m runs are
    added to both, with N1 + N2 - 2 degrees of freedom and :math:`\sqrt{N_1 N_2/(N_1 + N_2)}` for the root,
    if both share one spread; for own spreads see :func:`pinscar.stats.further.further_own_spreads`.
    The truth may lie nearer the limit than the estimate does: the number is likely, not sure.

    Parameters
    ----------
    n : int
        Runs now [-], at least 1.
    sd : float
        Standard deviation of single runs on the scale of analysis [-, or the unit on the linear scale],
        positive.
    estimate : float
        Estimate now: geometric mean, mean or ratio [SI], positive on the log scale.
    limit : float
        Limit of the criterion [the same], positive on the log scale.
    confidence : float
        Two-sided confidence of the interval that must clear the limit [-].
    n_reference : int, optional
        Runs of the reference now [-], where the criterion is on a ratio or difference.
    comparisons : int
        Comparisons whose intervals hold together [-]; the level is then that of `family_alpha`.
    scale : {"log", "linear"}
        Scale of analysis.
    probability : float
        Wanted probability of settling it [-].
    most : int
        Largest number of further repeats looked at [-].
    more_df : float
        Degrees of freedom that earlier campaigns add to the spread [-].

    Returns
    -------
    int or None
        Further runs per lubricant, at least 1; None where more than `most` would be needed, or the
        estimate is at the limit.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own derivation from the noncentral t distribution; N. L. Johnson and B. L. Welch, Applications of the
    non-central t-distribution, 1940.

    Examples
    --------
    Five runs of 128 MPa against a limit of 120 MPa, spread 10 %, 95 %: 21 runs in all are likely to settle
    it.

    >>> further_repeats_to_settle(5, 0.10, 128.0, 120.0, 0.95)
    16
    >>> further_repeats_to_settle(5, 0.10, 120.5, 120.0, 0.95) is None
    True
    """
    if n < 1 or not sd > 0.0 or not 0.0 < confidence < 1.0 or not 0.0 < probability < 1.0 or most < 1:
        raise ValueError(
            f"n {n}, sd {sd}, confidence {confidence}, probability {probability}, most {most}: out of range"
        )
    distance = abs(_on_scale(estimate, scale) - _on_scale(limit, scale)) / sd
    added = np.arange(1, most + 1)
    runs = n + added
    df, effective = runs - 1.0 + more_df, runs.astype(np.float64)
    if n_reference is not None:
        reference = n_reference + added
        df, effective = runs + reference - 2.0 + more_df, runs * reference / (runs + reference)
    # Only the side of the limit on which the estimate lies counts: a two-sided interval, one-sided power.
    alpha = family_alpha(1.0 - confidence, comparisons) / 2.0
    settled = noncentral_t_power(df, distance * np.sqrt(effective), alpha, "one-sided") >= probability
    return int(added[np.argmax(settled)]) if bool(np.any(settled)) else None


def _on_scale(value: float, scale: Scale) -> float:
    if scale == "linear":
        return value
    if not value > 0.0:
        raise ValueError(f"{value} has no place on the log scale: it must be positive")
    return math.log(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookPenalty:
    """What looking several times does to the level of a test.

    Parameters
    ----------
    looks : tuple of int
        Runs per lubricant at each look.
    alpha : float
        Level used at each look.
    actual_alpha : float
        Chance of a false difference at one look or another.
    standard_error : float
        Simulation error of that chance.
    alpha_per_look : float
        Level to use at every look so that the whole keeps `alpha`.
    n_simulations, seed : int
        Size and seed of the simulation.
    statement : str
        The result in a plain sentence.
    """

    looks: tuple[int, ...]
    alpha: float
    actual_alpha: float
    standard_error: float
    alpha_per_look: float
    n_simulations: int
    seed: int
    statement: str


def look_penalty(
    looks: Sequence[int], alpha: float = 0.05, n_simulations: int = 20_000, seed: int = 0
) -> LookPenalty:
    """Simulate what it costs to test, add repeats while no difference is shown, and test again.

    Two lubricants without a difference are drawn, normal on the scale of analysis, and compared by the
    pooled t test at every look. The smallest p over the looks decides: how often it is under alpha is the
    actual level, and its alpha quantile the constant level a look that restores it.

    Parameters
    ----------
    looks : sequence of int
        Runs of each lubricant at each look [-], rising, the first at least 2.
    alpha : float
        Level used at each look, two-sided [-].
    n_simulations : int
        Number of simulated campaigns [-], at least 1000.
    seed : int
        Seed of the simulation.

    Returns
    -------
    LookPenalty
        Actual level, its simulation error, and the level a look that restores the wanted one.

    Raises
    ------
    ValueError
        Where the looks do not rise from 2 up, or an argument is out of range.

    References
    ----------
    P. Armitage, C. K. McPherson and B. C. Rowe, Repeated significance tests on accumulating data, 1969;
    S. J. Pocock, Group sequential methods in the design and analysis of clinical trials, 1977 (constant
    level). Here by simulation, since the spread is estimated from few runs.

    Examples
    --------
    >>> penalty = look_penalty([5, 8])
    >>> 0.06 < penalty.actual_alpha < 0.085, 0.025 < penalty.alpha_per_look < 0.045
    (True, True)
    """
    sizes = tuple(int(n) for n in looks)
    if not sizes or sizes[0] < 2 or any(a >= b for a, b in itertools.pairwise(sizes)):
        raise ValueError(f"looks are {sizes}, they must rise from at least 2")
    if not 0.0 < alpha < 1.0 or n_simulations < 1000:
        raise ValueError(f"alpha is {alpha}, n_simulations {n_simulations}: needs 0 to 1, and at least 1000")
    draws = np.random.default_rng(seed).standard_normal((2, n_simulations, sizes[-1]))
    smallest = np.min([_pooled_p(draws[:, :, :n]) for n in sizes], axis=0)
    actual = float(np.mean(smallest < alpha))
    per_look = float(np.quantile(smallest, alpha))
    return LookPenalty(
        looks=sizes,
        alpha=alpha,
        actual_alpha=actual,
        standard_error=math.sqrt(actual * (1.0 - actual) / n_simulations),
        alpha_per_look=per_look,
        n_simulations=n_simulations,
        seed=seed,
        statement=_statement(sizes, alpha, actual, per_look),
    )


def _pooled_p(draws: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two-sided p of the pooled t test, for equal groups along the last axis."""
    n = draws.shape[2]
    variance = np.mean(np.var(draws, axis=2, ddof=1), axis=0)
    t = np.abs(np.mean(draws[0], axis=1) - np.mean(draws[1], axis=1)) / np.sqrt(2.0 * variance / n)
    return np.asarray(2.0 * stdtr(2 * n - 2, -t), dtype=np.float64)


def _statement(looks: tuple[int, ...], alpha: float, actual: float, per_look: float) -> str:
    if len(looks) == 1:
        return f"One look at {looks[0]} runs per lubricant: no penalty."
    places = ", ".join(str(n) for n in looks[:-1]) + f" and {looks[-1]}"
    return (
        f"Looking at {places} runs per lubricant, each time at {100 * alpha:.2g} %, shows a difference "
        f"that is not there in {100 * actual:.2g} % of campaigns; a level of {100 * per_look:.2g} % at "
        f"each look keeps it at {100 * alpha:.2g} %."
    )

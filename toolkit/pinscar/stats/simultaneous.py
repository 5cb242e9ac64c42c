"""Several groups at once: against one control (Dunnett), every pair (Tukey, Games-Howell), letter groups.

The joint tail of several Student t statistics with a shared spread is computed; nothing random is drawn.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache
from string import ascii_lowercase

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtri, gammaln, ndtr, ndtri, stdtr, stdtrit

from pinscar.stats.estimates import (
    VariancePrior,
    check_confidence,
    finite_vector,
    least_variance,
    moderated,
    rounding_shift,
)
from pinscar.stats.two_groups import Contrast, pooled_variance

FloatArray = NDArray[np.float64]
NORMAL_REACH = 9.0  # the normal density beyond it holds 2e-19
LATTICE_POINTS = 16_381  # a prime
GENERATORS = np.sqrt(np.array([2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71]))


def loadings_of(correlation: ArrayLike) -> FloatArray | None:
    r"""Find the loadings of a correlation matrix that one common factor explains.

    .. math:: \rho_{ij} = \lambda_i \lambda_j \quad (i \ne j)

    Parameters
    ----------
    correlation : array_like, shape (m, m)
        Correlation matrix [-].

    Returns
    -------
    ndarray, shape (m,), or None
        Loadings between 0 and 1 [-]; None where the matrix is not of that kind, to 1e-9.

    References
    ----------
    Tong, The Multivariate Normal Distribution, Springer 1990, section 5.3, for the structure.

    Examples
    --------
    >>> loadings_of([[1.0, 0.5, 0.5], [0.5, 1.0, 0.5], [0.5, 0.5, 1.0]]).round(6)
    array([0.707107, 0.707107, 0.707107])
    >>> loadings_of([[1.0, -0.5], [-0.5, 1.0]]) is None
    True
    """
    rho = np.asarray(correlation, dtype=np.float64)
    m = rho.shape[0]
    if m == 1:
        return np.zeros(1)
    if np.any(rho <= 0):
        return None
    if m == 2:
        return np.full(2, np.sqrt(rho[0, 1])) if rho[0, 1] < 1 else None
    first = np.sqrt(rho[0, 1] * rho[0, 2] / rho[1, 2])
    loadings = np.concatenate([[first], rho[0, 1:] / first])
    off = ~np.eye(m, dtype=bool)
    fits = np.allclose(np.outer(loadings, loadings)[off], rho[off], rtol=0, atol=1e-9)
    return loadings if fits and np.all(loadings < 1) else None


def joint_p(statistic: float, correlation: ArrayLike, df: float, two_sided: bool = True) -> float:
    r"""Probability that the largest of several correlated t statistics exceeds a value.

    .. math:: P\left(\max_i |T_i| > c\right)
        = 1 - \int_0^\infty f_\nu(u) \, P\left(|Z_i| \le c u \text{ for all } i\right) du

    with :math:`f_\nu` the density of :math:`\chi_\nu/\sqrt\nu` and Z multivariate normal. Where one common
    factor explains the correlations, the inner probability is a one-dimensional integral, done by
    Gauss-Legendre panels (absolute error below 1e-10); otherwise it is done by separation of variables on a
    fixed rank-one lattice with the tent transform (absolute error about 2e-5). Nothing random is drawn. The
    result is kept inside the bounds that hold for any correlation: at least the unadjusted p, at most
    Bonferroni's.

    Parameters
    ----------
    statistic : float
        The value c [-]; its size is taken where two-sided.
    correlation : array_like, shape (m, m)
        Correlation matrix of the statistics [-], with m at most 20.
    df : float
        Degrees of freedom of the common spread [-]; infinity is allowed.
    two_sided : bool
        Whether sizes are compared (True) or signed values (False).

    Returns
    -------
    float
        The adjusted p [-].

    Raises
    ------
    ValueError
        If the degrees of freedom are not positive or there are more than 20 statistics.

    References
    ----------
    Dunnett, "A multiple comparison procedure for comparing several treatments with a control", JASA 50 (1955)
    1096-1121; Genz, "Numerical computation of multivariate normal probabilities", J. Comput. Graph. Stat. 1
    (1992) 141-149, for the separation of variables. The example is the first
    fabric of Dunnett's example, where R's multcomp prints 0.0364 from a Monte-Carlo integral.

    Examples
    --------
    >>> half = 0.5 * np.eye(3) + 0.5
    >>> round(joint_p(3.0907325, half, 8), 6)
    0.036622
    """
    rho = np.asarray(correlation, dtype=np.float64)
    m = rho.shape[0]
    if not df > 0:
        raise ValueError(f"df must be positive, found {df}")
    if m > GENERATORS.size:
        raise ValueError(f"at most {GENERATORS.size} statistics can be taken together, found {m}")
    c = abs(float(statistic)) if two_sided else float(statistic)
    single = (
        float(stdtr(df, -c)) * (2 if two_sided else 1)
        if np.isfinite(df)
        else float(ndtr(-c)) * (1 + two_sided)
    )
    if m == 1 or single == 0:
        return min(1.0, single)
    loadings = loadings_of(rho)
    outside = (
        _one_factor(c, loadings, df, two_sided) if loadings is not None else _lattice(c, rho, df, two_sided)
    )
    return float(min(max(outside, single), m * single, 1.0))


def joint_critical_value(
    correlation: ArrayLike, df: float, confidence: float, two_sided: bool = True
) -> float:
    """Value that the largest of several correlated t statistics exceeds with one minus the confidence.

    Parameters
    ----------
    correlation : array_like, shape (m, m)
        Correlation matrix of the statistics [-].
    df : float
        Degrees of freedom of the common spread [-].
    confidence : float
        Joint confidence [-].
    two_sided : bool
        Whether sizes are compared (True) or signed values (False).

    Returns
    -------
    float
        The critical value [-]: Dunnett's where the correlations are those of contrasts with a control.

    References
    ----------
    Dunnett, JASA 50 (1955) 1096-1121, whose table prints 2.57 for two comparisons at 10 degrees of freedom.

    Examples
    --------
    >>> round(joint_critical_value([[1.0, 0.5], [0.5, 1.0]], 10, 0.95), 3)
    2.568
    """
    rho = np.asarray(correlation, dtype=np.float64)
    return _critical(tuple(map(tuple, rho.tolist())), float(df), float(confidence), two_sided)


@lru_cache(maxsize=256)
def _critical(rows: tuple[tuple[float, ...], ...], df: float, confidence: float, two_sided: bool) -> float:
    # Kept, because every response of a campaign asks for the same one.
    rho, m, alpha = np.array(rows), len(rows), 1 - confidence
    tail = alpha / 2 if two_sided else alpha
    low, high = _t_quantile(tail, df), _t_quantile(tail / m, df)
    if m == 1 or joint_p(low, rho, df, two_sided) <= alpha:
        return low
    exact = loadings_of(rho) is not None
    tolerance = 1e-11 if exact else 1e-6  # no finer than the lattice is
    return float(brentq(lambda c: joint_p(c, rho, df, two_sided) - alpha, low, high + 1e-6, xtol=tolerance))


def _t_quantile(upper_tail: float, df: float) -> float:
    return -float(stdtrit(df, upper_tail) if np.isfinite(df) else ndtri(upper_tail))


@lru_cache(maxsize=8)
def _panels(low: float, high: float, panels: int, order: int) -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(order)
    edges = np.linspace(low, high, panels + 1)
    half = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + half * (nodes + 1)).ravel(), (half * weights).ravel()


@lru_cache(maxsize=64)
def _scale_rule(df: float) -> tuple[FloatArray, FloatArray]:
    if not np.isfinite(df):
        return np.ones(1), np.ones(1)
    low = 0.0 if df < 30 else float(np.sqrt(chdtri(df, 1 - 1e-16) / df))
    high = float(np.sqrt(chdtri(df, 1e-18) / df))
    u, weights = _panels(low, high, 6, 20)
    log_density = np.log(2) + df / 2 * np.log(df / 2) - gammaln(df / 2) + (df - 1) * np.log(u) - df * u**2 / 2
    return u, weights * np.exp(log_density)


def _one_factor(c: float, loadings: FloatArray, df: float, two_sided: bool) -> float:
    u, u_weights = _scale_rule(df)
    # Steep loadings turn the inner probability into a step in z of the width sqrt(1 - l^2) / l.
    z, z_weights = _panels(-NORMAL_REACH, NORMAL_REACH, 18 if loadings.max() < 0.95 else 72, 12)
    density = z_weights * np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    log_inside = np.zeros((u.size, z.size))
    for loading, times in zip(*np.unique(loadings, return_counts=True), strict=True):
        spread = np.sqrt(1 - loading**2)
        outside = ndtr((loading * z - c * u[:, None]) / spread)
        if two_sided:
            outside += ndtr((-loading * z - c * u[:, None]) / spread)
        log_inside += times * np.log1p(-np.minimum(outside, 1 - 1e-16))
    return float(u_weights @ -np.expm1(log_inside) @ density)


@lru_cache(maxsize=4)
def _lattice_points(dimensions: int) -> FloatArray:
    steps = (np.arange(LATTICE_POINTS) + 0.5)[None, :] * (GENERATORS[:dimensions, None] % 1.0)
    return np.asarray(1 - np.abs(2 * (steps % 1.0) - 1), dtype=np.float64)


def _lattice(c: float, rho: FloatArray, df: float, two_sided: bool) -> float:
    m = rho.shape[0]
    factor = np.linalg.cholesky(rho + 1e-12 * np.eye(m))
    points = _lattice_points(m)
    scaled = c * _chi_quantile(points[-1], df)
    inside = np.ones(LATTICE_POINTS)
    drawn = np.zeros((m, LATTICE_POINTS))
    for i in range(m):
        centre = factor[i, :i] @ drawn[:i]
        top = ndtr((scaled - centre) / factor[i, i])
        bottom = ndtr((-scaled - centre) / factor[i, i]) if two_sided else np.zeros(LATTICE_POINTS)
        inside *= top - bottom
        if i < m - 1:
            share = np.clip(bottom + points[i] * (top - bottom), 1e-300, 1 - 1e-16)
            drawn[i] = ndtri(share)
    return float(1 - inside.mean())


def _chi_quantile(probability: FloatArray, df: float) -> FloatArray:
    if not np.isfinite(df):
        return np.ones_like(probability)
    return np.asarray(np.sqrt(chdtri(df, 1 - probability) / df), dtype=np.float64)


ALTERNATIVES = ("two-sided", "greater", "less")


def control_correlation(n_subjects: ArrayLike, n_control: float) -> FloatArray:
    r"""Correlation of the differences between several groups and one control.

    .. math:: \rho_{ij} = \lambda_i \lambda_j, \quad \lambda_i = \sqrt{n_i / (n_i + n_0)}

    Parameters
    ----------
    n_subjects : array_like, shape (m,)
        Number of values in each group [-].
    n_control : float
        Number of values of the control [-].

    Returns
    -------
    ndarray, shape (m, m)
        Correlation matrix [-].

    References
    ----------
    Dunnett, JASA 50 (1955) 1096-1121, section 3.

    Examples
    --------
    >>> control_correlation([5, 5], 5)
    array([[1. , 0.5],
           [0.5, 1. ]])
    """
    sizes = np.asarray(n_subjects, dtype=np.float64)
    loadings = np.sqrt(sizes / (sizes + n_control))
    rho = np.outer(loadings, loadings)
    np.fill_diagonal(rho, 1.0)
    return rho


def dunnett(
    subjects: Sequence[ArrayLike],
    control: ArrayLike,
    confidence: float = 0.95,
    alternative: str = "two-sided",
    others: Sequence[ArrayLike] = (),
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> list[Contrast]:
    """Compare several groups with one control, all at one joint confidence.

    It assumes independent runs, normally distributed on the scale given, with one spread in all groups; the
    spread is pooled over all groups. Any group sizes are allowed; the joint distribution comes from a fixed
    quadrature, without random numbers.

    Parameters
    ----------
    subjects : sequence of array_like
        Values of each group compared, in one unit (for ratios: logarithms).
    control : array_like
        Values of the control [any one unit].
    confidence : float
        Joint confidence of all intervals [-].
    alternative : {"two-sided", "greater", "less"}
        "greater" asks whether groups lie above the control and gives lower limits only, "less" the reverse.
    others : sequence of array_like
        Groups that are not compared but whose spread is pooled too [any one unit].
    step : float
        Step of the readings in the unit of the values, 0 where unknown: see :mod:`pinscar.stats.estimates`.
    prior : VariancePrior, optional
        What earlier runs tell of the spread: the pooled variance is moderated by it.

    Returns
    -------
    list of Contrast
        One a group, in order: mean of the group minus mean of the control, with adjusted p. One-sided
        intervals have an infinite limit on the open side.

    Raises
    ------
    ValueError
        If there are no groups, no spread, or the alternative is unknown.

    References
    ----------
    Dunnett, "A multiple comparison procedure for comparing several treatments with a control", JASA 50 (1955)
    1096-1121. The example is his fabric breaking strengths; his table prints 2.88.

    Examples
    --------
    >>> treated = [[55, 64, 64], [55, 49, 52], [50, 44, 41]]
    >>> results = dunnett(treated, [55, 47, 48])
    >>> [round(r.p, 6) for r in results], round(results[0].critical, 4)
    ([0.036622, 0.896475, 0.40916], 2.8797)
    """
    if alternative not in ALTERNATIVES:
        raise ValueError(f"alternative must be one of {', '.join(ALTERNATIVES)}, found {alternative!r}")
    if len(subjects) == 0:
        raise ValueError("subjects must hold at least one group, found none")
    groups, base = [finite_vector(s, "subjects") for s in subjects], finite_vector(control, "control")
    raw, count = pooled_variance([base, *groups, *others])
    variance, df = moderated(least_variance(raw, step), count, prior)
    shift = 2.0 * rounding_shift(float(np.sqrt(raw)), step)
    if not variance > 0:
        raise ValueError("the groups must show some spread, found none")
    rho = control_correlation([group.size for group in groups], base.size)
    critical = joint_critical_value(rho, df, check_confidence(confidence), alternative == "two-sided")
    errors = [float(np.sqrt(variance * (1 / group.size + 1 / base.size))) for group in groups]
    estimates = [float(group.mean() - base.mean()) for group in groups]
    return [
        joint_contrast(e, s, df, rho, critical, alternative, shift)
        for e, s in zip(estimates, errors, strict=True)
    ]


def joint_contrast(
    estimate: float,
    standard_error: float,
    df: float,
    correlation: FloatArray,
    critical: float,
    alternative: str,
    shift: float = 0.0,
) -> Contrast:
    """One difference of a family, with its p and limits from the family's joint distribution.

    Parameters
    ----------
    estimate : float
        The difference, in any unit.
    standard_error : float
        Its standard error, in the same unit; positive.
    df : float
        Degrees of freedom of the spread [-].
    correlation : ndarray, shape (m, m)
        Correlation matrix of the family [-].
    critical : float
        Joint critical value, from :func:`pinscar.stats.simultaneous.joint_critical_value` [-].
    alternative : {"two-sided", "greater", "less"}
        Side of the test and of the limits.
    shift : float
        Most that rounding can have shifted the estimate [its unit]: taken off it in the test, added to the
        reach.

    Returns
    -------
    Contrast
        With the adjusted p.

    References
    ----------
    Dunnett, JASA 50 (1955) 1096-1121.

    Examples
    --------
    >>> joint_contrast(1.0, 0.5, 10, np.eye(1), 2.2281388519, "two-sided").low.__round__(6)
    -0.114069
    """
    statistic = estimate / standard_error
    away = float(np.sign(statistic)) * max(abs(estimate) - shift, 0.0) / standard_error
    p = joint_p(-away if alternative == "less" else away, correlation, df, alternative == "two-sided")
    reach = critical * standard_error + shift
    low = -np.inf if alternative == "less" else estimate - reach
    high = np.inf if alternative == "greater" else estimate + reach
    return Contrast(
        estimate=estimate,
        standard_error=standard_error,
        statistic=statistic,
        df=float(df),
        p=p,
        critical=critical,
        low=float(low),
        high=float(high),
    )


Pairs = dict[tuple[str, str], Contrast]


def range_contrast(
    estimate: float,
    standard_error: float,
    df: float,
    groups: int,
    confidence: float,
    shift: float = 0.0,
) -> Contrast:
    """One difference of a family of all pairs, referred to the studentized range.

    Parameters
    ----------
    estimate : float
        The difference of two means, in any unit.
    standard_error : float
        Its standard error, in the same unit; positive.
    df : float
        Degrees of freedom of the standard error [-].
    groups : int
        Number of groups in the family.
    confidence : float
        Joint confidence of the intervals [-].
    shift : float
        Most that rounding can have shifted the estimate [its unit]: taken off it in the test, added to the
        reach.

    Returns
    -------
    Contrast
        With the adjusted p; ``critical`` is the studentized range over the root of two.

    References
    ----------
    Tukey, The Problem of Multiple Comparisons, 1953; the distribution is that of scipy.stats.

    Examples
    --------
    >>> round(range_contrast(1.0, 0.5, 10, 3, 0.95).critical * np.sqrt(2), 3)
    np.float64(3.877)
    """
    from scipy.stats import studentized_range  # slow to import, and needed here only

    statistic = estimate / standard_error
    critical = _range_quantile(check_confidence(confidence), groups, df) / np.sqrt(2)
    away = max(abs(estimate) - shift, 0.0) / standard_error
    outside = float(studentized_range.sf(away * np.sqrt(2), groups, df))
    single = 2 * float(stdtr(df, -away))
    p = min(
        max(outside, single), 1.0
    )  # the quadrature rounds small tails to zero; the unadjusted p bounds them
    reach = float(critical * standard_error) + shift
    return Contrast(
        estimate=estimate,
        standard_error=standard_error,
        statistic=statistic,
        df=float(df),
        p=p,
        critical=float(critical),
        low=estimate - reach,
        high=estimate + reach,
    )


@lru_cache(maxsize=256)
def _range_quantile(confidence: float, groups: int, df: float) -> float:
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(confidence, groups, df))  # a tenth of a second each


def letter_groups(names: Sequence[str], different: Collection[tuple[str, str]]) -> dict[str, str]:
    """Give letters to groups so that two share a letter exactly when they are not separated.

    Insert and absorb: starting from one letter for all, each pair that differs splits every letter that holds
    both; letters whose groups all share another letter are dropped.

    Parameters
    ----------
    names : sequence of str
        The groups, in the order in which letters are to be dealt (commonly by falling mean).
    different : collection of (str, str)
        Pairs that are told apart, in either order.

    Returns
    -------
    dict of str to str
        The letters of each group, in the order of the names.

    Raises
    ------
    ValueError
        If a name is repeated, a pair names an unknown group, or a group is told apart from itself.

    References
    ----------
    Piepho, "An algorithm for a letter-based representation of all-pairwise comparisons", J. Comput. Graph.
    Stat. 13 (2004) 456-466.

    Examples
    --------
    >>> letter_groups(["A", "B", "C"], [("A", "C")])
    {'A': 'a', 'B': 'ab', 'C': 'b'}
    """
    if len(set(names)) != len(names):
        raise ValueError("names must not repeat")
    position = {name: i for i, name in enumerate(names)}
    columns = [frozenset(names)] if names else []
    for first, second in different:
        if first not in position or second not in position or first == second:
            raise ValueError(f"different must hold pairs of two known names, found ({first!r}, {second!r})")
        columns = _absorb([part for column in columns for part in _split(column, first, second)])
    columns.sort(key=lambda column: sorted(position[name] for name in column))
    return {name: "".join(_letter(i) for i, column in enumerate(columns) if name in column) for name in names}


def _split(column: frozenset[str], first: str, second: str) -> list[frozenset[str]]:
    if first in column and second in column:
        return [column - {first}, column - {second}]
    return [column]


def _absorb(columns: list[frozenset[str]]) -> list[frozenset[str]]:
    distinct = list(dict.fromkeys(columns))
    return [column for column in distinct if not any(column < other for other in distinct)]


def _letter(index: int) -> str:
    rounds, place = divmod(index, len(ascii_lowercase))
    return ascii_lowercase[place] + (str(rounds + 1) if rounds else "")

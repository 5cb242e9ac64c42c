"""Several groups against one control: Dunnett's simultaneous intervals and adjusted p-values."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.checks import check_confidence, finite_vector
from pinscar.stats.joint_t import joint_critical_value, joint_p
from pinscar.stats.pairwise import Contrast, pooled_variance

FloatArray = NDArray[np.float64]
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
        Values of the control.
    confidence : float
        Joint confidence of all intervals [-].
    alternative : {"two-sided", "greater", "less"}
        "greater" asks whether groups lie above the control and gives lower limits only, "less" the reverse.
    others : sequence of array_like
        Groups that are not compared but whose spread is pooled too.

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
    variance, df = pooled_variance([base, *groups, *others])
    if not variance > 0:
        raise ValueError("the groups must show some spread, found none")
    rho = control_correlation([group.size for group in groups], base.size)
    critical = joint_critical_value(rho, df, check_confidence(confidence), alternative == "two-sided")
    errors = [float(np.sqrt(variance * (1 / group.size + 1 / base.size))) for group in groups]
    estimates = [float(group.mean() - base.mean()) for group in groups]
    return [
        joint_contrast(e, s, df, rho, critical, alternative) for e, s in zip(estimates, errors, strict=True)
    ]


def joint_contrast(
    estimate: float,
    standard_error: float,
    df: float,
    correlation: FloatArray,
    critical: float,
    alternative: str,
) -> Contrast:
    """One difference of a family, with its p and limits from the family's joint distribution.

    Parameters
    ----------
    estimate : float
        The difference, in any unit.
    standard_error : float
        Its standard error, in the same unit; positive.
    df : float
        Degrees of freedom of the spread.
    correlation : ndarray, shape (m, m)
        Correlation matrix of the family [-].
    critical : float
        Joint critical value, from :func:`pinscar.stats.joint_t.joint_critical_value` [-].
    alternative : {"two-sided", "greater", "less"}
        Side of the test and of the limits.

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
    signed = -statistic if alternative == "less" else statistic
    p = joint_p(signed, correlation, df, alternative == "two-sided")
    reach = critical * standard_error
    low = -np.inf if alternative == "less" else estimate - reach
    high = np.inf if alternative == "greater" else estimate + reach
    return Contrast(estimate, standard_error, statistic, float(df), p, critical, float(low), float(high))

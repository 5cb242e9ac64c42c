"""How well a precision study knows its own answer: intervals, and differences of means within the scatter."""

from __future__ import annotations

import math

import numpy as np

from pinscar.stats.components import variance_component
from pinscar.stats.precision import LIMIT_FACTOR, MaterialPrecision

Interval = tuple[float, float]


def repeatability_interval(found: MaterialPrecision, confidence: float = 0.95) -> Interval:
    r"""Give the confidence limits of the repeatability standard deviation.

    .. math:: s_r \sqrt{\nu / \chi^2_{1 - \alpha/2}(\nu)}, \quad s_r \sqrt{\nu / \chi^2_{\alpha/2}(\nu)}

    Normal results and one repeatability for all laboratories are assumed.

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    tuple of float
        Low and high [unit of the response].

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1.

    Examples
    --------
    Two degrees of freedom: chi-square quantiles 7.378 and 0.0506.

    >>> from pinscar.stats.precision import material_precision
    >>> low, high = repeatability_interval(material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]}))
    >>> round(low, 3), round(high, 2)
    (0.736, 8.89)
    """
    limits = variance_component([1.0], [found.repeatability_sd**2], [found.repeatability_df], confidence)
    return math.sqrt(limits.low), math.sqrt(limits.high)


def reproducibility_interval(found: MaterialPrecision, confidence: float = 0.95) -> Interval:
    r"""Give the confidence limits of the reproducibility standard deviation.

    .. math:: s_R^2 = s_d^2 / \bar{\bar n} + (1 - 1/\bar{\bar n})\, s_r^2

    is a sum of two independent mean squares with p - 1 and :math:`\sum (n_i - 1)` degrees of freedom, so it
    has a modified large sample interval. For cells of unequal size the first mean square is only nearly a
    chi-square variable. Where s_R was raised to s_r, the interval is widened to hold it.

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    tuple of float
        Low and high [unit of the response].

    References
    ----------
    F. A. Graybill and C.-M. Wang, Confidence intervals on nonnegative linear combinations of variances, 1980;
    the mean squares as in ISO 5725-2:1994, 7.4.

    Examples
    --------
    >>> from pinscar.stats.precision import material_precision
    >>> low, high = reproducibility_interval(material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]}))
    >>> low < 3.0 < high
    True
    """
    sizes = np.array([cell.n for cell in found.cells], dtype=np.float64)
    means = np.array([cell.mean for cell in found.cells])
    groups, total = sizes.size, float(np.sum(sizes))
    mean_size = (total - float(np.sum(sizes**2)) / total) / (groups - 1)
    between = float(np.sum(sizes * (means - found.general_mean) ** 2)) / (groups - 1)
    limits = variance_component(
        [1.0 / mean_size, 1.0 - 1.0 / mean_size],
        [between, found.repeatability_sd**2],
        [groups - 1, found.repeatability_df],
        confidence,
    )
    variance = found.reproducibility_sd**2
    return math.sqrt(min(limits.low, variance)), math.sqrt(max(limits.high, variance))


def critical_difference(found: MaterialPrecision, repeats: int, *, one_laboratory: bool) -> float:
    r"""Compute what two means of so many results each may differ by in 19 cases of 20.

    .. math:: D = 2.8\, \sqrt{s_L^2 + s_r^2 / n}, \quad \text{in one laboratory } D = 2.8\, s_r / \sqrt n

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    repeats : int
        Results in each of the two means [-], at least 1.
    one_laboratory : bool
        Whether one laboratory made both means.

    Returns
    -------
    float
        The difference [unit of the response].

    Raises
    ------
    ValueError
        Where there are no repeats.

    References
    ----------
    ISO 5725-6:1994, 4.2.1 and 4.2.2, for two means of equal size.

    Examples
    --------
    With one result each the differences are the limits r and R.

    >>> from pinscar.stats.precision import material_precision
    >>> found = material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]})
    >>> [round(critical_difference(found, n, one_laboratory=True), 2) for n in (1, 4)]
    [3.96, 1.98]
    >>> round(critical_difference(found, 1, one_laboratory=False), 2)
    8.4
    """
    if repeats < 1:
        raise ValueError(f"repeats is {repeats}, it must be at least 1")
    between = 0.0 if one_laboratory else found.between_sd
    return LIMIT_FACTOR * math.hypot(between, found.repeatability_sd / math.sqrt(repeats))

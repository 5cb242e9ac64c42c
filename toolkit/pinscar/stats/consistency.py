"""Critical values of the consistency statistics h (between laboratories) and k (within them)."""

from __future__ import annotations

import math

from scipy.special import betaincinv, stdtrit


def critical_h(n_laboratories: int, alpha: float = 0.005) -> float | None:
    r"""Compute the critical value of h, the standardised deviation of one laboratory's cell mean.

    .. math:: h_c = \frac{(p - 1)\, t}{\sqrt{p\,(t^2 + p - 2)}}, \quad t = t_{1-\alpha/2}(p - 2)

    Parameters
    ----------
    n_laboratories : int
        Number p of laboratories (or operators, rings, days) [-].
    alpha : float
        Two-sided level for one laboratory [-].

    Returns
    -------
    float or None
        Critical value [-]; None for two laboratories, whose h is always 0.707.

    Raises
    ------
    ValueError
        Where there are fewer than two laboratories or alpha is not between 0 and 1.

    References
    ----------
    ASTM E691, h statistic; ISO 5725-2:1994, 8.2 and 8.3.1 (Mandel's h).

    Examples
    --------
    >>> round(critical_h(8), 2)
    2.15
    """
    _check(n_laboratories, alpha)
    p = n_laboratories
    if p == 2:
        return None
    t = float(stdtrit(p - 2, 1.0 - alpha / 2.0))
    return (p - 1) * t / math.sqrt(p * (t * t + p - 2))


def critical_k(degrees_of_freedom: int, total_degrees_of_freedom: int, alpha: float = 0.005) -> float | None:
    r"""Compute the critical value of k, one laboratory's spread over the pooled one.

    .. math:: k_c = \sqrt{\frac{V}{v}\, B_{1-\alpha}\!\left(\frac{v}{2}, \frac{V - v}{2}\right)}

    with v the laboratory's own degrees of freedom, V those of all, and B the beta quantile. With n results in
    each of p cells, v = n - 1 and V = p (n - 1), this is the standard's
    :math:`\sqrt{p / (1 + (p - 1)/F)}`; this form also serves cells of unequal size.

    Parameters
    ----------
    degrees_of_freedom : int
        Results of the laboratory less one [-].
    total_degrees_of_freedom : int
        Sum of the same over all laboratories [-].
    alpha : float
        One-sided level for one laboratory [-].

    Returns
    -------
    float or None
        Critical value [-]; None where only this laboratory has repeats, so that k is always 1.

    Raises
    ------
    ValueError
        Where the degrees of freedom are not positive, or alpha is not between 0 and 1.

    References
    ----------
    ASTM E691, k statistic; ISO 5725-2:1994, 8.2 and 8.3.1 (Mandel's k). Unequal cells: own derivation, a
    cell's share of the pooled sum of squares is beta distributed.

    Examples
    --------
    Eight laboratories with three results each.

    >>> round(critical_k(2, 16), 2)
    2.06
    """
    _check(2, alpha)
    v, total = degrees_of_freedom, total_degrees_of_freedom
    if not 1 <= v <= total:
        raise ValueError(f"degrees_of_freedom is {v}, it must lie from 1 to the total of {total}")
    if v == total:
        return None
    return math.sqrt(total / v * float(betaincinv(v / 2.0, (total - v) / 2.0, 1.0 - alpha)))


def _check(n_laboratories: int, alpha: float) -> None:
    if n_laboratories < 2:
        raise ValueError(f"n_laboratories is {n_laboratories}, it must be at least 2")
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha is {alpha}, it must lie between 0 and 1")

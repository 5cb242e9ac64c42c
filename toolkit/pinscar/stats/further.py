"""Further repeats that are likely to settle an undecided criterion."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from pinscar.stats.planning import family_alpha
from pinscar.stats.power import noncentral_t_power

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
) -> int | None:
    r"""Compute how many further repeats are likely to settle a criterion that is undecided now.

    If the estimate and the spread seen now were the truth, the t interval of all N = n + m runs clears the
    limit with the probability that

    .. math:: T > t_{1 - \alpha/2}(N - 1), \quad
              T \sim t'\!\left(N - 1,\; \delta = \frac{|\hat\theta - \theta_0|}{s} \sqrt N\right)

    and the smallest m with at least the wanted probability is given. For a ratio to a reference m runs are
    added to both, with N1 + N2 - 2 degrees of freedom and :math:`\sqrt{N_1 N_2/(N_1 + N_2)}` for the root.
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
    df, effective = runs - 1.0, runs.astype(np.float64)
    if n_reference is not None:
        reference = n_reference + added
        df, effective = runs + reference - 2.0, runs * reference / (runs + reference)
    # Only the side of the limit on which the estimate lies counts: a two-sided interval, one-sided power.
    alpha = family_alpha(1.0 - confidence, comparisons) / 2.0
    settled = noncentral_t_power(df, distance * np.sqrt(effective), alpha, "one-sided") >= probability
    return int(added[np.argmax(settled)]) if bool(np.any(settled)) else None


def spread_from_interval(
    low: float,
    high: float,
    confidence: float,
    n: int,
    n_reference: int | None = None,
    comparisons: int = 1,
    scale: Scale = "log",
) -> float:
    r"""Recover the standard deviation of single runs from a t interval that was reported without it.

    .. math:: s = \frac{\text{high} - \text{low}}{2\, t_{1-\alpha/2}(\nu) \sqrt{1/n + 1/n_r}}

    on the scale of analysis, with n - 1 degrees of freedom, or n + n_r - 2 for a comparison. For an interval
    by another method (Welch, Dunnett, mixed model) it is an approximation, good enough to plan with.

    Parameters
    ----------
    low, high : float
        Limits of the interval [SI, or ratio], positive on the log scale.
    confidence : float
        Two-sided confidence [-].
    n : int
        Runs [-].
    n_reference : int, optional
        Runs of the reference [-], where the interval is of a ratio or difference.
    comparisons : int
        Comparisons whose intervals hold together [-].
    scale : {"log", "linear"}
        Scale of analysis.

    Returns
    -------
    float
        Standard deviation of single runs on the scale of analysis.

    Raises
    ------
    ValueError
        Where the limits are out of order or there are no degrees of freedom.

    References
    ----------
    Own derivation: the t interval solved for its standard deviation.

    Examples
    --------
    Five values of mean 10 and standard deviation 1 have the interval 10 +- 2.776/sqrt(5).

    >>> round(spread_from_interval(8.7583, 11.2417, 0.95, 5, scale="linear"), 4)
    1.0
    """
    df = n - 1 if n_reference is None else n + n_reference - 2
    width = _on_scale(high, scale) - _on_scale(low, scale)
    if df < 1 or not width > 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError(f"{n} runs, limits {low} to {high}, confidence {confidence}: no spread follows")
    t = float(stdtrit(df, 1.0 - family_alpha(1.0 - confidence, comparisons) / 2.0))
    return width / (2.0 * t * math.sqrt(1.0 / n + (0.0 if n_reference is None else 1.0 / n_reference)))


def _on_scale(value: float, scale: Scale) -> float:
    if scale == "linear":
        return value
    if not value > 0.0:
        raise ValueError(f"{value} has no place on the log scale: it must be positive")
    return math.log(value)

"""Where the profile deviance of a location is cut to make an interval, and the p that belongs to it."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.special import chdtri, stdtr, stdtrit

from pinscar.stats.checks import check_confidence

Cut = Literal["chi-square", "student"]
SHIFT = 6.0  # the smallest round number that holds a one-sided error of 2.5 % in the simulation


def deviance_cut(
    confidence: float, n: int, locations: int, kind: Cut = "chi-square", shift: float = 0.0
) -> float:
    r"""Give the value at which the profile deviance of a location is cut.

    "chi-square" is the large-sample quantile with one degree of freedom. "student" is the cut that turns the
    profile interval of complete data into Student's t interval exactly. There the deviance of a location, or
    of a difference of two, is :math:`n \ln(1 + t^2/(n-k))` with k locations fitted, so that cut is

    .. math:: \left( \sqrt{n \ln\left(1 + t_{n-k}^2 / (n-k)\right)} + d \right)^2

    with the shift d of :func:`censoring_shift` at an end that rests on censored runs, and d = 0 elsewhere.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [-].
    n : int
        Number of runs fitted together, censored ones included [-].
    locations : int
        Number of locations (medians) fitted [-]; fewer than n.
    kind : {"chi-square", "student"}
        Which cut.
    shift : float
        How far the root of the Student cut lies further out [-].

    Returns
    -------
    float
        The cut [-].

    Raises
    ------
    ValueError
        If the kind is unknown or there are no more runs than locations.

    References
    ----------
    Wilks, Ann. Math. Statist. 9 (1938) 60-62, for chi-square. Own derivation for "student": the likelihood
    ratio of the normal mean is a function of t (Kendall and Stuart, The Advanced Theory of Statistics, vol.
    2, chapter 24). Its coverage with censored runs was simulated; see ``data/censored_coverage.csv``.

    Examples
    --------
    >>> round(deviance_cut(0.95, 5, 1), 4), round(deviance_cut(0.95, 5, 1, "student"), 4)
    (3.8415, 5.3702)
    """
    if kind == "chi-square":
        return float(chdtri(1, 1 - check_confidence(confidence)))
    if kind != "student":
        raise ValueError(f"kind must be 'chi-square' or 'student', found {kind!r}")
    df = n - locations
    if df < 1:
        raise ValueError(f"n must exceed the number of locations ({locations}), found {n}")
    t = float(stdtrit(df, 0.5 + check_confidence(confidence) / 2))
    return float((np.sqrt(n * np.log1p(t**2 / df)) + shift) ** 2)


def censoring_shift(n: int, n_censored: int) -> float:
    r"""Give the shift of the cut's root for an end that rests on a group's censored runs.

    With left-censored runs the low end of the median is the one that the hidden values would pull at. The
    signed root of the deviance of the true median is then no longer centred, and where runs happen to be seen
    that lie close together above the truth, the low end is too high. The shift

    .. math:: d = 6 f^2 / \sqrt{n}, \quad f = n_{cens}/n

    was chosen so that the simulated chance of a low end above the truth is at most 2.5 % at 95 % confidence,
    for 3 to 12 runs, 10 to 80 % censored, fixed and scattered limits, while the whole interval covers
    93 to 98 %.

    Parameters
    ----------
    n : int
        Runs of the group [-].
    n_censored : int
        How many of them are censored [-].

    Returns
    -------
    float
        The shift [-].

    References
    ----------
    Own derivation: fitted to simulation. That the signed root needs a shift of order one over root n is
    Barndorff-Nielsen, "Inference on full or partial parameters based on the standardized signed log
    likelihood ratio", Biometrika 73 (1986) 307-322.

    Examples
    --------
    >>> censoring_shift(5, 0), round(censoring_shift(4, 2), 2)
    (0.0, 0.75)
    """
    return float(SHIFT * (n_censored / n) ** 2 / np.sqrt(n))


def deviance_p(deviance: float, n: int, locations: int, shift: float = 0.0) -> float:
    """Give the two-sided p of a location, by inverting the interval that :func:`deviance_cut` makes.

    Parameters
    ----------
    deviance : float
        Profile deviance of the location that is tested [-].
    n, locations : int
        Runs and locations fitted together [-].
    shift : float
        Shift of the end that points to the location tested [-].

    Returns
    -------
    float
        The p [-]: below one minus the confidence exactly where the interval leaves the location out.

    References
    ----------
    Own derivation: the cut of :func:`deviance_cut` solved for its confidence.

    Examples
    --------
    >>> round(deviance_p(deviance_cut(0.99, 6, 2, "student", 0.3), 6, 2, 0.3), 12)
    0.01
    """
    root = max(float(np.sqrt(max(deviance, 0.0))) - shift, 0.0)
    df = n - locations
    t = np.sqrt(df * np.expm1(root**2 / n))
    return float(2 * stdtr(df, -t))

"""Not worse than the reference, or equivalent to it, by confidence limits of a ratio."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from pinscar.stats.checks import check_confidence
from pinscar.stats.pairwise import Contrast

Better = Literal["higher", "lower"]


@dataclass(frozen=True, slots=True)
class MarginTest:
    """A ratio held against a margin.

    Parameters
    ----------
    ratio : float
        Subject over reference [-].
    low, high : float
        Two-sided limits of the ratio whose one-sided error is that of the test: 90 % limits for a test at 5
        % [-].
    p : float
        One-sided p-value [-]; for equivalence the larger of the two.
    shown : bool
        Whether the claim is shown at the confidence asked for.
    method : str
        What was done.
    """

    ratio: float
    low: float
    high: float
    p: float
    shown: bool
    method: str


def noninferiority(
    contrast: Contrast, margin: float, better: Better = "higher", confidence: float = 0.95
) -> MarginTest:
    r"""Test whether a subject is not worse than the reference by more than a margin.

    Where higher is better the claim is :math:`\rho > 1 - m`, where lower is better :math:`\rho < 1 + m`; it
    is shown when the one-sided confidence limit of the ratio lies on that side. The interval given
    alongside is the two-sided one at twice the error, so the claim is shown exactly when that interval
    clears the margin.

    Parameters
    ----------
    contrast : Contrast
        Subject minus reference of natural logarithms, from pooled, Welch or paired t.
    margin : float
        Largest loss that still counts as not worse [-], such as 0.1 for 10 %.
    better : {"higher", "lower"}
        Which way is better.
    confidence : float
        One minus the one-sided error of the test [-].

    Returns
    -------
    MarginTest
        Ratio, limits, p, and whether the claim is shown.

    Raises
    ------
    ValueError
        If the margin does not lie between 0 and 1, or the direction is unknown.

    References
    ----------
    Wellek, Testing Statistical Hypotheses of Equivalence and Noninferiority, 2nd ed. 2010, chapter 2. The
    example is the shoe-wear data of Box, Hunter and Hunter (R package MASS).

    Examples
    --------
    >>> from pinscar.stats.pairwise import paired_t
    >>> a = np.log([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    >>> b = np.log([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    >>> result = noninferiority(paired_t(b, a), 0.1)
    >>> result.shown, round(result.low, 6)
    (True, 1.015496)
    """
    if not 0 < margin < 1:
        raise ValueError(f"margin must lie between 0 and 1, found {margin}")
    if better not in ("higher", "lower"):
        raise ValueError(f"better must be 'higher' or 'lower', found {better!r}")
    limit = 1 - margin if better == "higher" else 1 + margin
    p = _p_above(contrast, limit) if better == "higher" else _p_below(contrast, limit)
    method = f"non-inferiority with a margin of {100 * margin:.3g} %, one-sided t on logs"
    return _result(contrast, p, confidence, method)


def equivalence(contrast: Contrast, lowest: float, highest: float, confidence: float = 0.95) -> MarginTest:
    """Test whether a ratio lies between two limits, by two one-sided tests.

    Equivalence is shown when both one-sided tests reject, which is when the two-sided interval at twice the
    error (90 % for tests at 5 %) lies wholly between the limits.

    Parameters
    ----------
    contrast : Contrast
        Subject minus reference of natural logarithms, from pooled, Welch or paired t.
    lowest, highest : float
        Limits between which ratios count as equivalent [-], such as 0.9 and 1.1; one lies between them.
    confidence : float
        One minus the error of each one-sided test [-].

    Returns
    -------
    MarginTest
        Ratio, limits, the larger p, and whether equivalence is shown.

    Raises
    ------
    ValueError
        If the limits do not lie on either side of one.

    References
    ----------
    Schuirmann, "A comparison of the two one-sided tests procedure and the power approach", J. Pharmacokinet.
    Biopharm. 15 (1987) 657-680. The example is the shoe-wear data of Box, Hunter and Hunter (R package MASS).

    Examples
    --------
    >>> from pinscar.stats.pairwise import paired_t
    >>> a = np.log([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    >>> b = np.log([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    >>> result = equivalence(paired_t(b, a), 0.9, 1.1)
    >>> result.shown, round(result.low, 6), round(result.high, 6)
    (True, 1.015496, 1.0605)
    """
    if not 0 < lowest < 1 < highest:
        raise ValueError(f"lowest and highest must lie on either side of 1, found {lowest} and {highest}")
    p = max(_p_above(contrast, lowest), _p_below(contrast, highest))
    method = f"equivalence between {lowest:.4g} and {highest:.4g}, two one-sided t tests on logs"
    return _result(contrast, p, confidence, method)


def claim_by_limits(low: float | None, high: float | None, lowest: float, highest: float) -> bool | None:
    """Judge a claim about a ratio by limits that are already there, such as simultaneous ones.

    Parameters
    ----------
    low, high : float or None
        Limits of the ratio [-]; None where that side is open.
    lowest, highest : float
        The claim: the ratio lies between them [-]. Use 0 or infinity for a one-sided claim.

    Returns
    -------
    bool or None
        True where the whole interval lies inside the claim, False where it lies wholly outside, else None.

    References
    ----------
    Own derivation: duality of tests and confidence intervals.

    Examples
    --------
    >>> claim_by_limits(0.93, 1.05, 0.9, np.inf), claim_by_limits(0.85, 1.05, 0.9, np.inf)
    (True, None)
    """
    bottom = 0.0 if low is None else low
    top = np.inf if high is None else high
    above = lowest == 0 or bottom > lowest
    below = highest == np.inf or top < highest
    if above and below:
        return True
    return False if top < lowest or bottom > highest else None


def _p_above(contrast: Contrast, limit: float) -> float:
    return float(stdtr(contrast.df, -(contrast.estimate - np.log(limit)) / contrast.standard_error))


def _p_below(contrast: Contrast, limit: float) -> float:
    return float(stdtr(contrast.df, (contrast.estimate - np.log(limit)) / contrast.standard_error))


def _result(contrast: Contrast, p: float, confidence: float, method: str) -> MarginTest:
    reach = float(stdtrit(contrast.df, check_confidence(confidence))) * contrast.standard_error
    low, high = np.exp([contrast.estimate - reach, contrast.estimate + reach])
    shown = p < 1 - confidence
    shown_level = f"{method} ({100 * (2 * confidence - 1):.4g} % limits shown)"
    return MarginTest(float(np.exp(contrast.estimate)), float(low), float(high), p, shown, shown_level)

"""Bias of the reading against a certified length, such as a graticule."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.stats.coverage import combine, t_factor
from pinscar.stats.moments import stable_mean, standard_deviation


@dataclass(frozen=True, slots=True)
class ReadingBias:
    """Bias of readings against a certified value.

    Parameters
    ----------
    n : int
        Number of readings.
    mean : float
        Their mean.
    certified : float
        The certified value.
    bias : float
        Mean less certified value.
    low, high : float or None
        Confidence limits of the bias; None for a single reading.
    confidence : float
        Two-sided confidence.
    df : float or None
        Effective degrees of freedom.
    shown : bool or None
        Whether the interval leaves out zero; None for a single reading.
    statement : str
        The result in a plain sentence.
    """

    n: int
    mean: float
    certified: float
    bias: float
    low: float | None
    high: float | None
    confidence: float
    df: float | None
    shown: bool | None
    statement: str


def reading_bias(
    readings: ArrayLike, certified: float, confidence: float = 0.95, certificate_uncertainty: float = 0.0
) -> ReadingBias:
    r"""Estimate the bias of repeated readings of a certified length, with a t interval.

    .. math:: b = \bar x - x_0, \quad b \pm t_{\nu} \sqrt{s^2/n + u_0^2}

    The degrees of freedom are n - 1, or with a certificate's uncertainty the effective ones of Welch and
    Satterthwaite (not cut to a whole number). Independent normal readings are assumed.

    Parameters
    ----------
    readings : array_like
        Readings of the certified length [m], shape (n,), finite.
    certified : float
        Certified value x_0 [m], positive.
    confidence : float
        Two-sided confidence [-].
    certificate_uncertainty : float
        Standard uncertainty u_0 of the certified value [m].

    Returns
    -------
    ReadingBias
        Bias, interval and a statement.

    Raises
    ------
    ValueError
        Where the certified value is not positive, the uncertainty is negative or the confidence not in (0,
        1).

    References
    ----------
    JCGM 100:2008 (GUM), 4.2 and G.4; ISO 5725-4:2020 (estimation of bias against an accepted reference
    value).

    Examples
    --------
    >>> result = reading_bias([1.002e-3, 1.004e-3, 1.003e-3], 1e-3)
    >>> print(result.statement)
    The readings are 0.3 % long (interval 0.052 % to 0.55 %): a bias is shown.
    """
    if not certified > 0.0 or not certificate_uncertainty >= 0.0:
        raise ValueError("certified must be positive and certificate_uncertainty zero or more")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}, it must lie between 0 and 1")
    mean = stable_mean(readings)
    bias = mean - certified
    n = np.asarray(readings).size
    if n == 1:
        statement = f"One reading, {_words(bias / certified)}: single reading, no interval."
        return ReadingBias(n, mean, certified, bias, None, None, confidence, None, None, statement)
    error = standard_deviation(readings) / math.sqrt(n)
    combined = combine([1, 1], [error, certificate_uncertainty], degrees_of_freedom=[n - 1, math.inf])
    df = float(combined.degrees_of_freedom or math.inf)
    half = t_factor(df, confidence) * combined.standard_uncertainty
    low, high = bias - half, bias + half
    shown = low > 0.0 or high < 0.0
    statement = _statement(bias / certified, low / certified, high / certified, shown)
    return ReadingBias(n, mean, certified, bias, low, high, confidence, df, shown, statement)


def _statement(bias: float, low: float, high: float, shown: bool) -> str:
    interval = f"(interval {100 * low:.2g} % to {100 * high:.2g} %)"
    if shown:
        return f"The readings are {_words(bias)} {interval}: a bias is shown."
    largest = max(abs(low), abs(high))
    return (
        f"The readings are {_words(bias)} {interval}: no bias is shown, and one of more than "
        f"{100 * largest:.2g} % is ruled out."
    )


def _words(bias: float) -> str:
    return f"{100 * abs(bias):.2g} % {'long' if bias >= 0.0 else 'short'}"

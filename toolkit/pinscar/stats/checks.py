"""What the statistics share: checks of arguments, sums without loss of digits, the estimate's record."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Scale = Literal["log", "linear"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """An estimate of one group's centre, its interval, and how both were made.

    Parameters
    ----------
    n : int
        Number of runs, censored ones included.
    n_censored : int
        How many of them are censored.
    estimate : float or None
        The centre, in the unit of the values; None where the data give a bound only.
    low, high : float or None
        Limits of the interval, in the unit of the values; None where that side is not bounded.
    confidence : float
        Confidence that the limits carry [-]. For an interval this is the confidence asked for. For a bound
        it is the bound's own confidence, which may be lower: ``note`` says so.
    scale : {"log", "linear"}
        Scale on which the analysis was done.
    sd : float or None
        Standard deviation between runs, on the analysis scale (so without unit on the log scale).
    df : float or None
        Degrees of freedom of the interval, where it rests on Student's t.
    method : str
        What was done, in a few words that a report can print.
    note : str or None
        A plain sentence when something about the estimate needs saying.
    profile_low, profile_high : float or None
        With censored runs, the limits by the large-sample cut, for the record only; else None.
    """

    n: int
    n_censored: int
    estimate: float | None
    low: float | None
    high: float | None
    confidence: float
    scale: Scale
    sd: float | None
    df: float | None
    method: str
    note: str | None = None
    profile_low: float | None = None
    profile_high: float | None = None


def finite_vector(values: ArrayLike, name: str = "values") -> NDArray[np.float64]:
    """Return the values as a vector of finite floats, or refuse them.

    Parameters
    ----------
    values : array_like, shape (n,)
        The values, in any unit.
    name : str
        What the error message calls them.

    Returns
    -------
    ndarray, shape (n,)
        The values as floats.

    Raises
    ------
    ValueError
        If there are none, if they are not one-dimensional, or if one of them is not finite.

    References
    ----------
    Own derivation: argument check.

    Examples
    --------
    >>> finite_vector([1, 2])
    array([1., 2.])
    """
    vector = np.asarray(values, dtype=np.float64)
    if vector.ndim != 1:
        raise ValueError(f"{name} must be one-dimensional, found {vector.ndim} dimensions")
    if vector.size == 0:
        raise ValueError(f"{name} must hold at least one value, found none")
    if not np.all(np.isfinite(vector)):
        raise ValueError(f"{name} must be finite, found {vector[~np.isfinite(vector)][0]}")
    return vector


def on_scale(values: ArrayLike, scale: Scale, name: str = "values") -> NDArray[np.float64]:
    """Return the values on the scale of the analysis: their logarithms, or themselves.

    Parameters
    ----------
    values : array_like, shape (n,)
        The values, in any unit.
    scale : {"log", "linear"}
        Scale of the analysis.
    name : str
        What the error message calls the values.

    Returns
    -------
    ndarray, shape (n,)
        Natural logarithms on the log scale, the values on the linear one.

    Raises
    ------
    ValueError
        If a value is not finite, if one is not positive on the log scale, or if the scale is unknown.

    References
    ----------
    Own derivation: argument check.

    Examples
    --------
    >>> on_scale([1.0, 1.0], "log")
    array([0., 0.])
    """
    if scale not in ("log", "linear"):
        raise ValueError(f"scale must be 'log' or 'linear', found {scale!r}")
    vector = finite_vector(values, name)
    if scale == "linear":
        return vector
    if np.any(vector <= 0):
        raise ValueError(f"{name} must be positive on the log scale, found {vector[vector <= 0][0]}")
    return np.log(vector)


def check_confidence(confidence: float) -> float:
    """Return the confidence if it lies between 0 and 1.

    Parameters
    ----------
    confidence : float
        Confidence [-], such as 0.95.

    Returns
    -------
    float
        The same number.

    Raises
    ------
    ValueError
        If it does not lie between 0 and 1.

    References
    ----------
    Own derivation: argument check.

    Examples
    --------
    >>> check_confidence(0.95)
    0.95
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, found {confidence}")
    return float(confidence)


def censored_mask(left_censored: ArrayLike, n: int, name: str = "left_censored") -> NDArray[np.bool_]:
    """Return the mask of censored values if it fits the values.

    Parameters
    ----------
    left_censored : array_like of bool, shape (n,)
        True where the value is a limit and not a measurement.
    n : int
        Number of values.
    name : str
        What the error message calls the mask.

    Returns
    -------
    ndarray of bool, shape (n,)
        The mask.

    Raises
    ------
    ValueError
        If it has another length than the values or holds anything but true and false.

    References
    ----------
    Own derivation: argument check.

    Examples
    --------
    >>> censored_mask([True, False], 2)
    array([ True, False])
    """
    mask = np.asarray(left_censored)
    if mask.shape != (n,):
        raise ValueError(f"{name} must have one entry per value ({n}), found shape {mask.shape}")
    if mask.dtype != np.bool_ and not all(isinstance(entry, bool | np.bool_) for entry in mask):
        raise ValueError(f"{name} must hold True or False only")
    return mask.astype(np.bool_)


def from_log(log_value: float | None) -> float | None:
    """Return the exponential of a limit, or None where it leaves the range of floats.

    Parameters
    ----------
    log_value : float or None
        Natural logarithm of a limit [-]; None where there is no limit.

    Returns
    -------
    float or None
        The limit; None beyond about 1e-304 or 1e304, where a report has nothing to show.

    References
    ----------
    Own derivation: range of IEEE 754 double precision.

    Examples
    --------
    >>> from_log(0.0)
    1.0
    >>> from_log(1000.0) is None
    True
    """
    if log_value is None or abs(log_value) > 700:
        return None
    return float(np.exp(log_value))


def stable_mean(values: ArrayLike) -> float:
    r"""Compute the arithmetic mean, summed exactly around the first value.

    .. math:: \bar x = x_1 + \frac{1}{n} \sum_i (x_i - x_1)

    Taking out the first value keeps the digits in which the values differ where they share many leading ones.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 1, finite.

    Returns
    -------
    float
        Mean [the unit of the values].

    Raises
    ------
    ValueError
        Where there is no value or one is not finite.

    References
    ----------
    T. F. Chan, G. H. Golub and R. J. LeVeque, Algorithms for computing the sample variance, 1983, section 3
    (shifted data).

    Examples
    --------
    >>> stable_mean([10000001, 10000003, 10000002])
    10000002.0
    """
    x = _vector(values)
    return float(x[0] + math.fsum(x - x[0]) / x.size)


def sum_of_squares(values: ArrayLike) -> float:
    r"""Compute the sum of squared deviations from the mean, by the corrected two-pass algorithm.

    .. math:: \sum_i d_i^2 - \frac{1}{n} \left(\sum_i d_i\right)^2, \quad d_i = x_i - \bar x

    The second term is zero in exact arithmetic and takes out the rounding of the mean.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 1, finite.

    Returns
    -------
    float
        Sum of squared deviations [the unit of the values, squared].

    Raises
    ------
    ValueError
        Where there is no value or one is not finite.

    References
    ----------
    T. F. Chan, G. H. Golub and R. J. LeVeque, Algorithms for computing the sample variance, 1983,
    equation (1.7).

    Examples
    --------
    >>> sum_of_squares([10000001, 10000003, 10000002])
    2.0
    """
    x = _vector(values)
    shifted = x - x[0]
    deviations = shifted - math.fsum(shifted) / x.size
    return max(math.fsum(deviations**2) - math.fsum(deviations) ** 2 / x.size, 0.0)


def standard_deviation(values: ArrayLike) -> float:
    r"""Compute the sample standard deviation, with n - 1 in its denominator.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 2, finite.

    Returns
    -------
    float
        Standard deviation [the unit of the values].

    Raises
    ------
    ValueError
        Where there are fewer than two values or one is not finite.

    References
    ----------
    ISO 3534-1:2006, 1.17.

    Examples
    --------
    >>> standard_deviation([10000001, 10000003, 10000002])
    1.0
    """
    x = _vector(values)
    if x.size < 2:
        raise ValueError("values holds one number, a standard deviation needs at least two")
    return math.sqrt(sum_of_squares(x) / (x.size - 1))


def _vector(values: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size == 0:
        raise ValueError(f"values has shape {x.shape}, it must be a row of one or more numbers")
    if not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be finite numbers")
    return x

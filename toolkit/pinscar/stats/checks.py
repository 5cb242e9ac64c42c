"""Checks of the arguments that the statistics functions share."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.estimate import Scale


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
        raise ValueError(f"{name} must have one entry a value ({n}), found shape {mask.shape}")
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

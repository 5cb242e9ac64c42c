"""Arrays of SI floats: how the mechanics take their arguments, and reading of the shipped tables."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.errors import OutOfRangeError

FloatArray: TypeAlias = NDArray[np.float64]
ObjectArray: TypeAlias = NDArray[np.object_]


def as_floats(values: ArrayLike) -> FloatArray:
    """Turn a number or a sequence of numbers into an array of floats.

    Parameters
    ----------
    values : array_like
        Numbers [any unit]; None and NaN become NaN.

    Returns
    -------
    ndarray of float
        Same shape.

    References
    ----------
    Definition of this package: SI floats, a missing number is NaN.

    Examples
    --------
    >>> as_floats([1, 2]).tolist()
    [1.0, 2.0]
    """
    return np.asarray(values, dtype=np.float64)


def positive(name: str, values: ArrayLike) -> FloatArray:
    """Turn numbers into floats and refuse any that is zero or negative; NaN (not measured) passes.

    Parameters
    ----------
    name : str
        What the numbers are, for the message.
    values : array_like
        Numbers [any unit].

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    ValueError
        A number is zero or negative.

    References
    ----------
    Definition of this package: what a length, a load or a modulus may be.

    Examples
    --------
    >>> float(positive("load", 600))
    600.0
    """
    array = as_floats(values)
    _refuse(name, array, array <= 0, "must be above zero")
    return array


def not_negative(name: str, values: ArrayLike) -> FloatArray:
    """Turn numbers into floats and refuse any that is negative; NaN (not measured) passes.

    Parameters
    ----------
    name : str
        What the numbers are, for the message.
    values : array_like
        Numbers [any unit].

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    ValueError
        A number is negative.

    References
    ----------
    Definition of this package: what a time, a depth or a speed may be.

    Examples
    --------
    >>> float(not_negative("depth", 0))
    0.0
    """
    array = as_floats(values)
    _refuse(name, array, array < 0, "must not be negative")
    return array


def within(name: str, values: ArrayLike, low: float, high: float) -> FloatArray:
    """Turn numbers into floats and refuse any outside low to high; NaN (not measured) passes.

    Parameters
    ----------
    name : str
        What the numbers are, for the message.
    values : array_like
        Numbers [any unit].
    low, high : float
        Allowed range, ends included [unit of the numbers].

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    ValueError
        A number lies outside the range.

    References
    ----------
    Definition of this package: a closed range; a missing number passes.

    Examples
    --------
    >>> float(within("poisson_ratio_1", 0.3, -1, 0.5))
    0.3
    """
    array = as_floats(values)
    _refuse(name, array, (array < low) | (array > high), f"must lie between {low:g} and {high:g}")
    return array


def rising_readings(time: ArrayLike, readings: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Take a trace: times and readings as floats, those that are missing left out.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], one-dimensional, rising.
    readings : array_like
        Readings [any unit], same length; None and NaN where missing.

    Returns
    -------
    tuple of ndarray of float
        Times and readings, those of either that are missing left out of both.

    Raises
    ------
    ValueError
        The two are no rows of equal length, or the times do not rise.

    References
    ----------
    Definition of this package: a trace has rising times and a gap is NaN.

    Examples
    --------
    >>> [row.tolist() for row in rising_readings([0, 1, 2], [45.0, None, 46.0])]
    [[0.0, 2.0], [45.0, 46.0]]
    """
    times, values = as_floats(time), as_floats(readings)
    if times.ndim != 1 or times.shape != values.shape:
        raise ValueError(
            f"time and readings must be two rows of equal length, found {times.shape} and {values.shape}"
        )
    seen = np.isfinite(times) & np.isfinite(values)
    times, values = times[seen], values[seen]
    if np.any(np.diff(times) <= 0):
        raise ValueError("time must rise from reading to reading")
    return times, values


def _refuse(name: str, array: FloatArray, wrong: NDArray[Any], rule: str) -> None:
    if np.any(wrong):
        raise OutOfRangeError(name, rule, float(array[wrong].flat[0]))


@cache
def read_table(name: str) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Read one data file of ``contact/data``.

    Parameters
    ----------
    name : str
        File name, such as ``roller_chain_iso606.csv``.

    Returns
    -------
    tuple of rows
        Each row a tuple of (column, text) pairs; immutable, because the result is cached.

    References
    ----------
    Each file's head names its source and the meaning of its columns.

    Examples
    --------
    >>> dict(read_table("roller_chain_iso606.csv")[1])["pitch"]
    '12.70'
    """
    text = (files("pinscar.contact") / "data" / name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return tuple(tuple(row.items()) for row in csv.DictReader(lines))

"""What a comparison method hands to the chooser, and which groups a family may hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.intervals import SINGLE_RUN


@dataclass(frozen=True, slots=True)
class Found:
    """One comparison on the scale of the analysis.

    Parameters
    ----------
    estimate : float or None
        Subject minus reference, on the scale of the analysis; None where the data give none.
    low, high : float or None
        Its limits; None where there is no interval.
    p : float or None
        Adjusted p [-].
    method : str
        What was done.
    note : str or None
        What needs saying.
    profile_low, profile_high : float or None
        With censored runs, the limits by the large-sample cut.
    """

    estimate: float | None
    low: float | None
    high: float | None
    p: float | None
    method: str
    note: str | None
    profile_low: float | None = None
    profile_high: float | None = None


def no_interval_reason(scaled: NDArray[np.float64], name: str) -> str | None:
    """Say why a group cannot take part in a family of comparisons, if it cannot.

    Parameters
    ----------
    scaled : ndarray, shape (n,)
        Values on the scale of the analysis.
    name : str
        What the group is called.

    Returns
    -------
    str or None
        The reason; None for a group that can.

    References
    ----------
    Own derivation: a spread needs two runs that differ.

    Examples
    --------
    >>> no_interval_reason(np.array([1.0]), "C-21")
    'C-21: single run, no interval'
    """
    if scaled.size == 1:
        return f"{name}: {SINGLE_RUN}"
    if np.ptp(scaled) == 0:
        return f"{name}: all {scaled.size} runs gave the same value, so its spread is unknown: no interval"
    return None


def spread_word(scale: str) -> str:
    """Say on which scale a method worked.

    Parameters
    ----------
    scale : {"log", "linear"}
        Scale of the analysis.

    Returns
    -------
    str
        Words to follow a method's name; empty on the linear scale.

    References
    ----------
    Own derivation: wording.

    Examples
    --------
    >>> spread_word("log")
    ' on logs'
    """
    return " on logs" if scale == "log" else ""

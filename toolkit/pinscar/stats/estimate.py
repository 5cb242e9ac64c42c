"""The record that every estimate of one group of runs comes back in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

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

"""The record that a comparison of one lubricant with the reference comes back in."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Comparison:
    """One subject against the reference.

    Parameters
    ----------
    subject, reference : str
        What was compared with what.
    n, n_censored : int
        Runs of the subject, and how many of them are censored.
    n_reference, n_censored_reference : int
        The same of the reference.
    ratio : float or None
        Subject over reference [-], on the log scale; None on the linear scale or where the data give none.
    difference : float or None
        Subject minus reference in the unit of the values, on the linear scale; None on the log scale.
    low, high : float or None
        Limits of the ratio or of the difference; None where no interval was computed, or that side is open.
    p_adjusted : float or None
        Two-sided p-value of equality [-], adjusted for the number of subjects compared.
    confidence : float
        Confidence that all intervals of the family hold together [-].
    method : str
        What was done, in words that a report can print.
    note : str or None
        A plain sentence when something about the comparison needs saying.
    profile_low, profile_high : float or None
        With censored runs, the limits by the large-sample cut, for the record only; else None.
    """

    subject: str
    reference: str
    n: int
    n_censored: int
    n_reference: int
    n_censored_reference: int
    ratio: float | None
    difference: float | None
    low: float | None
    high: float | None
    p_adjusted: float | None
    confidence: float
    method: str
    note: str | None = None
    profile_low: float | None = None
    profile_high: float | None = None

"""What a comparison hands back, which groups a family may hold, and the rules of choice as printable text."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.estimates import SINGLE_RUN


@dataclass(frozen=True, slots=True, kw_only=True)
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


def no_interval_reason(scaled: NDArray[np.float64], name: str, step: float = 0.0) -> str | None:
    """Say why a group cannot take part in a family of comparisons, if it cannot.

    Parameters
    ----------
    scaled : ndarray, shape (n,)
        Values on the scale of the analysis [any one unit].
    name : str
        What the group is called.
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown. A known step bounds the spread from
        below.

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
    if np.ptp(scaled) == 0 and step <= 0.0:
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


RULES = (
    "Positive responses are compared on the log scale, as ratios to the reference; others as differences.",
    "A lubricant with a single run gives its ratio, but no interval and no p, and does not count in the "
    "family. The same holds where all its runs gave the same value and the step of the readings is unknown; "
    "a known step bounds spread and shift from below.",
    "Where a compared value is censored: log-normal likelihood, ratios of medians with likelihood limits "
    "calibrated to Student's t and by simulation, each lubricant with its own spread and the limits of both "
    "joined, limits and p adjusted by Bonferroni. In declared blocks the likelihood has a random effect of "
    "the block and one spread, with a critical value that holds for spreads up to three times each other. "
    "One spread for all without that guard only where campaign.toml says so. Where all runs of one side are "
    "censored: a one-sided bound from the sign test and the other side's limit, joined by Bonferroni's "
    "inequality, if there are runs enough for the confidence, else nothing. Where the censored lubricants "
    "give bounds only, the others go by rules 4 and 5 with their share of the error.",
    "Where blocks are declared, there is more than one, and they are not confounded with the lubricants: "
    "each lubricant is compared with the reference within the blocks that both share (blocks as fixed "
    "effects), each with its own spread, by Welch's t as in rule 5; where both share too few, the means of "
    'their blocks are compared. Where campaign.toml says spread = "pooled": one spread within blocks and the '
    "joint t distribution of the differences, or, for lubricants that no chain of shared blocks links to the "
    "reference, the mixed model with the block random (REML, Kenward-Roger). The layout decides, never the "
    "values. Else rule 5, and the note says why.",
    "Else each lubricant keeps its own spread: Welch's t, with a critical value that holds the error for "
    "every ratio of the spreads; with several comparisons limits and p adjusted by Šidák's inequality. No "
    'test of the spreads chooses the method. Only where campaign.toml says spread = "pooled" is one spread '
    "taken for all: pooled t for one lubricant, Dunnett's simultaneous intervals for several. Where "
    "campaign.toml names a history that the present scatter does not contradict, the spreads are moderated "
    "by it, with the weight that it leaves.",
)


def rules_text() -> str:
    """Give the rules by which the method of comparison is chosen.

    Returns
    -------
    str
        Numbered rules, one per line.

    References
    ----------
    Own derivation: the order in which :func:`pinscar.stats.choose.compare_with_reference` decides.

    Examples
    --------
    >>> len(rules_text().splitlines())
    5
    """
    return "\n".join(f"{number}. {rule}" for number, rule in enumerate(RULES, start=1))


@dataclass(frozen=True, slots=True, kw_only=True)
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

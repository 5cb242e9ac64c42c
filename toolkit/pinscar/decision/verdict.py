"""Verdicts: an interval against a limit, in three words and one sentence."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Literal

Side = Literal["at least", "at most"]


class Verdict(StrEnum):
    """What the data say about a limit."""

    MET = "met"
    NOT_MET = "not met"
    UNDECIDED = "undecided"


def judge(low: float | None, high: float | None, limit: float, side: Side) -> Verdict:
    """Judge an interval against a limit.

    Met when the whole interval is on the right side of the limit, not met when the whole interval is on the
    wrong side, else undecided. A missing end counts as unbounded, so that an upper bound alone can show "not
    met" for "at least" but never "met".

    Parameters
    ----------
    low, high : float or None
        Ends of the interval, in the unit of the limit.
    limit : float
        The limit.
    side : {"at least", "at most"}
        The side on which the true value must lie.

    Returns
    -------
    Verdict
        The verdict.

    Examples
    --------
    >>> str(judge(126.0, 141.0, 120.0, "at least")), str(judge(112.0, 131.0, 120.0, "at least"))
    ('met', 'undecided')
    >>> str(judge(None, 96.0, 120.0, "at least")), str(judge(None, 130.0, 120.0, "at least"))
    ('not met', 'undecided')
    """
    if side == "at least":
        if low is not None and low >= limit:
            return Verdict.MET
        return Verdict.NOT_MET if high is not None and high < limit else Verdict.UNDECIDED
    if high is not None and high <= limit:
        return Verdict.MET
    return Verdict.NOT_MET if low is not None and low > limit else Verdict.UNDECIDED


def overall(verdicts: Iterable[Verdict]) -> Verdict | None:
    """Combine the verdicts of all criteria.

    Parameters
    ----------
    verdicts : iterable of Verdict
        One a criterion.

    Returns
    -------
    Verdict or None
        Not met if any is not met, else undecided if any is undecided, else met; None without criteria.

    Examples
    --------
    >>> str(overall([Verdict.MET, Verdict.UNDECIDED])), overall([])
    ('undecided', None)
    """
    seen = set(verdicts)
    for verdict in (Verdict.NOT_MET, Verdict.UNDECIDED, Verdict.MET):
        if verdict in seen:
            return verdict
    return None

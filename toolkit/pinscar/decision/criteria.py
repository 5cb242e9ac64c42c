"""Release criteria: each limit of the campaign judged on the interval that the runs give.

Verdicts: an interval against a limit, in three words and one sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal, TypeVar

from pinscar.campaign.model import Criterion
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.mean_ratios import no_ratio_reason
from pinscar.decision.responses import Response, in_unit
from pinscar.decision.runs import same_level
from pinscar.decision.summaries import Summary

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


T = TypeVar("T")

FurtherRepeats = Callable[[Summary | LoadComparison, float], int | None]
"""Gives the further repeats per lubricant likely to settle a limit, from its evidence and the limit in SI."""


class CriterionReason(StrEnum):
    """Why a criterion has its verdict; the codes are stable."""

    RIGHT_SIDE = "interval-on-right-side"
    WRONG_SIDE = "interval-on-wrong-side"
    SPANS = "interval-spans-limit"
    BOUND_RIGHT = "bound-on-right-side"
    BOUND_WRONG = "bound-on-wrong-side"
    BOUND_OPEN = "bound-decides-nothing"
    UNSURE_BOUND = "bound-not-sure-enough"
    NO_INTERVAL = "no-interval"
    NO_DATA = "no-data"
    UNLIKE = "unlike-conditions"
    BLOCKED = "audit-blocks"


_OF_INTERVAL = {
    Verdict.MET: CriterionReason.RIGHT_SIDE,
    Verdict.NOT_MET: CriterionReason.WRONG_SIDE,
    Verdict.UNDECIDED: CriterionReason.SPANS,
}
_OF_BOUND = {
    Verdict.MET: CriterionReason.BOUND_RIGHT,
    Verdict.NOT_MET: CriterionReason.BOUND_WRONG,
    Verdict.UNDECIDED: CriterionReason.BOUND_OPEN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionResult:
    """A criterion with its verdict; `pinscar.decision.words` puts it into sentences.

    Attributes
    ----------
    criterion : Criterion
        As the campaign states it.
    verdict : Verdict
        Met, not met or undecided.
    reason : CriterionReason
        Why.
    side : {"at least", "at most"}
        The side of the limit on which the true value must lie.
    limit : float
        The limit, in ``unit``.
    confidence : float
        Confidence of the interval [1].
    estimate, low, high : float or None
        What was judged, in ``unit``.
    unit : str
        Unit of the numbers; empty for a ratio.
    further_repeats : int or None
        Further runs per lubricant likely to settle an undecided limit.
    evidence : Summary, LoadComparison or None
        What was judged; None where no run tells anything.
    learned : bool
        Whether the spread is moderated by earlier campaigns.
    """

    criterion: Criterion
    verdict: Verdict
    reason: CriterionReason
    side: Side
    limit: float
    confidence: float
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    further_repeats: int | None = None
    evidence: Summary | LoadComparison | None = None
    learned: bool = False


@dataclass(frozen=True, slots=True)
class RatioJudged:
    """The ratio that a limit on a ratio is held against.

    Attributes
    ----------
    ratio, low, high : float or None
        The ratio and its limits.
    why_not : str
        Why there are none, where there are none.
    """

    ratio: float | None
    low: float | None
    high: float | None
    why_not: str


def judge_criteria(
    criteria: Sequence[Criterion],
    summaries: Sequence[Summary],
    comparisons: Sequence[LoadComparison],
    confidence: float,
    further_repeats: FurtherRepeats,
    learned: Collection[str] = (),
) -> tuple[CriterionResult, ...]:
    """Judge every criterion of a campaign."""
    judged = [
        _judge_ratio(criterion, comparisons, confidence, further_repeats)
        if criterion.is_relative
        else _judge_value(criterion, summaries, confidence, further_repeats)
        for criterion in criteria
    ]
    return tuple(
        replace(one, learned=True) if one.criterion.response in learned and one.low is not None else one
        for one in judged
    )


def _judge_value(
    criterion: Criterion, summaries: Sequence[Summary], confidence: float, further_repeats: FurtherRepeats
) -> CriterionResult:
    limit_si = float(criterion.limit)
    side: Side = "at least" if criterion.rule == "at least" else "at most"
    found = [
        s
        for s in summaries
        if s.response.name == criterion.response and s.cell.lubricant == criterion.lubricant
    ]
    summary = _at_load(found, criterion.load, lambda s: s.cell.load_level)
    if summary is None:
        return _without_data(criterion, limit_si, side, confidence)
    response, estimate = summary.response, summary.estimate
    limit = in_unit(response, limit_si)
    assert limit is not None
    low, high = in_unit(response, estimate.low), in_unit(response, estimate.high)
    verdict = judge(low, high, limit, side)
    # One end of an interval decides at half of its error; a bound alone that decides "met" must match that.
    needed = 0.5 + 0.5 * confidence if verdict is Verdict.MET else confidence
    usable = estimate.estimate is not None or estimate.confidence >= needed - 1e-12
    verdict = verdict if usable else Verdict.UNDECIDED
    if low is None and high is None:
        reason = CriterionReason.NO_INTERVAL
    elif not usable:
        reason = CriterionReason.UNSURE_BOUND
    else:
        reason = (_OF_BOUND if estimate.estimate is None else _OF_INTERVAL)[verdict]
    return CriterionResult(
        criterion=criterion,
        verdict=verdict,
        reason=reason,
        side=side,
        estimate=in_unit(response, estimate.estimate),
        low=low,
        high=high,
        limit=limit,
        unit=response.unit,
        further_repeats=further_repeats(summary, limit_si) if verdict is Verdict.UNDECIDED else None,
        evidence=summary,
        confidence=confidence,
    )


def _judge_ratio(
    criterion: Criterion,
    comparisons: Sequence[LoadComparison],
    confidence: float,
    further_repeats: FurtherRepeats,
) -> CriterionResult:
    found = [
        c
        for c in comparisons
        if c.response.name == criterion.response and c.result.subject == criterion.lubricant
    ]
    comparison = _at_load(found, criterion.load, lambda c: c.load_level)
    if comparison is None:
        return _without_data(criterion, criterion.ratio_limit("lower"), "at most", confidence)
    side, limit = _ratio_side(criterion, comparison.response)
    fair = comparison.unlike is None and comparison.blocked is None
    found_ratio = ratio_of(comparison)
    low, high = found_ratio.low, found_ratio.high
    verdict = judge(low, high, limit, side) if fair else Verdict.UNDECIDED
    if comparison.blocked is not None:
        reason = CriterionReason.BLOCKED
    elif comparison.unlike is not None:
        reason = CriterionReason.UNLIKE
    else:
        reason = CriterionReason.NO_INTERVAL if low is None and high is None else _OF_INTERVAL[verdict]
    undecided = verdict is Verdict.UNDECIDED and fair
    return CriterionResult(
        criterion=criterion,
        verdict=verdict,
        reason=reason,
        side=side,
        estimate=found_ratio.ratio,
        low=low,
        high=high,
        limit=limit,
        further_repeats=further_repeats(comparison, limit) if undecided else None,
        evidence=comparison,
        confidence=confidence,
    )


def ratio_of(comparison: LoadComparison) -> RatioJudged:
    """Give a ratio with its limits: never a difference, which a limit on a ratio says nothing about."""
    result, means = comparison.result, comparison.of_means
    if means is not None:
        why = means.reason or "none"
        if no_ratio_reason(comparison.response) is None:
            why += "; zeros or negative values have no logarithms"
        return RatioJudged(means.ratio, means.low, means.high, why)
    if comparison.response.scale == "linear":
        return RatioJudged(None, None, None, result.note or result.method)
    return RatioJudged(result.ratio, result.low, result.high, result.note or result.method)


def _ratio_side(criterion: Criterion, response: Response) -> tuple[Side, float]:
    if criterion.rule == "ratio at least":
        return "at least", criterion.ratio_limit("higher")
    if criterion.rule == "ratio at most":
        return "at most", criterion.ratio_limit("lower")
    if (criterion.better or response.better) == "higher":
        return "at least", criterion.ratio_limit("higher")
    return "at most", criterion.ratio_limit("lower")


def _at_load(found: Sequence[T], load: float | None, level: Callable[[T], float]) -> T | None:
    matching = [item for item in found if load is None or same_level(load, level(item))]
    return matching[0] if len(matching) == 1 else None


def _without_data(criterion: Criterion, limit: float, side: Side, confidence: float) -> CriterionResult:
    return CriterionResult(
        criterion=criterion,
        verdict=Verdict.UNDECIDED,
        reason=CriterionReason.NO_DATA,
        side=side,
        limit=limit,
        confidence=confidence,
    )

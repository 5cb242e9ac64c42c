"""Release criteria: each limit of the campaign judged on the interval that the runs give.

Verdicts: an interval against a limit, in three words and one sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from typing import TypeVar

from pinscar.campaign.model import Criterion
from pinscar.decision.judgements import (
    CriterionReason,
    CriterionResult,
    LoadComparison,
    Side,
    Summary,
    Verdict,
    ratio_of,
)
from pinscar.decision.responses import Response, in_unit
from pinscar.decision.runs import same_level


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


T = TypeVar("T")

FurtherRepeats = Callable[[Summary | LoadComparison, float], int | None]
"""Gives the further repeats per lubricant likely to settle a limit, from its evidence and the limit in SI."""


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

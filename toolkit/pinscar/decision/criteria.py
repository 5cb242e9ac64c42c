"""Release criteria: each limit of the campaign judged on the interval that the runs give.

Verdicts: an interval against a limit, in three words and one sentence.

Further repeats likely to settle an undecided limit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal, TypeVar

from scipy.special import stdtrit

from pinscar.campaign.model import Criterion
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.mean_ratios import no_ratio_reason
from pinscar.decision.responses import Response, in_unit
from pinscar.decision.runs import same_level
from pinscar.decision.summaries import Summary
from pinscar.stats.intervals import MeanRatio
from pinscar.stats.pairwise import bonferroni_confidence
from pinscar.stats.power import further_repeats_to_settle, spread_from_interval
from pinscar.wording import (
    counted,
    limit_number,
    load_text,
    percentage,
    significant,
    with_interval,
    with_unit,
)

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


T = TypeVar("T")
LEARNED = "the spread is moderated by the laboratory's earlier campaigns, as campaign.toml asks"

FurtherRepeats = Callable[[Summary | LoadComparison, float], int | None]
"""Gives the further repeats per lubricant likely to settle a limit, from its evidence and the limit in SI."""


@dataclass(frozen=True, slots=True)
class CriterionResult:
    """A criterion with its verdict.

    Parameters
    ----------
    criterion : Criterion
        As the campaign states it.
    requirement : str
        What is required, in words.
    verdict : Verdict
        Met, not met or undecided.
    estimate, low, high : float or None
        What was judged, in ``unit``.
    limit : float
        The limit, in ``unit``.
    unit : str
        Unit of the numbers; empty for a ratio.
    further_repeats : int or None
        Further runs per lubricant likely to settle an undecided limit.
    because : str
        The reason, one plain sentence.
    """

    criterion: Criterion
    requirement: str
    verdict: Verdict
    estimate: float | None
    low: float | None
    high: float | None
    limit: float
    unit: str
    further_repeats: int | None
    because: str


def judge_criteria(
    criteria: Sequence[Criterion],
    summaries: Sequence[Summary],
    comparisons: Sequence[LoadComparison],
    confidence: float,
    further_repeats: FurtherRepeats,
    learned: Collection[str] = (),
) -> tuple[CriterionResult, ...]:
    """Judge every criterion of a campaign.

    Parameters
    ----------
    criteria : sequence of Criterion
        The limits.
    summaries : sequence of Summary
        Estimates of the cells.
    comparisons : sequence of LoadComparison
        Comparisons with the reference.
    confidence : float
        Confidence that a one-sided bound must have to decide [1].
    further_repeats : callable
        Gives the further repeats likely to settle an undecided limit.
    learned : collection of str
        Responses whose spread is moderated by earlier campaigns: the words say so.

    Returns
    -------
    tuple of CriterionResult
        In the order of the campaign.
    """
    judged = [
        _judge_ratio(criterion, comparisons, confidence, further_repeats)
        if criterion.is_relative
        else _judge_value(criterion, summaries, confidence, further_repeats)
        for criterion in criteria
    ]
    return tuple(
        replace(one, because=f"{one.because}; {LEARNED}")
        if one.criterion.response in learned and one.low is not None
        else one
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
        return _without_data(criterion, limit_si, f"{criterion.rule} {criterion.limit_text}")
    response, estimate = summary.response, summary.estimate
    limit = in_unit(response, limit_si)
    assert limit is not None
    low, high = in_unit(response, estimate.low), in_unit(response, estimate.high)
    verdict = judge(low, high, limit, side)
    # One end of an interval decides at half of its error; a bound alone that decides "met" must match that.
    needed = 0.5 + 0.5 * confidence if verdict is Verdict.MET else confidence
    usable = estimate.estimate is not None or estimate.confidence >= needed - 1e-12
    verdict = verdict if usable else Verdict.UNDECIDED
    requirement = (
        f"{response.label.lower()} of {criterion.lubricant} at {load_text(summary.cell.load_level)} "
        f"{side} {criterion.limit_text}"
    )
    because = _because_value(summary, low, high, limit, side, verdict, usable)
    further = further_repeats(summary, limit_si) if verdict is Verdict.UNDECIDED else None
    return CriterionResult(
        criterion,
        requirement,
        verdict,
        in_unit(response, estimate.estimate),
        low,
        high,
        limit,
        response.unit,
        further,
        because,
    )


def _because_value(
    summary: Summary,
    low: float | None,
    high: float | None,
    limit: float,
    side: Side,
    verdict: Verdict,
    usable: bool,
) -> str:
    response, estimate = summary.response, summary.estimate
    factor, unit = response.shown_factor, response.shown_unit
    runs = counted(estimate.n, "run")
    shown_limit = with_unit(limit_number(limit * factor), unit)
    if low is None and high is None:
        give = "gives" if estimate.n == 1 else "give"
        return f"{runs} {give} no interval, so the limit of {shown_limit} can't be judged"
    if not usable:
        return (
            f"{_bound(response, runs, low, high)} "
            f"with {percentage(estimate.confidence)} confidence only, less than the campaign asks"
        )
    if estimate.estimate is None:
        return (
            f"{_bound(response, runs, low, high)} "
            f"({percentage(estimate.confidence)} confidence), {_relation(verdict, side)} {shown_limit}"
        )
    shown = with_interval(
        _times(in_unit(response, estimate.estimate), factor), _times(low, factor), _times(high, factor)
    )
    return (
        f"{with_unit(shown, unit)} from {runs}: the whole interval would have to lie {_wanted(side)} "
        f"{shown_limit}, and {_relation_interval(verdict)}"
    )


def _bound(response: Response, runs: str, low: float | None, high: float | None) -> str:
    """Say what runs tell that were all stopped before what they were to show."""
    if response.name == "film_pressure":
        end = with_unit(significant(_times(high, response.shown_factor)), response.shown_unit)
        return f"all {runs} were still wearing: the film carries at most {end}"
    way, value = ("at least", low) if high is None else ("at most", high)
    end = with_unit(significant(_times(value, response.shown_factor)), response.shown_unit)
    state = "were still rubbing at their end" if high is None else "give bounds only"
    return f"all {runs} {state}: {response.label.lower()} is {way} {end}"


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
        return _without_data(criterion, criterion.ratio_limit("lower"), _ratio_words(criterion))
    side, limit = _ratio_side(criterion, comparison.response)
    result = comparison.result
    requirement = (
        f"{comparison.response.label.lower()} of {criterion.lubricant} at "
        f"{load_text(comparison.load_level)}, "
        f"as a ratio to {result.reference}, {side} {limit_number(limit)}"
    )
    fair = comparison.unlike is None and comparison.blocked is None
    ratio, low, high, why_not = _of_ratio(comparison)
    verdict = judge(low, high, limit, side) if fair else Verdict.UNDECIDED
    if comparison.blocked is not None:
        because = f"the audit blocks the comparison: {comparison.blocked}"
    elif comparison.unlike is not None:
        because = (
            f"the two were run under different conditions ({comparison.unlike}), so no comparison is judged"
        )
    elif low is None and high is None:
        because = f"no interval of the ratio could be computed: {why_not}"
        if comparison.of_means is not None and no_ratio_reason(comparison.response) is None:
            because += "; zeros or negative values have no logarithms"
    else:
        shown = with_interval(ratio, low, high)
        because = (
            f"ratio {shown}: the whole interval would have to lie {_wanted(side)} {limit_number(limit)}, "
            f"and {_relation_interval(verdict)}{_one_end(criterion, comparison, confidence)}"
            f"{_how(comparison)}"
        )
    undecided = verdict is Verdict.UNDECIDED and fair
    return CriterionResult(
        criterion,
        requirement,
        verdict,
        ratio,
        low,
        high,
        limit,
        "",
        further_repeats(comparison, limit) if undecided else None,
        because,
    )


def _of_ratio(comparison: LoadComparison) -> tuple[float | None, float | None, float | None, str]:
    """Give a ratio with its limits: never a difference, which a limit on a ratio says nothing about."""
    result, means = comparison.result, comparison.of_means
    if means is not None:
        return means.ratio, means.low, means.high, means.reason or "none"
    if comparison.response.scale == "linear":
        return None, None, None, result.note or result.method
    return result.ratio, result.low, result.high, result.note or result.method


def _how(comparison: LoadComparison) -> str:
    """Name the method of a ratio that is none of geometric means."""
    return "" if comparison.of_means is None else f" ({comparison.of_means.method})"


def _one_end(criterion: Criterion, comparison: LoadComparison, confidence: float) -> str:
    """Say how sure the one end is that a test of "not worse than" rests on."""
    if criterion.rule != "not worse than":
        return ""
    least = "at least " if comparison.family > 1 else ""
    alone = percentage(0.5 + 0.5 * confidence)
    only = f"; only this end of the {percentage(confidence)} interval matters"
    return f"{only}; one-sided confidence {least}{alone}"


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


def _without_data(criterion: Criterion, limit: float, words: str) -> CriterionResult:
    load = "any load" if criterion.load is None else load_text(criterion.load)
    because = f"no run of {criterion.lubricant} at {load} gives {_with_article(criterion.response)} to judge"
    requirement = f"{criterion.response.replace('_', ' ')} of {criterion.lubricant} at {load} {words}"
    return CriterionResult(
        criterion, requirement, Verdict.UNDECIDED, None, None, None, limit, "", None, because
    )


def _with_article(response: str) -> str:
    name = response.replace("_", " ")
    return name if name.endswith("s") else f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def _ratio_words(criterion: Criterion) -> str:
    return criterion.rule


def _wanted(side: Side) -> str:
    return "at or above" if side == "at least" else "at or below"


def _relation_interval(verdict: Verdict) -> str:
    return {
        Verdict.MET: "it does",
        Verdict.NOT_MET: "it lies wholly on the wrong side",
        Verdict.UNDECIDED: "it spans that limit",
    }[verdict]


def _relation(verdict: Verdict, side: Side) -> str:
    if verdict is Verdict.NOT_MET:
        return "below the required"
    if verdict is Verdict.MET:
        return "within"
    return f"which alone can't show {side}"


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def further_repeats(evidence: Summary | LoadComparison, limit: float, confidence: float) -> int | None:
    """Estimate the further repeats a lubricant that would probably settle a limit.

    By the noncentral t distribution, if estimate and spread stay as they are, with a chance of 80 %. Censored
    runs count as full runs, so with censoring the number is a lower bound.

    Parameters
    ----------
    evidence : Summary or LoadComparison
        What was judged.
    limit : float
        The limit, in SI units or as a ratio.
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    int or None
        Further runs; None where the spread is unknown, there is no estimate, or more than 50 would be needed.
    """
    if isinstance(evidence, Summary):
        return _for_value(evidence, limit, confidence)
    return _for_ratio(evidence, limit, confidence)


def _for_value(summary: Summary, limit: float, confidence: float) -> int | None:
    estimate = summary.estimate
    if estimate.estimate is None or not estimate.sd:
        return None
    return further_repeats_to_settle(
        estimate.n, estimate.sd, estimate.estimate, limit, confidence, scale=summary.response.scale
    )


def _for_ratio(comparison: LoadComparison, limit: float, confidence: float) -> int | None:
    result = comparison.result
    if comparison.of_means is not None:
        return _for_means(comparison, comparison.of_means, limit, confidence)
    if result.ratio is None or result.low is None or result.high is None or result.low >= result.high:
        return None
    spread = spread_from_interval(
        result.low, result.high, confidence, result.n, result.n_reference, comparison.family
    )
    return further_repeats_to_settle(
        result.n,
        spread,
        result.ratio,
        limit,
        confidence,
        n_reference=result.n_reference,
        comparisons=comparison.family,
    )


def _for_means(comparison: LoadComparison, means: MeanRatio, limit: float, confidence: float) -> int | None:
    """Further runs for a ratio of means, by what its limits tell of the spread of x - ratio y."""
    result = comparison.result
    if means.ratio is None or means.low is None or means.high is None or means.df is None:
        return None
    if means.df != min(result.n, result.n_reference) - 1:
        return None  # over blocks it takes more of them, and not more runs
    each = bonferroni_confidence(confidence, comparison.family)
    reach = (means.high - means.low) / (2.0 * float(stdtrit(means.df, 0.5 + each / 2.0)))
    spread = reach / math.sqrt(1.0 / result.n + 1.0 / result.n_reference)
    return further_repeats_to_settle(
        result.n,
        spread,
        means.ratio,
        limit,
        confidence,
        n_reference=result.n_reference,
        comparisons=comparison.family,
        scale="linear",
    )

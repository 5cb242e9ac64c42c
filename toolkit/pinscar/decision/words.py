"""What judgements say: criteria, claims and comparisons are data, and their plain sentences are made here."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pinscar.campaign.model import Claim
from pinscar.decision.judgements import (
    ClaimReason,
    ClaimResult,
    CriterionReason,
    CriterionResult,
    LoadComparison,
    Side,
    Summary,
    Verdict,
    ratio_of,
)
from pinscar.decision.responses import Response
from pinscar.decision.runs import same_level
from pinscar.stats.family import Comparison
from pinscar.wording import (
    change_range,
    compared,
    counted,
    limit_number,
    listing,
    load_text,
    lower_first,
    percentage,
    significant,
    with_interval,
    with_unit,
)

LEARNED = "the spread is moderated by the laboratory's earlier campaigns, as campaign.toml asks"


def requirement(result: CriterionResult) -> str:
    """Say what a criterion requires."""
    criterion, evidence = result.criterion, result.evidence
    if evidence is None:
        limit = criterion.rule if criterion.is_relative else f"{criterion.rule} {criterion.limit_text}"
        return f"{criterion.response.replace('_', ' ')} of {criterion.lubricant} at {_load(result)} {limit}"
    label = evidence.response.label.lower()
    if isinstance(evidence, Summary):
        where = load_text(evidence.cell.load_level)
        return f"{label} of {criterion.lubricant} at {where} {result.side} {criterion.limit_text}"
    return (
        f"{label} of {criterion.lubricant} at {load_text(evidence.load_level)}, as a ratio to "
        f"{evidence.result.reference}, {result.side} {limit_number(result.limit)}"
    )


def because(result: CriterionResult) -> str:
    """Say why a criterion has its verdict."""
    evidence = result.evidence
    if evidence is None:
        criterion = result.criterion
        return (
            f"no run of {criterion.lubricant} at {_load(result)} gives {_with_article(criterion.response)} "
            "to judge"
        )
    if isinstance(evidence, Summary):
        said = _because_value(result, evidence)
    else:
        said = _because_ratio(result, evidence)
    return f"{said}; {LEARNED}" if result.learned else said


def _because_value(result: CriterionResult, summary: Summary) -> str:
    response, estimate = summary.response, summary.estimate
    unit, runs = response.shown_unit, counted(estimate.n, "run")
    value, low, high, limit = (
        None if number is None else number * response.shown_factor
        for number in (result.estimate, result.low, result.high, result.limit)
    )
    shown_limit = with_unit(limit_number(limit or 0.0), unit)
    if result.reason is CriterionReason.NO_INTERVAL:
        give = "gives" if estimate.n == 1 else "give"
        why = f": {estimate.note}" if estimate.n > 1 and estimate.note else ""
        return f"{runs} {give} no interval, so the limit of {shown_limit} can't be judged{why}"
    if result.reason is CriterionReason.UNSURE_BOUND:
        sure = percentage(estimate.confidence)
        return f"{_bound(response, runs, low, high)} with {sure} confidence only, less than the campaign asks"
    if value is None:
        return (
            f"{_bound(response, runs, low, high)} ({percentage(estimate.confidence)} confidence), "
            f"{_relation_of_bound(result)} {shown_limit}"
        )
    return (
        f"{with_unit(with_interval(value, low, high, limit), unit)} from {runs}: the whole interval would "
        f"have to lie {_wanted(result.side)} {shown_limit}, and {_relation_of_interval(result.verdict)}"
    )


def _because_ratio(result: CriterionResult, comparison: LoadComparison) -> str:
    if result.reason is CriterionReason.BLOCKED:
        return f"the audit blocks the comparison: {comparison.blocked}"
    if result.reason is CriterionReason.UNLIKE:
        return (
            f"the two were run under different conditions ({comparison.unlike}), so no comparison is judged"
        )
    if result.reason is CriterionReason.NO_INTERVAL:
        return f"no interval of the ratio could be computed: {ratio_of(comparison).why_not}"
    shown = with_interval(result.estimate, result.low, result.high, result.limit)
    return (
        f"ratio {shown}: the whole interval would have to lie {_wanted(result.side)} "
        f"{limit_number(result.limit)}, and {_relation_of_interval(result.verdict)}"
        f"{_one_end(result, comparison)}{_how(comparison)}"
    )


def _bound(response: Response, runs: str, low: float | None, high: float | None) -> str:
    """Say what runs tell that were all stopped before what they were to show."""
    if response.name == "film_pressure":
        end = with_unit(significant(high), response.shown_unit)
        return f"all {runs} were still wearing: the film carries at most {end}"
    way, value = ("at least", low) if high is None else ("at most", high)
    state = "give lower bounds only" if high is None else "give bounds only"
    end = with_unit(significant(value), response.shown_unit)
    return f"all {runs} {state}: {response.label.lower()} is {way} {end}"


def _how(comparison: LoadComparison) -> str:
    """Name the method of a ratio that is none of geometric means."""
    return "" if comparison.of_means is None else f" ({comparison.of_means.method})"


def _one_end(result: CriterionResult, comparison: LoadComparison) -> str:
    """Say how sure the one end is that a test of "not worse than" rests on."""
    if result.criterion.rule != "not worse than":
        return ""
    least = "at least " if comparison.family > 1 else ""
    alone = percentage(0.5 + 0.5 * result.confidence)
    only = f"; only this end of the {percentage(result.confidence)} interval matters"
    return f"{only}; one-sided confidence {least}{alone}"


def _load(result: CriterionResult) -> str:
    return "any load" if result.criterion.load is None else load_text(result.criterion.load)


def _with_article(response: str) -> str:
    name = response.replace("_", " ")
    return name if name.endswith("s") else f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def _wanted(side: Side) -> str:
    return "at or above" if side == "at least" else "at or below"


def _relation_of_interval(verdict: Verdict) -> str:
    return {
        Verdict.MET: "it does",
        Verdict.NOT_MET: "it lies wholly on the wrong side",
        Verdict.UNDECIDED: "it spans that limit",
    }[verdict]


def _relation_of_bound(result: CriterionResult) -> str:
    return {
        Verdict.MET: "within",
        Verdict.NOT_MET: "below the required",
        Verdict.UNDECIDED: f"which alone can't show {result.side}",
    }[result.verdict]


def claimed(result: ClaimResult) -> str:
    """Say what a claim claims."""
    claim, response = result.claim, result.response
    label = claim.response.replace("_", " ") if response is None else response.label.lower()
    where = load_text(claim.load)
    if claim.best_of_all:
        return f"{claim.subject} has the {_extreme(claim)} {label} of all at {where}"
    word = claim.direction if response is None else _way(claim, response)
    amount = word if claim.percentage is None else f"at least {percentage(claim.percentage)} {word}"
    return f"{claim.subject}: {amount} {label} than {claim.against} at {where}"


def wording(result: ClaimResult) -> str | None:
    """Give the strongest wording that the data support."""
    claim, response, tests = result.claim, result.response, result.comparisons
    if response is None or result.share is None or result.share <= 0.0:
        return None
    whole, word = math.floor(result.share * 100.0), _way(claim, response)
    amount = f"at least {whole} % {word}" if whole >= 1 else word
    scope = f"{_extreme(claim)} of all oils tested here, " if claim.best_of_all else ""
    sizes = listing([str(tests[0].n), *[str(test.n_reference) for test in tests]])
    return (
        f"{claim.subject}: {scope}{amount} {response.label.lower()} than "
        f"{listing([test.reference for test in tests])} at {load_text(claim.load)}, "
        f"{percentage(result.confidence)} confidence, n = {sizes}"
    )


def claim_because(result: ClaimResult) -> str:
    """Say why a claim is supported, not supported or refused."""
    claim, response, test = result.claim, result.response, result.weakest
    where, names = load_text(claim.load), listing(result.names)
    if response is None or test is None:
        label = "" if response is None else response.label.lower()
        return {
            ClaimReason.NOT_MEASURED: "the response was not measured",
            ClaimReason.NO_RATIO: result.detail,
            ClaimReason.NOT_RUN: f"{names} was not run at {where}",
            ClaimReason.RIVAL_NOT_RUN: f"{names} was not run at {where}; results at different loads are not "
            "compared",
            ClaimReason.UNLIKE: f"{claim.subject} was {result.detail}",
            ClaimReason.BLOCKED: f"the audit blocks it: {result.detail}",
            ClaimReason.NO_VALUES: f"{names} gave no {label} at this load",
        }[result.reason]
    if result.reason is ClaimReason.NO_INTERVAL:
        return f"no interval of the ratio to {test.reference}: {test.note or test.method}"
    seen = _seen(response, test)
    return {
        ClaimReason.NOT_SEPARATED: f"{seen}: the interval does not exclude equality",
        ClaimReason.NOT_SO_MUCH: f"{seen}: not sure to be {percentage(claim.percentage or 0.0)} or more",
        ClaimReason.SURE: seen,
    }[result.reason]


def _seen(response: Response, test: Comparison) -> str:
    if test.ratio is not None and test.low is not None and test.high is not None:
        change = compared(test.ratio, response.smaller, response.larger, test.reference)
        return f"{change} ({change_range(test.ratio, test.low, test.high)})"
    # Where one side has bounds only, so has the ratio; the end that the claim needs may still be known.
    return _one_bound(test)


def _one_bound(test: Comparison) -> str:
    end = f"at most {significant(test.high)}" if test.low is None else f"at least {significant(test.low)}"
    return f"ratio to {test.reference} {end}"


def beside_comparison(result: ClaimResult, comparisons: Sequence[LoadComparison]) -> str | None:
    """Give the interval that the comparison of the same two oils has, where it is another one, and why."""
    test, claim = result.weakest, result.claim
    same = next((c.result for c in comparisons if _is_same(c, result)), None)
    if test is None or same is None:
        return None
    ends = [(one.ratio, one.low, one.high) for one in (test, same)]
    told = [None if None in one else change_range(*one) for one in ends]  # type: ignore[arg-type]
    if None in told or told[0] == told[1]:
        return None
    return (
        "This interval holds for all claims together; that of the comparison holds for the oils at "
        f"{load_text(claim.load)}: {told[1]}."
    )


def _is_same(c: LoadComparison, result: ClaimResult) -> bool:
    """Tell whether a comparison is of the oils, the load and the response of a claim's weakest test."""
    test = result.weakest
    return (
        test is not None
        and c.response is result.response
        and same_level(result.claim.load, c.load_level)
        and (c.result.subject, c.result.reference) == (test.subject, test.reference)
    )


def _extreme(claim: Claim) -> str:
    return "lowest" if claim.direction == "lower" else "highest"


def _way(claim: Claim, response: Response) -> str:
    return response.smaller if claim.direction == "lower" else response.larger


def conclusion(comparison: LoadComparison) -> str:
    """Say in words what a comparison shows."""
    if comparison.unlike is not None:
        return f"not compared: {comparison.unlike}"
    if comparison.blocked is not None:
        return f"not like for like ({comparison.blocked}): {_shown(comparison)}"
    return _shown(comparison)


def _shown(comparison: LoadComparison) -> str:
    result, response = comparison.result, comparison.response
    if result.low is None and result.high is None:
        return f"no interval: {result.note or result.method}"
    if response.scale == "linear":
        way = response.smaller if (result.difference or 0.0) < 0 else response.larger
        apart = result.low is not None and result.high is not None and not result.low <= 0.0 <= result.high
        return f"{way} than {result.reference}" if apart else f"not separated from {result.reference}"
    if result.low is None or result.high is None or result.ratio is None:
        return _one_bound(result)
    if result.low <= 1.0 <= result.high:
        interval = change_range(result.ratio, result.low, result.high)
        return f"not separated from {result.reference} ({interval})"
    return _seen(response, result)


def limit_name(result: CriterionResult, *, oil: bool = True) -> str:
    """Name a limit by what it limits: the response, the oil and the load."""
    of = f" of {result.criterion.lubricant}" if oil else ""
    return f"{_of_limit(result)}{of} at {_limit_load(result)}"


def limit_told(result: CriterionResult) -> str:
    """Tell a limit of an oil in words with its numbers, the verdict left out."""
    return f"{_of_limit(result)} at {_limit_load(result)}: {_told_value(result)}, {_told_limit(result)}"


def _of_limit(result: CriterionResult) -> str:
    evidence = result.evidence
    if evidence is None:
        return result.criterion.response.replace("_", " ")
    return lower_first(evidence.response.label)


def _limit_load(result: CriterionResult) -> str:
    evidence = result.evidence
    if evidence is None:
        return _load(result)
    return load_text(evidence.cell.load_level if isinstance(evidence, Summary) else evidence.load_level)


def _told_value(result: CriterionResult) -> str:
    evidence, reason = result.evidence, result.reason
    if evidence is None:
        return "no run tells it"
    if reason is CriterionReason.BLOCKED:
        return "not judged, because the audit blocks the comparison"
    if reason is CriterionReason.UNLIKE:
        return "not judged, because the two were run under different conditions"
    factor = evidence.response.shown_factor if isinstance(evidence, Summary) else 1.0
    numbers = [
        None if one is None else one * factor
        for one in (result.estimate, result.low, result.high, result.limit)
    ]
    if reason is CriterionReason.NO_INTERVAL and numbers[0] is None:
        return "no value could be computed"
    shown = with_interval(*numbers)
    if reason is CriterionReason.NO_INTERVAL:
        shown = f"{shown} without an interval"
    if isinstance(evidence, Summary):
        return with_unit(shown, evidence.response.shown_unit)
    return f"{shown} times that of {evidence.result.reference}"


def _told_limit(result: CriterionResult) -> str:
    evidence = result.evidence
    if isinstance(evidence, Summary):
        limit = limit_number(result.limit * evidence.response.shown_factor)
        return f"{result.side} {with_unit(limit, evidence.response.shown_unit)}"
    if evidence is None and not result.criterion.is_relative:
        return f"{result.side} {result.criterion.limit_text}"
    return f"{result.side} {limit_number(result.limit)} times"

"""Claims: which sentence the data support, in which exact words, and which they don't."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import pandas as pd

from pinscar.campaign.model import Claim
from pinscar.decision.comparisons import blocking_reason, cell_blocks, compare_cells
from pinscar.decision.finding import Finding
from pinscar.decision.mean_ratios import as_comparison, no_ratio_reason, ratio_of_cells
from pinscar.decision.resolution import resolution
from pinscar.decision.responses import Response
from pinscar.decision.runs import same_level, unlike_reason
from pinscar.decision.summaries import Cell, cells
from pinscar.stats.family import Comparison
from pinscar.stats.variance_prior import VariancePrior
from pinscar.wording import change_range, compared, listing, load_text, percentage, significant


class Support(StrEnum):
    """What the data say about a claim."""

    SUPPORTED = "supported"
    NOT_SUPPORTED = "not supported"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class ClaimResult:
    """A claim with what the data say about it.

    Parameters
    ----------
    claim : Claim
        As the campaign states it.
    claimed : str
        The claim in words.
    support : Support
        Supported, not supported or refused.
    wording : str or None
        The strongest wording that the data support; None where they support none.
    because : str
        The reason, one plain sentence.
    """

    claim: Claim
    claimed: str
    support: Support
    wording: str | None
    because: str


def judge_claims(
    claims: Sequence[Claim],
    runs: pd.DataFrame,
    responses: Sequence[Response],
    findings: Sequence[Finding],
    confidence: float,
    block: str | None,
    pooled: bool = False,
    units: Mapping[str, str] = MappingProxyType({}),
    priors: Mapping[str, VariancePrior] = MappingProxyType({}),
) -> tuple[ClaimResult, ...]:
    """Judge every claim of a campaign, at a confidence that holds for all of them together.

    A claim counts as many comparisons as it needs: one, or one for each other oil where it says "best of
    all". With m comparisons in all, each is made at confidence 1 - (1 - confidence) / m (Bonferroni).

    Parameters
    ----------
    claims : sequence of Claim
        The claims.
    runs : DataFrame
        Evaluated runs.
    responses : sequence of Response
        All responses that the runs have.
    findings : sequence of Finding
        The fairness audit; a blocking finding refuses the claims on the runs that it concerns.
    confidence : float
        Confidence over all claims together [1].
    block : str or None
        Column that holds the block of each run.
    pooled : bool
        True where the campaign says that all oils share one spread.
    units : mapping of str to str
        Unit in which each column was typed: tells how finely it was read.
    priors : mapping of str to VariancePrior
        What earlier campaigns tell of the spread of each response, where that is used.

    Returns
    -------
    tuple of ClaimResult
        In the order of the campaign.
    """
    included = runs[runs["excluded"] == ""]
    by_name = {response.name: response for response in responses}
    rivals = [_rivals(claim, included) for claim in claims]
    family = max(sum(len(names) for names in rivals), 1)
    each = 1.0 - (1.0 - confidence) / family
    method = _Method(each, block, pooled, units, priors)
    return tuple(
        _judge(claim, names, included, by_name, findings, confidence, method)
        for claim, names in zip(claims, rivals, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Method:
    """How each comparison of a claim is made."""

    confidence: float
    block: str | None
    pooled: bool
    units: Mapping[str, str]
    priors: Mapping[str, VariancePrior]


def _rivals(claim: Claim, included: pd.DataFrame) -> list[str]:
    if not claim.best_of_all:
        return [claim.against]
    at_load = included[[same_level(claim.load, level) for level in included["load_level"]]]
    return [name for name in dict.fromkeys(at_load["lubricant"]) if name != claim.subject]


def _judge(
    claim: Claim,
    rivals: Sequence[str],
    included: pd.DataFrame,
    responses: Mapping[str, Response],
    findings: Sequence[Finding],
    confidence: float,
    method: _Method,
) -> ClaimResult:
    response = responses.get(claim.response)
    at_load = included[[same_level(claim.load, level) for level in included["load_level"]]]
    reason = "the response was not measured" if response is None else no_ratio_reason(response)
    if response is None or reason is not None:
        return ClaimResult(claim, _claimed(claim, None), Support.REFUSED, None, reason or "")
    claimed = _claimed(claim, response)
    refusal = _refusal(claim, rivals, at_load, findings)
    if refusal is not None:
        return ClaimResult(claim, claimed, Support.REFUSED, None, refusal)
    found = {cell.lubricant: cell for cell in cells(at_load, response)}
    missing = [name for name in (claim.subject, *rivals) if name not in found]
    if missing:
        return ClaimResult(
            claim,
            claimed,
            Support.REFUSED,
            None,
            f"{listing(missing)} gave no {response.label.lower()} at this load",
        )
    step = resolution(response, included, method.units)
    tests = [_test(at_load, response, found[claim.subject], found[name], method, step) for name in rivals]
    return _weigh(claim, claimed, response, tests, confidence)


def _test(
    at_load: pd.DataFrame, response: Response, own: Cell, other: Cell, method: _Method, step: float
) -> Comparison:
    if response.scale == "log":
        compared_cells = compare_cells(
            at_load,
            response,
            [own, other],
            other.lubricant,
            method.confidence,
            method.block,
            method.pooled,
            step,
            method.priors.get(response.name),
        )
        return compared_cells[0]
    labels = cell_blocks(at_load, [own, other], method.block)
    blocks = None if labels is None else (labels[own.lubricant], labels[other.lubricant])
    means = ratio_of_cells(response, own, other, blocks, method.confidence, step)
    return as_comparison(means, own, other, method.confidence)


def _refusal(
    claim: Claim, rivals: Sequence[str], at_load: pd.DataFrame, findings: Sequence[Finding]
) -> str | None:
    own = at_load[at_load["lubricant"] == claim.subject]
    if own.empty:
        return f"{claim.subject} was not run at {load_text(claim.load)}"
    for name in rivals:
        other = at_load[at_load["lubricant"] == name]
        if other.empty:
            return (
                f"{name} was not run at {load_text(claim.load)}; results at different loads are not compared"
            )
        reason = unlike_reason(own, other, other_name=name, response=claim.response)
        if reason is not None:
            return f"{claim.subject} was {reason}"
    concerned = set(at_load.loc[at_load["lubricant"].isin([claim.subject, *rivals]), "run_id"])
    reason = blocking_reason(concerned, findings, claim.response)
    return None if reason is None else f"the audit blocks it: {reason}"


def _weigh(
    claim: Claim, claimed: str, response: Response, tests: Sequence[Comparison], confidence: float
) -> ClaimResult:
    shares = [_sure_share(claim, test) for test in tests]
    weakest = min(range(len(tests)), key=lambda i: shares[i])
    test, share = tests[weakest], shares[weakest]
    needed = claim.percentage or 0.0
    if share == -math.inf:
        reason = f"no interval of the ratio to {test.reference}: {test.note or test.method}"
        return ClaimResult(claim, claimed, Support.NOT_SUPPORTED, None, reason)
    seen = _seen(response, test)
    if share <= 0.0:
        return ClaimResult(
            claim,
            claimed,
            Support.NOT_SUPPORTED,
            None,
            f"{seen}: the interval does not exclude equality",
        )
    wording = _wording(claim, response, tests, share, confidence)
    if math.floor(share * 100.0) / 100.0 + 1e-9 < needed:
        reason = f"{seen}: not sure to be {percentage(needed)} or more"
        return ClaimResult(claim, claimed, Support.NOT_SUPPORTED, wording, reason)
    return ClaimResult(claim, claimed, Support.SUPPORTED, wording, seen)


def _seen(response: Response, test: Comparison) -> str:
    if test.ratio is not None and test.low is not None and test.high is not None:
        change = compared(test.ratio, response.smaller, response.larger, test.reference)
        return f"{change} ({change_range(test.ratio, test.low, test.high)})"
    # Where one side has bounds only, so has the ratio; the end that the claim needs may still be known.
    end = f"at most {significant(test.high)}" if test.low is None else f"at least {significant(test.low)}"
    return f"ratio to {test.reference} {end}"


def _sure_share(claim: Claim, test: Comparison) -> float:
    # The end of the interval nearest to equality is what the data make sure of.
    end = test.high if claim.direction == "lower" else test.low
    if end is None:
        return -math.inf
    return 1.0 - end if claim.direction == "lower" else end - 1.0


def _wording(
    claim: Claim, response: Response, tests: Sequence[Comparison], share: float, confidence: float
) -> str:
    word = response.smaller if claim.direction == "lower" else response.larger
    others = listing([test.reference for test in tests])
    sizes = listing([str(tests[0].n), *[str(test.n_reference) for test in tests]])
    whole = math.floor(share * 100.0)
    amount = f"at least {whole} % {word}" if whole >= 1 else word
    scope = ""
    if claim.best_of_all:
        scope = f"{'lowest' if claim.direction == 'lower' else 'highest'} of all oils tested here, "
    return (
        f"{claim.subject}: {scope}{amount} {response.label.lower()} than {others} at "
        f"{load_text(claim.load)}, "
        f"{percentage(confidence)} confidence, n = {sizes}"
    )


def _claimed(claim: Claim, response: Response | None) -> str:
    label = response.label.lower() if response else claim.response.replace("_", " ")
    word = (
        claim.direction
        if response is None
        else response.smaller
        if claim.direction == "lower"
        else response.larger
    )
    amount = f"{word}" if claim.percentage is None else f"at least {percentage(claim.percentage)} {word}"
    if claim.best_of_all:
        return (
            f"{claim.subject} has the {'lowest' if claim.direction == 'lower' else 'highest'} {label} of "
            f"all at {load_text(claim.load)}"
        )
    return f"{claim.subject}: {amount} {label} than {claim.against} at {load_text(claim.load)}"

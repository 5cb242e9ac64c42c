"""Claims: which sentence the data support, in which exact words, and which they don't."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

import pandas as pd

from pinscar.campaign.model import Claim
from pinscar.decision.comparisons import (
    as_comparison,
    audit_objection,
    cell_blocks,
    compare_cells,
    ratio_of_cells,
)
from pinscar.decision.finding import Finding
from pinscar.decision.judgements import Cell, ClaimReason, ClaimResult, Support, no_ratio_reason
from pinscar.decision.responses import Response
from pinscar.decision.runs import same_level, unlike_reason
from pinscar.decision.summaries import Method, cells, resolution
from pinscar.stats.family import Comparison


def judge_claims(
    claims: Sequence[Claim],
    runs: pd.DataFrame,
    responses: Sequence[Response],
    findings: Sequence[Finding],
    method: Method,
) -> tuple[ClaimResult, ...]:
    """Judge every claim of a campaign, at a confidence that holds for all of them together.

    A claim counts as many comparisons as it needs: one, or one for each other oil where it says "best of
    all". With m comparisons in all, each is made at confidence 1 - (1 - confidence) / m (Bonferroni).
    """
    included = runs[runs["excluded"] == ""]
    by_name = {response.name: response for response in responses}
    rivals = [_rivals(claim, included) for claim in claims]
    family = max(sum(len(names) for names in rivals), 1)
    each = replace(method, confidence=1.0 - (1.0 - method.confidence) / family)
    return tuple(
        _judge(claim, names, included, by_name, findings, method.confidence, each)
        for claim, names in zip(claims, rivals, strict=True)
    )


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
    method: Method,
) -> ClaimResult:
    response = responses.get(claim.response)
    at_load = included[[same_level(claim.load, level) for level in included["load_level"]]]
    refused = partial(ClaimResult, claim=claim, support=Support.REFUSED, confidence=confidence)
    if response is None:
        return refused(reason=ClaimReason.NOT_MEASURED)
    no_ratio = no_ratio_reason(response)
    if no_ratio is not None:
        return refused(reason=ClaimReason.NO_RATIO, detail=no_ratio)
    refusal = _refusal(claim, rivals, at_load, findings)
    if refusal is not None:
        reason, names, detail = refusal
        return refused(reason=reason, response=response, names=names, detail=detail)
    found = {cell.lubricant: cell for cell in cells(at_load, response)}
    missing = tuple(name for name in (claim.subject, *rivals) if name not in found)
    if missing:
        return refused(reason=ClaimReason.NO_VALUES, response=response, names=missing)
    step = resolution(response, included, method.units, method.typed_steps)
    tests = [_test(at_load, response, found[claim.subject], found[name], method, step) for name in rivals]
    return _weigh(claim, response, tests, confidence)


def _test(
    at_load: pd.DataFrame, response: Response, own: Cell, other: Cell, method: Method, step: float
) -> Comparison:
    if response.scale == "log":
        return compare_cells(at_load, response, [own, other], other.lubricant, method, step)[0]
    labels = cell_blocks(at_load, [own, other], method.block)
    blocks = None if labels is None else (labels[own.lubricant], labels[other.lubricant])
    means = ratio_of_cells(response, own, other, blocks, method.confidence, step)
    return as_comparison(means, own, other, method.confidence)


def _refusal(
    claim: Claim, rivals: Sequence[str], at_load: pd.DataFrame, findings: Sequence[Finding]
) -> tuple[ClaimReason, tuple[str, ...], str] | None:
    own = at_load[at_load["lubricant"] == claim.subject]
    if own.empty:
        return ClaimReason.NOT_RUN, (claim.subject,), ""
    for name in rivals:
        other = at_load[at_load["lubricant"] == name]
        if other.empty:
            return ClaimReason.RIVAL_NOT_RUN, (name,), ""
        reason = unlike_reason(own, other, other_name=name, response=claim.response)
        if reason is not None:
            return ClaimReason.UNLIKE, (name,), reason
    concerned = set(at_load.loc[at_load["lubricant"].isin([claim.subject, *rivals]), "run_id"])
    reason = audit_objection(concerned, findings, claim.response)
    return None if reason is None else (ClaimReason.BLOCKED, (), reason)


def _weigh(claim: Claim, response: Response, tests: Sequence[Comparison], confidence: float) -> ClaimResult:
    shares = [_sure_share(claim, test) for test in tests]
    weakest = min(range(len(tests)), key=lambda i: shares[i])
    share: float | None = shares[weakest]
    support, reason = Support.NOT_SUPPORTED, ClaimReason.NOT_SO_MUCH
    if share == -math.inf:
        share, reason = None, ClaimReason.NO_INTERVAL
    elif shares[weakest] <= 0.0:
        reason = ClaimReason.NOT_SEPARATED
    elif math.floor(shares[weakest] * 100.0) / 100.0 + 1e-9 >= (claim.percentage or 0.0):
        support, reason = Support.SUPPORTED, ClaimReason.SURE
    return ClaimResult(
        claim=claim,
        support=support,
        reason=reason,
        confidence=confidence,
        response=response,
        comparisons=tuple(tests),
        weakest=tests[weakest],
        share=share,
    )


def _sure_share(claim: Claim, test: Comparison) -> float:
    # The end of the interval nearest to equality is what the data make sure of.
    end = test.high if claim.direction == "lower" else test.low
    if end is None:
        return -math.inf
    return 1.0 - end if claim.direction == "lower" else end - 1.0

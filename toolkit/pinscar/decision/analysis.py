"""The whole evaluation of one campaign: one call gives the record that a report is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from pinscar.campaign.model import Campaign
from pinscar.decision.audit import audit, with_readers
from pinscar.decision.audit_control import control_findings
from pinscar.decision.claims import judge_claims
from pinscar.decision.comparisons import compare_all, mark_blocked
from pinscar.decision.context import context_of
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.evaluate import evaluate_with_traces, rig_geometry
from pinscar.decision.evidence import Evidence
from pinscar.decision.experience import Experience, experience, priors_of
from pinscar.decision.further import further_repeats
from pinscar.decision.judgements import LoadComparison, Summary, overall
from pinscar.decision.observations import Observation, observe
from pinscar.decision.record import Analysis, in_order, places
from pinscar.decision.responses import Response, available, choose
from pinscar.decision.summaries import Method, summarise, typed_steps, zeros_as_bounds
from pinscar.decision.surrounding_states import Context
from pinscar.decision.traces import RunTrace
from pinscar.errors import UsageError


def analyse(
    campaign: Campaign, confidence: float | None = None, responses: Sequence[str] | None = None
) -> Analysis:
    """Evaluate a campaign.

    Criteria are judged on all responses, also where only some are wanted in the report. A comparison that the
    fairness audit blocks is neither tested nor counted for a verdict.
    """
    return narrowed(analyse_all(campaign, confidence), responses)


@dataclass(frozen=True, slots=True)
class _Begun:
    """What an evaluation begins with."""

    level: float
    alone_method: Method
    method: Method
    runs: pd.DataFrame
    traces: Sequence[RunTrace]
    included: pd.DataFrame
    found: tuple[Response, ...]
    learned: tuple[Experience, ...]


def _begin(campaign: Campaign, confidence: float | None) -> _Begun:
    settings = campaign.file.campaign
    level = settings.confidence if confidence is None else confidence
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    alone_method = Method(
        confidence=level,
        block=settings.block,
        pooled=settings.spread == "pooled",
        units=campaign.units,
        typed_steps=typed_steps(campaign.file.rig),
    )
    runs, traces = evaluate_with_traces(campaign)
    included = runs[runs["excluded"] == ""]
    found = zeros_as_bounds(
        available(runs, campaign.units), included, campaign.units, alone_method.typed_steps
    )
    learned = experience(campaign, runs, found)
    method = replace(alone_method, priors=priors_of(learned))
    return _Begun(level, alone_method, method, runs, traces, included, found, learned)


def compare_ahead(campaign: Campaign, confidence: float | None = None) -> None:
    """Compare oils only to have that kept, while another process evaluates from the beginning."""
    begun = _begin(campaign, confidence)
    compare_all(begun.runs, begun.found, campaign.file.campaign.reference, begun.method)


def analyse_all(campaign: Campaign, confidence: float | None = None) -> Analysis:
    """Evaluate a campaign on every response that its runs have, also those reported on request only."""
    settings, begun = campaign.file.campaign, _begin(campaign, confidence)
    level, alone_method, method = begun.level, begun.alone_method, begun.method
    runs, traces, included, found = begun.runs, begun.traces, begun.included, begun.found
    learned = begun.learned
    place = places(campaign.file, runs["lubricant"])
    summaries = _ordered_summaries(summarise(runs, found, method), place)
    findings = audit(with_readers(runs, campaign.readings), settings.reference, control_findings(campaign))
    comparisons = _ordered_comparisons(
        mark_blocked(compare_all(runs, found, settings.reference, method), included, findings), place
    )
    taught = [response for response in found if response.name in method.priors]
    alone: tuple[Summary | LoadComparison, ...] = (
        *_ordered_summaries(summarise(runs, taught, alone_method), place),
        *_ordered_comparisons(
            mark_blocked(compare_all(runs, taught, settings.reference, alone_method), included, findings),
            place,
        ),
    )
    criteria = judge_criteria(
        campaign.file.criteria,
        summaries,
        comparisons,
        level,
        lambda evidence, limit: further_repeats(evidence, limit, level),
        method.priors,
    )
    return Analysis(
        campaign=campaign,
        confidence=level,
        responses=found,
        runs=runs,
        summaries=summaries,
        comparisons=comparisons,
        criteria=criteria,
        verdict=overall(result.verdict for result in criteria),
        findings=findings,
        claims=judge_claims(campaign.file.claims, runs, found, findings, method),
        observations=_by_name(observe(included, settings.reference, level), place),
        context=_ordered_context(
            context_of(included, campaign.file, rig_geometry(campaign.file.rig), traces), place
        ),
        evidence=Evidence(campaign, runs, traces, level),
        experience=learned,
        alone=alone,
    )


def _ordered_summaries(found: Sequence[Summary], place: Mapping[str, int]) -> tuple[Summary, ...]:
    names = list(dict.fromkeys(one.response.name for one in found))
    return tuple(
        sorted(
            found,
            key=lambda s: (names.index(s.response.name), s.cell.load_level, place[s.cell.lubricant]),
        )
    )


def _ordered_comparisons(
    found: Sequence[LoadComparison], place: Mapping[str, int]
) -> tuple[LoadComparison, ...]:
    names = list(dict.fromkeys(one.response.name for one in found))
    return tuple(
        sorted(found, key=lambda c: (names.index(c.response.name), c.load_level, place[c.result.subject]))
    )


def _by_name(found: Sequence[Observation], place: Mapping[str, int]) -> tuple[Observation, ...]:
    names = dict.fromkeys(one.name for one in found)
    return tuple(one for name in names for one in in_order([o for o in found if o.name == name], place))


def _ordered_context(found: Context, place: Mapping[str, int]) -> Context:
    return replace(
        found,
        contact=in_order(found.contact, place),
        growth=in_order(found.growth, place),
        film=in_order(found.film, place),
        heat=in_order(found.heat, place),
    )


def narrowed(analysis: Analysis, responses: Sequence[str] | None = None) -> Analysis:
    """Keep some responses of an evaluation; limits and claims stay judged on all."""
    wanted = choose(analysis.responses, responses)
    return replace(
        analysis,
        responses=wanted,
        summaries=tuple(s for s in analysis.summaries if s.response in wanted),
        comparisons=tuple(c for c in analysis.comparisons if c.response in wanted),
        alone=tuple(one for one in analysis.alone if one.response in wanted),
    )

"""The whole evaluation of one campaign: one call, one record that the report is made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from pinscar.campaign.campaign import Campaign
from pinscar.decision.audit import audit
from pinscar.decision.audit_control import control_findings
from pinscar.decision.audit_factors import with_readers
from pinscar.decision.claims import ClaimResult, judge_claims
from pinscar.decision.comparisons import LoadComparison, compare_all, mark_blocked
from pinscar.decision.criteria import CriterionResult, Verdict, further_repeats, judge_criteria, overall
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.experience import Experience, experience, priors_of
from pinscar.decision.finding import Finding
from pinscar.decision.responses import Response, available, choose
from pinscar.decision.summaries import Summary, summarise
from pinscar.errors import UsageError


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything that a campaign's runs tell.

    Parameters
    ----------
    campaign : Campaign
        The checked campaign.
    confidence : float
        Confidence of every interval [1].
    responses : tuple of Response
        The responses evaluated.
    runs : DataFrame
        Evaluated runs, excluded ones too, SI units.
    summaries : tuple of Summary
        Estimates of the cells.
    comparisons : tuple of LoadComparison
        Comparisons with the reference.
    criteria : tuple of CriterionResult
        The limits, judged.
    verdict : Verdict or None
        Overall verdict; None where the campaign has no criterion.
    findings : tuple of Finding
        The fairness audit.
    claims : tuple of ClaimResult
        The claims, judged.
    experience : tuple of Experience
        What earlier campaigns tell of each response's spread; none where campaign.toml names none.
    alone : tuple of Summary and LoadComparison
        Estimates and comparisons of the responses that rest on earlier campaigns, without them.
    """

    campaign: Campaign
    confidence: float
    responses: tuple[Response, ...]
    runs: pd.DataFrame
    summaries: tuple[Summary, ...]
    comparisons: tuple[LoadComparison, ...]
    criteria: tuple[CriterionResult, ...]
    verdict: Verdict | None
    findings: tuple[Finding, ...]
    claims: tuple[ClaimResult, ...]
    experience: tuple[Experience, ...] = ()
    alone: tuple[Summary | LoadComparison, ...] = ()

    @property
    def reference(self) -> str:
        """The lubricant that the others are compared with."""
        return self.campaign.file.campaign.reference

    @property
    def included(self) -> pd.DataFrame:
        """The runs that count."""
        return self.runs[self.runs["excluded"] == ""]


def analyse(
    campaign: Campaign, confidence: float | None = None, responses: Sequence[str] | None = None
) -> Analysis:
    """Evaluate a campaign.

    Criteria are judged on all responses, also where only some are wanted in the report. A comparison that the
    fairness audit blocks is neither tested nor counted for a verdict.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign.
    confidence : float, optional
        Confidence of the intervals [1]; the campaign's own where not given.
    responses : sequence of str, optional
        Responses to report; all that the runs have where not given.

    Returns
    -------
    Analysis
        The evaluation.

    Raises
    ------
    UsageError
        The confidence lies outside 0.5 to 1, or a response does not exist.
    """
    return narrowed(analyse_all(campaign, confidence), responses)


def analyse_all(campaign: Campaign, confidence: float | None = None) -> Analysis:
    """Evaluate a campaign on every response that its runs have, also those that are reported on request only.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign.
    confidence : float, optional
        Confidence of the intervals [1]; the campaign's own where not given.

    Returns
    -------
    Analysis
        The evaluation.

    Raises
    ------
    UsageError
        The confidence lies outside 0.5 to 1.
    """
    settings = campaign.file.campaign
    level = settings.confidence if confidence is None else confidence
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    runs = evaluate_runs(campaign)
    found = available(runs, campaign.units)
    learned = experience(campaign, runs, found)
    priors = priors_of(learned)
    summaries = summarise(runs, found, level, campaign.units, settings.block, priors)
    findings = audit(with_readers(runs, campaign.readings), settings.reference, control_findings(campaign))
    included, pooled = runs[runs["excluded"] == ""], settings.spread == "pooled"
    chosen = (settings.reference, level, settings.block, pooled, campaign.units)
    comparisons = mark_blocked(compare_all(runs, found, *chosen, priors), included, findings)
    taught = [response for response in found if response.name in priors]
    alone: tuple[Summary | LoadComparison, ...] = (
        *summarise(runs, taught, level, campaign.units, settings.block),
        *mark_blocked(compare_all(runs, taught, *chosen), included, findings),
    )
    criteria = judge_criteria(
        campaign.file.criteria,
        summaries,
        comparisons,
        level,
        lambda evidence, limit: further_repeats(evidence, limit, level),
        priors,
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
        claims=judge_claims(
            campaign.file.claims,
            runs,
            found,
            findings,
            level,
            settings.block,
            pooled,
            campaign.units,
            priors,
        ),
        experience=learned,
        alone=alone,
    )


def narrowed(analysis: Analysis, responses: Sequence[str] | None = None) -> Analysis:
    """Keep some responses of an evaluation; limits and claims stay judged on all.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    responses : sequence of str, optional
        The responses to keep; all but those on request only where not given.

    Returns
    -------
    Analysis
        The same with these responses.

    Raises
    ------
    UsageError
        A response does not exist.
    """
    wanted = choose(analysis.responses, responses)
    return replace(
        analysis,
        responses=wanted,
        summaries=tuple(s for s in analysis.summaries if s.response in wanted),
        comparisons=tuple(c for c in analysis.comparisons if c.response in wanted),
        alone=tuple(one for one in analysis.alone if one.response in wanted),
    )

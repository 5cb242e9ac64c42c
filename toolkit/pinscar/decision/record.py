"""The one record that a report is made from, and the order of its oils."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

import pandas as pd

from pinscar.campaign.model import Campaign, CampaignFile
from pinscar.decision.evidence import Evidence, picture_findings
from pinscar.decision.experience import Experience
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.judgements import ClaimResult, CriterionResult, LoadComparison, Summary, Verdict
from pinscar.decision.observations import Observation
from pinscar.decision.responses import Response
from pinscar.decision.surrounding_states import Context

ROLES = ("reference", "candidate", "benchmark")


class OfCell(Protocol):
    """What belongs to one oil at one load."""

    @property
    def lubricant(self) -> str:
        """The oil."""

    @property
    def load_level(self) -> float:
        """Load level [N]."""


One = TypeVar("One", bound=OfCell)


def oil_order(file: CampaignFile, seen: Iterable[str]) -> tuple[str, ...]:
    """Give the oils in their order: the reference, candidates, benchmarks; each as declared, then as seen."""
    known = dict.fromkeys([*(one.id for one in file.lubricants), *seen])
    names = [name for name in known if name]
    return tuple(sorted(names, key=lambda name: ROLES.index(file.role_of(name))))


def places(file: CampaignFile, seen: Iterable[str]) -> Mapping[str, int]:
    """Give each oil its place in the order."""
    return {name: place for place, name in enumerate(oil_order(file, seen))}


def in_order(found: Sequence[One], place: Mapping[str, int]) -> tuple[One, ...]:
    """Sort what belongs to cells by load, then by the order of the oils; the rest of the order stays."""
    return tuple(sorted(found, key=lambda one: (one.load_level, place.get(one.lubricant, len(place)))))


def asked_about(file: CampaignFile, seen: Iterable[str]) -> tuple[str, ...]:
    """List the oils that the campaign asks about, the reference left out.

    These are its candidates, those of its limits and claims, and those that its question names.
    """
    limited = {one.lubricant for one in file.criteria}
    claimed = {one.subject for one in file.claims}
    question = file.campaign.question or ""
    reference = file.campaign.reference
    names = oil_order(file, [*seen, *(one.lubricant for one in file.criteria)])
    return tuple(
        name
        for name in names
        if name != reference
        and (
            file.role_of(name) == "candidate"
            or name in limited
            or name in claimed
            or re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", question)
        )
    ) or tuple(name for name in names if name != reference)


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """Everything that a campaign's runs tell.

    Attributes
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
        The fairness audit of what was typed.
    claims : tuple of ClaimResult
        The claims, judged.
    observations : tuple of Observation
        What was counted, graded or put into words.
    context : Context
        Contact, growth, film, heat, service, and the uncertainty of one measurement.
    evidence : Evidence
        What traces, recordings, pictures and cards tell; each file is read once.
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
    observations: tuple[Observation, ...]
    context: Context
    evidence: Evidence
    experience: tuple[Experience, ...] = ()
    alone: tuple[Summary | LoadComparison, ...] = ()

    @property
    def audited(self) -> tuple[Finding, ...]:
        """The fairness audit with what the pictures of scars tell; they are read for it."""
        told = tuple(picture_findings(self.evidence.micrographs, list(self.included["run_id"])))
        order = [Weight.BLOCKS, Weight.CAUTION, Weight.NOTE]
        return tuple(sorted((*self.findings, *told), key=lambda one: order.index(one.severity)))

    @property
    def reference(self) -> str:
        """The lubricant that the others are compared with."""
        return self.campaign.file.campaign.reference

    @property
    def oils(self) -> tuple[str, ...]:
        """The oils in the order in which every table and chart has them."""
        return oil_order(self.campaign.file, self.runs["lubricant"])

    @property
    def roles(self) -> dict[str, str]:
        """The role of each oil, in the order of the oils."""
        return {name: str(self.campaign.file.role_of(name)) for name in self.oils}

    @property
    def included(self) -> pd.DataFrame:
        """The included runs."""
        return self.runs[self.runs["excluded"] == ""]

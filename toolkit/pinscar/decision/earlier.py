"""Earlier campaigns beside this one: the reference in one control chart, other oils by their ratio to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pinscar.campaign.model import Campaign
from pinscar.decision.audit import audit, with_readers
from pinscar.decision.comparisons import compare_all, mark_blocked
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.joined_campaigns import unlike_rig
from pinscar.decision.judgements import LoadComparison
from pinscar.decision.responses import available
from pinscar.decision.rig_control import ControlOptions, RigControlStudy, study_rig_control
from pinscar.decision.summaries import Method
from pinscar.errors import InputError

RESPONSE = "scar_area"
"""What is charted and compared over campaigns: known of every run, and never a bound."""


@dataclass(frozen=True, slots=True)
class Beside:
    """An oil of one campaign against the reference of that campaign.

    Attributes
    ----------
    campaign : str
        The campaign.
    days : tuple of str
        First and last day of its runs; blank where not recorded.
    is_earlier : bool
        Whether it is an earlier campaign.
    comparison : LoadComparison
        The oil against the reference, by the same days, pins and rings.
    """

    campaign: str
    days: tuple[str, ...]
    is_earlier: bool
    comparison: LoadComparison


@dataclass(frozen=True, slots=True)
class Earlier:
    """What earlier campaigns tell beside the present one.

    Attributes
    ----------
    campaigns : tuple of str
        The earlier campaigns that are used.
    study : RigControlStudy or None
        The reference oil over all of them, the present runs held against limits of the earlier ones.
    no_chart : str
        Why there is no chart, where there is none.
    oils : tuple of Beside
        Every comparison with the reference, by load, then by ratio.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    campaigns: tuple[str, ...]
    study: RigControlStudy | None
    no_chart: str
    oils: tuple[Beside, ...]
    left_out: tuple[str, ...]


def look_back(campaign: Campaign, comparisons: Sequence[LoadComparison], confidence: float) -> Earlier | None:
    """Put earlier campaigns beside the present one; None where campaign.toml names none."""
    if not campaign.reference_history:
        return None
    kept, left_out = _like(campaign)
    study, no_chart = None, "no earlier campaign can be used"
    if kept:
        name = campaign.file.campaign.id
        oil = campaign.file.campaign.reference
        asked = ControlOptions(response=RESPONSE, baseline=None, lubricant=oil, judged=name)
        try:
            study, no_chart = study_rig_control([*kept, campaign], asked), ""
        except InputError as error:
            # in a page the file is not the matter: what is lacking, and what to do
            no_chart = "; ".join(f"{one.message}; {one.mend}" for one in error.problems)
    present = [one for one in comparisons if one.response.name == RESPONSE]
    oils = [_beside(campaign, one, earlier=False) for one in present]
    for other in kept:
        oils += [_beside(other, one, earlier=True) for one in _compared(other, confidence)]
    oils.sort(key=lambda one: (one.comparison.load_level, one.comparison.result.ratio or float("inf")))
    names = tuple(one.file.campaign.id for one in kept)
    return Earlier(names, study, no_chart, tuple(oils), (*left_out, *(study.left_out if study else ())))


def _like(campaign: Campaign) -> tuple[list[Campaign], list[str]]:
    """Keep the campaigns on a rig alike, with the same reference, that ended before this one began."""
    own = campaign.file.campaign
    kept: list[Campaign] = []
    left_out: list[str] = []
    first = next(iter(_days(campaign)), "9999")
    for one in campaign.reference_history:
        other = one.file.campaign
        unlike = unlike_rig(one.file.rig, campaign.file.rig)
        days = _days(one)
        if other.id == own.id or other.id in {k.file.campaign.id for k in kept}:
            left_out.append(f"Campaign {other.id}: its id stands twice.")
        elif unlike is not None:
            left_out.append(f"Campaign {other.id}: {unlike} as in {own.id}, so its scars are not compared.")
        elif other.reference != own.reference:
            left_out.append(f"Campaign {other.id}: its reference is {other.reference}, not {own.reference}.")
        elif days and days[-1] >= first:
            left_out.append(
                f"Campaign {other.id}: its runs go on to {days[-1]}, so it is not an earlier one."
            )
        else:
            kept.append(one)
    return kept, left_out


def _days(campaign: Campaign) -> list[str]:
    included = campaign.runs[campaign.runs["excluded"] == ""]
    return sorted({day for day in included["run_day"] if day})


def _compared(campaign: Campaign, confidence: float) -> tuple[LoadComparison, ...]:
    """Compare the oils of an earlier campaign as its own report does, its audit heeded."""
    settings, runs = campaign.file.campaign, evaluate_runs(campaign)
    wanted = [one for one in available(runs, campaign.units) if one.name == RESPONSE]
    pooled = settings.spread == "pooled"
    method = Method(confidence=confidence, block=settings.block, pooled=pooled, units=campaign.units)
    findings = audit(with_readers(runs, campaign.readings), settings.reference)
    included: pd.DataFrame = runs[runs["excluded"] == ""]
    return mark_blocked(compare_all(runs, wanted, settings.reference, method), included, findings)


def _beside(campaign: Campaign, one: LoadComparison, *, earlier: bool) -> Beside:
    days = _days(campaign)
    return Beside(campaign.file.campaign.id, tuple(days[:1] + days[-1:]), earlier, one)

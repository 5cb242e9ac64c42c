"""A product range: campaigns joined through the reference oil that they share, ranked at each load.

Runs that cannot be compared through it are left out with the reason.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.model import Campaign
from pinscar.decision.joined_campaigns import (
    comparable_runs,
    history_left_out,
    unbounded_response,
)
from pinscar.decision.responses import Response
from pinscar.decision.runs import by_level
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.press.results import SCHEMA
from pinscar.stats.across import CampaignRatio, RankedLubricant, campaign_ratios, joint_fit, rank_lubricants
from pinscar.stats.uncertainty import t_factor
from pinscar.units import to_unit
from pinscar.wording import counted, listing, load_text, lower_first


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeLine:
    """One oil of the range at one load.

    Attributes
    ----------
    ranked : RankedLubricant
        Place, ratio and interval with the spread between campaigns.
    role : str
        ``reference``, ``candidate`` or ``benchmark``.
    ratios : tuple of CampaignRatio
        Its ratio in each campaign; empty for the reference.
    estimate, low, high : float or None
        Ratio and interval in the campaigns as run, without any spread between campaigns; None for the
        reference.
    best, worst : int
        Ranks compatible with these intervals.
    """

    ranked: RankedLubricant
    role: str
    ratios: tuple[CampaignRatio, ...]
    estimate: float | None
    low: float | None
    high: float | None
    best: int
    worst: int

    @property
    def n(self) -> int:
        """Runs of the oil; of the reference none are counted here."""
        return sum(ratio.n for ratio in self.ratios)


@dataclass(frozen=True, slots=True)
class ReferenceLevel:
    """The reference oil in one campaign.

    Attributes
    ----------
    campaign : str
        The campaign.
    first_day : str
        First day of its runs; empty where not recorded.
    n : int
        Runs.
    mean : float
        Geometric mean [the response's unit].
    """

    campaign: str
    first_day: str
    n: int
    mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeLevel:
    """The range at one load.

    Attributes
    ----------
    load_level : float
        Load level [N].
    lines : tuple of RangeLine
        Best first.
    ratios : tuple of CampaignRatio
        All ratios.
    references : tuple of ReferenceLevel
        The reference in each campaign joined, in order of time.
    between_sd : float or None
        Standard deviation of an oil's log ratio between campaigns; None where no oil ran in two.
    between_interval : tuple of float or None
        Its confidence limits.
    between_df : int
        Differences between campaigns that it rests on.
    """

    load_level: float
    lines: tuple[RangeLine, ...]
    ratios: tuple[CampaignRatio, ...]
    references: tuple[ReferenceLevel, ...]
    between_sd: float | None
    between_interval: tuple[float, float] | None
    between_df: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeStudy:
    """A product range over several campaigns.

    Attributes
    ----------
    campaigns : tuple of Campaign
        The campaigns given.
    reference : str
        The oil that joins them.
    response : Response
        What is compared.
    confidence : float
        Confidence of each interval [1].
    levels : tuple of RangeLevel
        By load level; at least one.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    campaigns: tuple[Campaign, ...]
    reference: str
    response: Response
    confidence: float
    levels: tuple[RangeLevel, ...]
    left_out: tuple[str, ...]


def study_range(
    campaigns: Sequence[Campaign],
    response: str = "scar_area",
    reference: str | None = None,
    confidence: float | None = None,
) -> RangeStudy:
    """Join campaigns through their reference oil and rank the range."""
    level = max(one.file.campaign.confidence for one in campaigns) if confidence is None else confidence
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    base = reference or _usual_reference(campaigns)
    chosen = unbounded_response(campaigns, response)
    if chosen.scale != "log":
        raise UsageError(f"{response} has no ratios, since the zero of its unit is arbitrary")
    runs, left_out = comparable_runs(campaigns, base, chosen)
    levels = []
    for load, own in by_level(runs):
        made, out = _level(load, own, campaigns, base, chosen, level)
        left_out += out
        levels += [] if made is None else [made]
    if not levels:
        raise InputError(_nothing(left_out, base))
    left_out += history_left_out(campaigns)
    return RangeStudy(
        campaigns=tuple(campaigns),
        reference=base,
        response=chosen,
        confidence=level,
        levels=tuple(levels),
        left_out=tuple(left_out),
    )


def _usual_reference(campaigns: Sequence[Campaign]) -> str:
    named = Counter(one.file.campaign.reference for one in campaigns).most_common()
    if len(named) > 1 and named[0][1] == named[1][1]:
        message = f"the campaigns have different references: {listing([name for name, _ in named])}"
        mend = f"name the oil that joins them, such as -p reference={named[0][0]}"
        raise InputError([_error("reference-not-shared", "campaign.toml", message, mend)])
    return named[0][0]


def _level(
    load: float,
    own: pd.DataFrame,
    campaigns: Sequence[Campaign],
    reference: str,
    response: Response,
    confidence: float,
) -> tuple[RangeLevel | None, list[str]]:
    values = {
        str(name): {
            str(oil): to_unit(cell[response.name].to_numpy(dtype=float), response.unit)
            for oil, cell in group.groupby("lubricant", sort=False)
        }
        for name, group in own.groupby("campaign", sort=False)
    }
    ratios, without = campaign_ratios(values, reference)
    left_out = [f"Campaign {one.campaign} at {load_text(load)}: {lower_first(one.reason)}" for one in without]
    if not ratios:
        return None, left_out
    ranked = rank_lubricants(ratios, reference, confidence, higher_is_better=response.better == "higher")
    fit = joint_fit(ratios, confidence)
    joined = [name for name in values if any(r.campaign == name for r in ratios)]
    level = RangeLevel(
        load_level=load,
        lines=_lines(ranked, ratios, campaigns, response, confidence),
        ratios=ratios,
        references=_references(own, joined, reference, response),
        between_sd=None if fit is None else fit.between_sd,
        between_interval=None if fit is None else (fit.between_low, fit.between_high),
        between_df=sum(
            len([r for r in ratios if r.lubricant == oil]) - 1 for oil in {r.lubricant for r in ratios}
        ),
    )
    return level, left_out


def _lines(
    ranked: Sequence[RankedLubricant],
    ratios: Sequence[CampaignRatio],
    campaigns: Sequence[Campaign],
    response: Response,
    confidence: float,
) -> tuple[RangeLine, ...]:
    mine = {one.lubricant: tuple(r for r in ratios if r.lubricant == one.lubricant) for one in ranked}
    found = {name: as_run(own, confidence) if own else (1.0, 1.0, 1.0) for name, own in mine.items()}
    lines = []
    for one in ranked:
        estimate, low, high = found[one.lubricant]
        others = [ends for name, ends in found.items() if name != one.lubricant]
        above, below = sum(o[1] > high for o in others), sum(o[2] < low for o in others)
        better, worse = (above, below) if response.better == "higher" else (below, above)
        own = mine[one.lubricant]
        places = (1 + better, len(ranked) - worse)
        role = _role(one.lubricant, campaigns) if own else "reference"
        ends = (estimate, low, high) if own else (None, None, None)
        lines.append(
            RangeLine(
                ranked=one,
                role=role,
                ratios=own,
                estimate=ends[0],
                low=ends[1],
                high=ends[2],
                best=places[0],
                worst=places[1],
            )
        )
    return tuple(lines)


def as_run(ratios: Sequence[CampaignRatio], confidence: float) -> tuple[float, float, float]:
    r"""Combine an oil's ratios over the campaigns as run, whatever another campaign would give.

    .. math:: \ln r = \frac{\sum w_i \ln r_i}{\sum w_i}, \quad w_i = 1/s_i^2, \quad
              \ln r \pm t_\nu / \sqrt{\sum w_i}, \quad \nu = \sum \nu_i

    Examples
    --------
    >>> one = CampaignRatio(
    ...     campaign="01", lubricant="A", log_ratio=0.0, standard_error=0.1, df=8, n=5, n_reference=5
    ... )
    >>> [round(x, 3) for x in as_run([one], 0.95)]
    [1.0, 0.794, 1.259]
    """
    weights = np.array([1.0 / ratio.standard_error**2 for ratio in ratios])
    logs = np.array([ratio.log_ratio for ratio in ratios])
    mean = float(np.sum(weights * logs) / np.sum(weights))
    half = t_factor(float(sum(ratio.df for ratio in ratios)), confidence) / math.sqrt(float(np.sum(weights)))
    return math.exp(mean), math.exp(mean - half), math.exp(mean + half)


def _role(lubricant: str, campaigns: Sequence[Campaign]) -> str:
    roles = {role for one in campaigns for role in [one.file.role_of(lubricant)] if role != "reference"}
    return "benchmark" if "benchmark" in roles else "candidate"


def _references(
    own: pd.DataFrame, joined: Sequence[str], reference: str, response: Response
) -> tuple[ReferenceLevel, ...]:
    found = []
    for name in joined:
        cell = own[(own["campaign"] == name) & (own["lubricant"] == reference)]
        logs = np.log(to_unit(cell[response.name].to_numpy(dtype=float), response.unit))
        days = sorted(day for day in cell["run_day"] if day)
        found.append(ReferenceLevel(name, days[0] if days else "", len(cell), float(np.exp(np.mean(logs)))))
    return tuple(sorted(found, key=lambda level: level.first_day))


def _nothing(left_out: Sequence[str], reference: str) -> list[Problem]:
    mend = (
        f"at least one campaign needs runs of {reference} and of another oil at one load, under the same "
        "conditions"
    )
    reasons = left_out or [f"no campaign has runs of {reference} and of another oil"]
    return [
        _error("range-not-joined", "runs.csv", reason.rstrip("."), mend) for reason in dict.fromkeys(reasons)
    ]


def _error(code: str, file: str, message: str, mend: str) -> Problem:
    return Problem(code=code, severity=Severity.ERROR, file=file, message=message, mend=mend)


def size_of(study: RangeStudy) -> str:
    """Say how many campaigns and oils were joined."""
    campaigns = {ratio.campaign for level in study.levels for ratio in level.ratios}
    oils = {line.ranked.lubricant for level in study.levels for line in level.lines}
    return f"{counted(len(campaigns), 'campaign')}, {counted(len(oils), 'oil')}"


def range_results(study: RangeStudy) -> dict[str, Any]:
    """Collect a product range into the dictionary that results.json holds."""
    return {
        "schema": SCHEMA,
        "campaigns": [
            {"id": one.file.campaign.id, "title": one.file.campaign.title} for one in study.campaigns
        ],
        "overall": None,
        "study": {
            "kind": "product range",
            "reference": study.reference,
            "response": study.response.name,
            "unit": study.response.unit,
            "better": study.response.better,
            "confidence": study.confidence,
            "left_out": list(study.left_out),
        },
        "levels": [_level_result(level, study.response.unit) for level in study.levels],
    }


def _level_result(level: RangeLevel, unit: str) -> dict[str, Any]:
    ends = level.between_interval or (None, None)
    return {
        "load_N": level.load_level,
        "unit": unit,
        "between_sd_log": level.between_sd,
        "between_sd_log_low": ends[0],
        "between_sd_log_high": ends[1],
        "between_df": level.between_df,
        "range": [_line(line) for line in level.lines],
        "ratios": [_ratio(ratio) for ratio in level.ratios],
        "reference_runs": sum(one.n for one in level.references),
        "references": [
            {"campaign": one.campaign, "first_day": one.first_day or None, "n": one.n, "mean": one.mean}
            for one in level.references
        ],
    }


def _line(line: RangeLine) -> dict[str, Any]:
    one = line.ranked
    return {
        "rank": one.rank,
        "lubricant": one.lubricant,
        "role": line.role,
        "campaigns": list(one.campaigns),
        "n": line.n or None,
        "ratio_as_run": line.estimate,
        "ratio_as_run_low": line.low,
        "ratio_as_run_high": line.high,
        "best_place_as_run": line.best,
        "worst_place_as_run": line.worst,
        "ratio": one.ratio,
        "ci_low": one.low,
        "ci_high": one.high,
        "best_place": one.best_rank,
        "worst_place": one.worst_rank,
        "prediction_low": one.prediction_low,
        "prediction_high": one.prediction_high,
        "method": None if one.combination is None else one.combination.method,
        "note": None if one.combination is None else one.combination.note,
        "heterogeneity_p": None if one.combination is None else one.combination.q_p,
    }


def _ratio(ratio: CampaignRatio) -> dict[str, Any]:
    return {
        "campaign": ratio.campaign,
        "lubricant": ratio.lubricant,
        "ratio": math.exp(ratio.log_ratio),
        "standard_error_log": ratio.standard_error,
        "standard_error_percent": 100.0 * math.expm1(ratio.standard_error),
        "df": ratio.df,
        "n": ratio.n,
        "n_reference": ratio.n_reference,
    }

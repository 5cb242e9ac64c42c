"""The machine-readable results: one dictionary of plain JSON types."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from pinscar.decision import words
from pinscar.decision.experience import Experience
from pinscar.decision.finding import Finding
from pinscar.decision.further import CONTENT, NextRuns, next_runs
from pinscar.decision.judgements import ClaimResult, CriterionResult, LoadComparison, Summary
from pinscar.decision.observations import observation_entries
from pinscar.decision.record import Analysis
from pinscar.decision.responses import in_unit, number
from pinscar.decision.results_context import campaign_entry, context_entries
from pinscar.decision.results_evidence import evidence_entries, trace_fields
from pinscar.decision.results_report import report_entries

_ALONE = (
    "lubricant", "reference", "load_N", "response", "unit", "n", "estimate", "ratio", "ci_low", "ci_high",
    "p_adjusted", "method",
)  # fmt: skip

_RUN_NUMBERS = {
    "load_N": ("load", "N"),
    "scar_length_mm": ("scar_length", "mm"),
    "scar_width_mm": ("scar_width_used", "mm"),
    "scar_area_mm2": ("scar_area", "mm²"),
    "scar_pressure_MPa": ("scar_pressure", "MPa"),
    "scar_depth_um": ("scar_depth", "µm"),
    "wear_volume_mm3": ("wear_volume", "mm³"),
    "sliding_distance_m": ("sliding_distance", "m"),
    "wear_coefficient_mm3_per_Nm": ("wear_coefficient", "mm³/(N m)"),
    "hertz_peak_pressure_MPa": ("hertz_peak_pressure", "MPa"),
    "duration_s": ("duration", "s"),
    "sliding_speed_m_per_s": ("sliding_speed", "m/s"),
    "quiet_time_s": ("quiet_time", "s"),
    "quiet_after_s": ("quiet_after", "s"),
    "quiet_before_s": ("quiet_before", "s"),
}


def results(analysis: Analysis, *, files: bool = True) -> dict[str, Any]:
    """Collect an analysis into the dictionary that results.json holds."""
    return {
        **campaign_entry(analysis),
        "runs": run_entries(analysis),
        "history": [_experience(one) for one in analysis.experience],
        "without_history": [_without(one) for one in analysis.alone],
        "summaries": summary_entries(analysis),
        "next_runs": [_next_runs(one) for one in next_runs(analysis.summaries, analysis.confidence)],
        "comparisons": comparison_entries(analysis),
        "criteria": criterion_entries(analysis),
        "overall": None if analysis.verdict is None else str(analysis.verdict),
        "observations": observation_entries(analysis.observations),
        "claims": claim_entries(analysis),
        "audit": finding_entries(analysis, files=files),
        "problems": [problem.as_dict() for problem in analysis.campaign.problems],
        **context_entries(analysis),
        **evidence_entries(analysis, files=files),
        **report_entries(analysis),
    }


def run_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give the runs as results.json holds them."""
    return list(_runs(analysis))


def summary_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give the estimates as results.json holds them."""
    return [_summary(summary) for summary in analysis.summaries]


def comparison_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give the comparisons with the reference as results.json holds them."""
    return [_comparison(comparison) for comparison in analysis.comparisons]


def criterion_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give the release limits as results.json holds them."""
    return [_criterion(result) for result in analysis.criteria]


def claim_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give the claims as results.json holds them."""
    return [_claim(result, analysis.comparisons) for result in analysis.claims]


def finding_entries(analysis: Analysis, *, files: bool = True) -> list[dict[str, Any]]:
    """Give the findings of the audit as results.json holds them; those of pictures with the other files."""
    return [_finding(finding) for finding in (analysis.audited if files else analysis.findings)]


def _runs(analysis: Analysis) -> Iterator[dict[str, Any]]:
    traced = trace_fields(analysis)
    for run in analysis.runs.to_dict("records"):
        row: dict[str, Any] = {
            "run_id": run["run_id"],
            "lubricant": run["lubricant"],
            "excluded": run["excluded"] or None,
            "load_level_N": number(run["load_level"]),
        }
        row |= {key: number(run[column], unit) for key, (column, unit) in _RUN_NUMBERS.items()}
        row |= traced.get(run["run_id"], {})
        row |= {
            "wear_stopped": run["wear_stopped"],
            "run_at": None
            if run["run_at"] is None or run["run_at"] != run["run_at"]
            else run["run_at"].isoformat(),
            "flags": list(run["flags"]),
            "run_day": run["run_day"] or None,
            "peak_temperature_degC": number(run["peak_temperature"], "°C"),
            "ambient_temperature_degC": number(run["ambient_temperature"], "°C"),
        }
        yield row


def _summary(summary: Summary) -> dict[str, Any]:
    estimate, response = summary.estimate, summary.response
    return {
        "lubricant": summary.cell.lubricant,
        "load_N": summary.cell.load_level,
        "response": response.name,
        "unit": response.unit,
        "n": estimate.n,
        "n_censored": estimate.n_censored,
        "estimate": in_unit(response, estimate.estimate),
        "ci_low": in_unit(response, estimate.low),
        "ci_high": in_unit(response, estimate.high),
        "profile_low": in_unit(response, estimate.profile_low),
        "profile_high": in_unit(response, estimate.profile_high),
        "confidence": estimate.confidence,
        "scale": response.scale,
        "sd_log": estimate.sd if response.scale == "log" else None,
        "method": estimate.method,
        "note": estimate.note,
    }


def _next_runs(one: NextRuns) -> dict[str, Any]:
    response, ends = one.summary.response, {"prediction": one.prediction, "tolerance": one.tolerance}
    return {
        "lubricant": one.summary.cell.lubricant,
        "load_N": one.summary.cell.load_level,
        "response": response.name,
        "unit": response.unit,
        "n": one.summary.cell.values.size,
        **{
            f"{name}_{end}": None if found is None else in_unit(response, getattr(found, end))
            for name, found in ends.items()
            for end in ("low", "high")
        },
        "content": CONTENT,
        "note": one.reason,
    }


def _comparison(comparison: LoadComparison) -> dict[str, Any]:
    result, linear = comparison.result, comparison.response.scale == "linear"
    ends = (None, None) if linear else (result.low, result.high)
    row = {
        "lubricant": result.subject,
        "reference": result.reference,
        "load_N": comparison.load_level,
        "response": comparison.response.name,
        "n": result.n,
        "n_reference": result.n_reference,
        "ratio": result.ratio,
        "ci_low": ends[0],
        "ci_high": ends[1],
        "profile_low": result.profile_low,
        "profile_high": result.profile_high,
        "p_adjusted": result.p_adjusted,
        "method": result.method,
        "conclusion": words.conclusion(comparison),
        "unlike": comparison.unlike,
        "blocked": comparison.blocked,
        "note": result.note,
    }
    if linear:
        row["difference"], row["difference_low"], row["difference_high"] = (
            _difference(comparison, value) for value in (result.difference, result.low, result.high)
        )
        means = comparison.of_means
        row["ratio_of_means"] = None if means is None else means.ratio
        row["ratio_of_means_low"] = None if means is None else means.low
        row["ratio_of_means_high"] = None if means is None else means.high
        row["ratio_of_means_method"] = None if means is None else means.reason or means.method
    return row


def _difference(comparison: LoadComparison, value: float | None) -> float | None:
    zero, end = (in_unit(comparison.response, x) for x in (0.0, value))
    # An offset unit such as degC has its zero away from the SI zero: a difference must not move with it.
    return None if zero is None or end is None else end - zero


def _experience(one: Experience) -> dict[str, Any]:
    prior, weighed, test = one.prior, one.weighed, one.test
    return {
        "response": one.response,
        "campaigns": list(one.campaigns),
        "used": one.used,
        "because": one.because,
        "cells": None if prior is None else prior.groups,
        "prior_df": None if prior is None else prior.df,
        "prior_sd_log": None if prior is None else math.sqrt(prior.variance),
        "weighed_df": None if weighed is None else weighed.df,
        "weighed_sd_log": None if weighed is None else math.sqrt(weighed.variance),
        "present_df": None if test is None else test.df,
        "f": None if test is None else test.f,
        "p_wider": None if test is None else test.p_wider,
        "p_narrower": None if test is None else test.p_narrower,
    }


def _without(one: Summary | LoadComparison) -> dict[str, Any]:
    """Give the interval that the runs of the campaign alone have."""
    if isinstance(one, Summary):
        kind, row = "summary", _summary(one)
    else:
        kind, row = "comparison", _comparison(one)
    return {"kind": kind} | {key: row[key] for key in _ALONE if key in row}


def _criterion(result: CriterionResult) -> dict[str, Any]:
    return {
        "id": result.criterion.id,
        "requirement": words.requirement(result),
        "verdict": str(result.verdict),
        "estimate": result.estimate,
        "ci_low": result.low,
        "ci_high": result.high,
        "limit": result.limit,
        "unit": result.unit,
        "further_repeats": result.further_repeats,
        "because": words.because(result),
        "reason": str(result.reason),
    }


def _claim(result: ClaimResult, comparisons: Sequence[LoadComparison]) -> dict[str, Any]:
    return {
        "claimed": words.claimed(result),
        "support": str(result.support),
        "wording": words.wording(result),
        "because": words.claim_because(result),
        "beside_comparison": words.beside_comparison(result, comparisons),
        "reason": str(result.reason),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.id,
        "severity": str(finding.severity),
        "message": finding.message,
        "effect": finding.effect,
        "values": dict(finding.values),
        "runs": list(finding.runs),
    }

"""The machine-readable results: one dictionary of plain JSON types.

What the traces tell, as fields of the runs in results.json.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from pinscar.decision.analysis import Analysis
from pinscar.decision.claims import ClaimResult
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.criteria import CriterionResult
from pinscar.decision.experience import Experience
from pinscar.decision.finding import Finding
from pinscar.decision.observations import observation_entries, observe
from pinscar.decision.responses import in_unit
from pinscar.decision.summaries import Summary
from pinscar.decision.traces import RunTrace, run_traces, stop_told
from pinscar.wording import change_range, compared, significant

BLANK: Mapping[str, None] = MappingProxyType(
    dict.fromkeys(
        (
            "friction_coefficient",
            "friction_energy_J",
            "friction_energy_uncertainty_J",
            "friction_energy_covered_s",
            "friction_energy_per_distance_J_per_m",
            "specific_friction_energy_J_per_mm3",
            "friction_settled_s",
            "friction_settled_low_s",
            "friction_settled_high_s",
            "trace_peak_temperature_degC",
            "trace_temperature_rise_K",
            "trace_temperature_rise_uncertainty_K",
            "heating_rate_K_per_s",
            "heating_rate_uncertainty_K_per_s",
        )
    )
)
"""The fields, of a run without a trace."""


def trace_fields(analysis: Analysis) -> dict[str, dict[str, Any]]:
    """Collect the fields that traces tell.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    dict of str to dict
        The keys of `BLANK`, by run_id, of every run; empty where the campaign has no traces.
    """
    campaign = analysis.campaign
    if not campaign.traces:
        return {}
    runs = {run["run_id"]: run for run in analysis.runs.to_dict("records")}
    fields: dict[str, dict[str, Any]] = {run_id: dict(BLANK) for run_id in runs}
    for told in run_traces(analysis.runs, campaign.runs, campaign.traces):
        run = runs[told.run_id]
        stop = stop_told(told.trace, campaign.load_steps, run, analysis.confidence)
        fields[told.run_id] |= _energy(told) | _warmth(told)
        fields[told.run_id]["friction_coefficient"] = _trace_number(run["friction_coefficient"])
        if stop is not None:
            settled = dict(zip(("", "low_", "high_"), (stop.time, stop.low, stop.high), strict=True))
            fields[told.run_id] |= {
                f"friction_settled_{end}s": None if time is None else _trace_number(time)
                for end, time in settled.items()
            }
    return fields


def _energy(told: RunTrace) -> dict[str, float | None]:
    if told.energy is None:
        return {}
    specific = None if told.energy.missing else _trace_number(told.specific_energy * 1e-9)
    return {
        "friction_energy_J": told.energy.energy,
        "friction_energy_uncertainty_J": _doubt(told.energy.uncertainty, told.energy.energy),
        "friction_energy_covered_s": told.energy.covered,
        "friction_energy_per_distance_J_per_m": told.energy.per_distance,
        "specific_friction_energy_J_per_mm3": specific,
    }


def _warmth(told: RunTrace) -> dict[str, float | None]:
    if told.warming is None:
        return {}
    rate = told.warming.rate
    return {
        "trace_peak_temperature_degC": told.warming.peak - 273.15,
        "trace_temperature_rise_K": told.rise,
        "trace_temperature_rise_uncertainty_K": _doubt(told.rise_uncertainty, told.rise),
        "heating_rate_K_per_s": None if rate is None else rate.value,
        "heating_rate_uncertainty_K_per_s": None if rate is None else _doubt(rate.uncertainty, rate.value),
    }


def _trace_number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _doubt(uncertainty: float, value: float) -> float | None:
    """Give an uncertainty; none where the readings show no scatter, which makes it no zero."""
    return _trace_number(uncertainty) if uncertainty > 1e-9 * abs(value) else None


SCHEMA = "pinscar.results/1"
_ALONE = (
    "lubricant", "reference", "load_N", "response", "unit", "n", "estimate", "ratio", "ci_low", "ci_high",
    "p_adjusted", "method",
)  # fmt: skip

_RUN_NUMBERS = {
    "load_N": ("load", 1.0),
    "scar_length_mm": ("scar_length", 1e3),
    "scar_width_mm": ("scar_width_used", 1e3),
    "scar_area_mm2": ("scar_area", 1e6),
    "scar_pressure_MPa": ("scar_pressure", 1e-6),
    "scar_depth_um": ("scar_depth", 1e6),
    "wear_volume_mm3": ("wear_volume", 1e9),
    "sliding_distance_m": ("sliding_distance", 1.0),
    "wear_coefficient_mm3_per_Nm": ("wear_coefficient", 1e9),
    "hertz_peak_pressure_MPa": ("hertz_peak_pressure", 1e-6),
}


def results(analysis: Analysis) -> dict[str, Any]:
    """Collect an analysis into the dictionary that results.json holds.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    dict
        Plain JSON types; None where there is no number, never NaN.
    """
    settings = analysis.campaign.file.campaign
    collected: dict[str, Any] = _plain(
        {
            "schema": SCHEMA,
            "campaign": {
                "id": settings.id,
                "title": settings.title,
                "question": settings.question,
                "reference": settings.reference,
                "confidence": analysis.confidence,
                "block": settings.block,
            },
            "runs": list(_runs(analysis)),
            "history": [_experience(one) for one in analysis.experience],
            "without_history": [_without(one) for one in analysis.alone],
            "summaries": [_summary(summary) for summary in analysis.summaries],
            "comparisons": [_comparison(comparison) for comparison in analysis.comparisons],
            "criteria": [_criterion(result) for result in analysis.criteria],
            "overall": None if analysis.verdict is None else str(analysis.verdict),
            "observations": observation_entries(
                observe(analysis.included, analysis.reference, analysis.confidence)
            ),
            "claims": [_claim(result) for result in analysis.claims],
            "audit": [_finding(finding) for finding in analysis.findings],
            "problems": [problem.as_dict() for problem in analysis.campaign.problems],
        }
    )
    return collected


def conclusion(comparison: LoadComparison) -> str:
    """Say in words what a comparison shows.

    Parameters
    ----------
    comparison : LoadComparison
        A lubricant against the reference.

    Returns
    -------
    str
        One plain clause.
    """
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
        end = (
            f"at most {significant(result.high)}"
            if result.low is None
            else f"at least {significant(result.low)}"
        )
        return f"ratio to {result.reference} {end}"
    change_interval = change_range(result.ratio, result.low, result.high)
    if not result.low <= 1.0 <= result.high:
        words = compared(result.ratio, response.smaller, response.larger, result.reference)
        return f"{words} ({change_interval})"
    return f"not separated from {result.reference} ({change_interval})"


def _runs(analysis: Analysis) -> Iterator[dict[str, Any]]:
    traced = trace_fields(analysis)
    for run in analysis.runs.to_dict("records"):
        row: dict[str, Any] = {
            "run_id": run["run_id"],
            "lubricant": run["lubricant"],
            "excluded": run["excluded"] or None,
            "load_level_N": _number(run["load_level"]),
        }
        row |= {key: _number(run[column], factor) for key, (column, factor) in _RUN_NUMBERS.items()}
        row |= traced.get(run["run_id"], {})
        row |= {
            "wear_stopped": run["wear_stopped"],
            "run_at": None
            if run["run_at"] is None or run["run_at"] != run["run_at"]
            else run["run_at"].isoformat(),
            "flags": list(run["flags"]),
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
        "conclusion": conclusion(comparison),
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
    prior, test = one.prior, one.test
    return {
        "response": one.response,
        "campaigns": list(one.campaigns),
        "used": one.used,
        "because": one.because,
        "cells": None if prior is None else prior.groups,
        "prior_df": None if prior is None else prior.df,
        "prior_sd_log": None if prior is None else math.sqrt(prior.variance),
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
        "requirement": result.requirement,
        "verdict": str(result.verdict),
        "estimate": result.estimate,
        "ci_low": result.low,
        "ci_high": result.high,
        "limit": result.limit,
        "unit": result.unit,
        "further_repeats": result.further_repeats,
        "because": result.because,
    }


def _claim(result: ClaimResult) -> dict[str, Any]:
    return {
        "claimed": result.claimed,
        "support": str(result.support),
        "wording": result.wording,
        "because": result.because,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.id,
        "severity": str(finding.severity),
        "message": finding.message,
        "effect": finding.effect,
        "runs": list(finding.runs),
    }


def _plain(value: Any) -> Any:
    # No-break spaces are for the page; whoever searches the file expects ordinary ones.
    if isinstance(value, str):
        return value.replace("\N{NO-BREAK SPACE}", " ")
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list) else value


def _number(value: Any, factor: float = 1.0) -> float | None:
    if value is None or not math.isfinite(float(value)):
        return None
    return float(np.float64(value) * factor)

"""What the traces tell, as fields of the runs in results.json."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from pinscar.decision.analysis import Analysis
from pinscar.decision.trace_summary import RunTrace, run_traces, stop_told

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
        fields[told.run_id]["friction_coefficient"] = _number(run["friction_coefficient"])
        if stop is not None:
            settled = dict(zip(("", "low_", "high_"), (stop.time, stop.low, stop.high), strict=True))
            fields[told.run_id] |= {
                f"friction_settled_{end}s": None if time is None else _number(time)
                for end, time in settled.items()
            }
    return fields


def _energy(told: RunTrace) -> dict[str, float | None]:
    if told.energy is None:
        return {}
    specific = None if told.energy.missing else _number(told.specific_energy * 1e-9)
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


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _doubt(uncertainty: float, value: float) -> float | None:
    """Give an uncertainty; none where the readings show no scatter, which makes it no zero."""
    return _number(uncertainty) if uncertainty > 1e-9 * abs(value) else None

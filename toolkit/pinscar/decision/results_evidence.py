"""What traces, recordings, pictures and cards tell, as results.json holds it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from pinscar.decision.record import Analysis
from pinscar.decision.recordings import gains, loudness_of
from pinscar.decision.responses import number
from pinscar.decision.traces import FrictionPhase, RunTrace
from pinscar.evidence.friction_stop import FrictionStop
from pinscar.shown import to_shown

if TYPE_CHECKING:
    from pinscar.decision.evidence import CardSeen, RunSeen
    from pinscar.decision.recordings import RunHeard
    from pinscar.evidence.recorder import Gap
    from pinscar.evidence.sound_level import Level
    from pinscar.evidence.warming import StepWarming

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
    """Collect the fields that traces tell."""
    evidence = analysis.evidence
    if not analysis.campaign.traces:
        return {}
    friction = dict(zip(analysis.runs["run_id"], analysis.runs["friction_coefficient"], strict=True))
    fields: dict[str, dict[str, Any]] = {run_id: dict(BLANK) for run_id in friction}
    for told in evidence.traces:
        stop = evidence.stop(told.run_id)
        fields[told.run_id] |= _energy(told) | _warmth(told)
        fields[told.run_id]["friction_coefficient"] = number(friction[told.run_id])
        if stop is not None:
            settled = dict(zip(("", "low_", "high_"), (stop.time, stop.low, stop.high), strict=True))
            fields[told.run_id] |= {
                f"friction_settled_{end}s": None if time is None else number(time)
                for end, time in settled.items()
            }
    return fields


def _energy(told: RunTrace) -> dict[str, float | None]:
    if told.energy is None:
        return {}
    specific = None if told.energy.missing else number(told.specific_energy, "J/mm³")
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
        "trace_peak_temperature_degC": to_shown(told.warming.peak, "°C"),
        "trace_temperature_rise_K": told.rise,
        "trace_temperature_rise_uncertainty_K": _doubt(told.rise_uncertainty, told.rise),
        "heating_rate_K_per_s": None if rate is None else rate.value,
        "heating_rate_uncertainty_K_per_s": None if rate is None else _doubt(rate.uncertainty, rate.value),
    }


def _doubt(uncertainty: float, value: float) -> float | None:
    """Give an uncertainty; none where the readings show no scatter, which makes it no zero."""
    return number(uncertainty) if uncertainty > 1e-9 * abs(value) else None


def evidence_entries(analysis: Analysis, *, files: bool = True) -> dict[str, list[dict[str, Any]]]:
    """Give what the evidence tells as results.json holds it."""
    traces = analysis.evidence.traces
    told = {
        "friction": [_phase(phase) for one in traces for phase in one.phases],
        "traces": [trace_entry(analysis, one) for one in traces],
    }
    if files:
        told["recordings"] = recording_entries(analysis)
        told["micrographs"] = micrograph_entries(analysis)
        told["fling_cards"] = card_entries(analysis)
    return told


def trace_entry(analysis: Analysis, told: RunTrace) -> dict[str, Any]:
    """Give what one trace tells, beyond what stands in its run already."""
    warming, energy = told.warming, told.energy
    rate = None if warming is None else warming.rate
    return {
        "run_id": told.run_id,
        "peak_temperature_at_s": None if warming is None else number(warming.time_of_peak),
        "heating_rate_at_s": None if rate is None else number(rate.time),
        "lone_spikes_left_out": None if warming is None else warming.spikes,
        "load_step_rises": [] if warming is None else [_step_rise(one) for one in warming.steps],
        "doubtful_peaks_kept": None if warming is None else warming.doubtful,
        "force_spikes_left_out": told.force_spikes,
        "friction_energy_bridged_s": None if energy is None else energy.bridged,
        "temperature_gaps_s": [] if warming is None else _gaps(warming.gaps),
        "force_gaps_s": _gaps(told.force_gaps),
        "force_zero_before_N": number(told.zero.before),
        "force_zero_after_N": number(told.zero.after),
        "specific_friction_energy_at_least": None if energy is None else bool(energy.missing),
        "specific_friction_energy_kJ_per_mm3": number(told.specific_energy, "kJ/mm³"),
        "specific_friction_energy_uncertainty_kJ_per_mm3": number(
            analysis.context.specific_energy_uncertainty.get(told.run_id), "kJ/mm³"
        ),
        "energy_of_1_N_offset_J": None if energy is None else number(energy.distance),
        "friction_settled_reason": _reason(analysis.evidence.stop(told.run_id)),
    }


def _step_rise(one: StepWarming) -> dict[str, float | None]:
    return {
        "start_s": number(one.begun),
        "start_temperature_degC": to_shown(one.start, "°C"),
        "peak_temperature_degC": to_shown(one.peak, "°C"),
        "peak_temperature_at_s": number(one.time_of_peak),
        "rise_K": one.rise,
        "rise_uncertainty_K": _doubt(one.rise_uncertainty, one.rise),
    }


def recording_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give what the recordings tell."""
    heard = analysis.evidence.recordings
    loudness = loudness_of(heard, gains(analysis.campaign, heard))
    louder = {
        name: (first, level) for first, group in loudness.groups.items() for name, level in group.items()
    }
    return [_recording(run, louder.get(run.run_id, (None, None))) for run in heard]


def micrograph_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give what the micrographs tell."""
    return [_micrograph(run) for run in analysis.evidence.micrographs]


def card_entries(analysis: Analysis) -> list[dict[str, Any]]:
    """Give what the fling cards tell."""
    return [_card(run) for run in analysis.evidence.cards]


def _phase(phase: FrictionPhase) -> dict[str, Any]:
    return {
        "run_id": phase.run_id,
        "lubricant": phase.lubricant,
        "load_N": number(phase.load),
        "start_s": number(phase.start),
        "end_s": number(phase.end),
        "is_last": phase.is_last,
        "after_noise": phase.after_noise,
        "mean": number(phase.friction.mean),
        "mean_uncertainty": number(phase.friction.uncertainty),
        "low_5_percent": number(phase.friction.low),
        "high_95_percent": number(phase.friction.high),
    }


def _gaps(gaps: tuple[Gap, ...]) -> list[list[float]]:
    return [[float(start), float(end)] for start, end in gaps]


def _reason(stop: FrictionStop | None) -> str | None:
    return None if stop is None else stop.reason or None


def _recording(run: RunHeard, louder: tuple[str | None, float | None]) -> dict[str, Any]:
    heard, friction = run.heard, run.friction
    return {
        "run_id": run.run_id,
        "lubricant": run.lubricant,
        "typed_s": number(run.typed),
        "heard_s": number(heard.quiet_time),
        "heard_low_s": number(heard.low),
        "heard_high_s": number(heard.high),
        "confidence": heard.confidence,
        "faded": heard.faded,
        "note": heard.note or None,
        "typed_off_s": number(run.typed_off),
        "friction_settled_s": None if friction is None else number(friction.time),
        "friction_settled_low_s": None if friction is None else number(friction.low),
        "friction_settled_high_s": None if friction is None else number(friction.high),
        "friction_gap_s": number(run.friction_gap),
        "contrast_dB": number(heard.contrast),
        "noise_level_dB": number(heard.noise_level),
        "quiet_level_dB": number(heard.quiet_level),
        "rubbing_percent": number(heard.scrape_share, "%"),
        "loudness_against": louder[0],
        "loudness_dB": number(louder[1]),
        "reason": heard.reason or None,
        "friction_reason": _reason(friction),
        **_levels(heard.level),
    }


LEVEL_STEP = 5
"""Frames of 0.1 s that one level of results.json stands for."""


def _levels(level: Level | None) -> dict[str, Any]:
    """Give the level against time, a value for each half second."""
    if level is None:
        return {"level_step_s": None, "level_first_s": None, "level_dB": []}
    count = level.level.size // LEVEL_STEP
    power = 10.0 ** (level.level[: count * LEVEL_STEP].reshape(count, LEVEL_STEP) / 10.0)
    levels = 10.0 * np.log10(power.mean(axis=1))
    step = LEVEL_STEP * level.frame
    return {
        "level_step_s": number(step),
        "level_first_s": number(0.5 * step),
        "level_dB": [round(float(one), 2) for one in levels],
    }


def _micrograph(run: RunSeen) -> dict[str, Any]:
    reading, scale = run.reading, run.scale
    length_apart, width_apart = run.apart
    told: dict[str, Any] = {
        "run_id": run.run_id,
        "typed_length_mm": number(run.typed[0], "mm"),
        "typed_width_mm": number(run.typed[1], "mm"),
        "scale_um_per_px": None if scale is None else number(scale.size, "µm/px"),
        "scale_by_bar_um_per_px": None if scale is None else number(scale.by_bar, "µm/px"),
        "scale_apart_percent": None if scale is None else number(scale.apart, "%"),
        "length_apart_percent": number(length_apart, "%"),
        "width_apart_percent": number(width_apart, "%"),
        "reason": run.why_not or None,
    }
    if reading is not None:
        told |= {
            "accepted": reading.accepted,
            "score": number(reading.score),
            "shape": reading.shape or None,
            "scar_length_mm": number(reading.length, "mm"),
            "scar_length_u_mm": number(reading.length_uncertainty, "mm"),
            "scar_width_mm": number(reading.width, "mm"),
            "scar_width_u_mm": number(reading.width_uncertainty, "mm"),
            "area_mm2": number(reading.area, "mm²"),
            "area_u_mm2": number(reading.area_uncertainty, "mm²"),
            "ellipse_area_mm2": number(reading.ellipse_area, "mm²"),
            "angle_deg": number(reading.angle, "°"),
            "roughness_um": number(reading.roughness, "µm"),
        }
    return told


def _card(run: CardSeen) -> dict[str, Any]:
    reading = run.reading
    told: dict[str, Any] = {
        "run_id": run.run_id,
        "typed_area_mm2": number(run.typed, "mm²"),
        "area_apart_percent": number(run.apart, "%"),
        "reason": run.why_not or None,
    }
    if reading is not None:
        told |= {
            "accepted": reading.accepted,
            "drops": reading.count,
            "fling_area_mm2": number(reading.fling_area, "mm²"),
            "fling_area_u_mm2": number(reading.fling_area_uncertainty, "mm²"),
            "covered_percent": number(reading.share, "%"),
            "diameter_10_by_area_mm": number(reading.diameter_by_area(0.1), "mm"),
            "diameter_50_by_area_mm": number(reading.diameter_by_area(0.5), "mm"),
            "diameter_90_by_area_mm": number(reading.diameter_by_area(0.9), "mm"),
            "smallest_drop_mm2": number(reading.smallest, "mm²"),
            "marks_left_out": reading.marks,
            "marks_area_mm2": number(reading.marks_area, "mm²"),
        }
    return told

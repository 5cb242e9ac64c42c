"""What surrounds the scars, as results.json holds it: contact, growth, film, heat, service, measurement."""

from __future__ import annotations

from typing import Any

from pinscar.campaign.model import Rig, Service
from pinscar.decision.context import spread_over
from pinscar.decision.judgements import Summary, spread_of
from pinscar.decision.record import Analysis
from pinscar.decision.responses import number
from pinscar.decision.surrounding_states import (
    BenchDuty,
    ContactState,
    FilmState,
    Growth,
    HeatState,
    JointDuty,
    Spread,
)

SETTINGS = {
    "duration_s": "duration",
    "sliding_speed_m_per_s": "sliding_speed",
    "sliding_distance_m": "sliding_distance",
}
"""What a run was made with, as a median and its ends: key and column."""


def context_entries(analysis: Analysis) -> dict[str, Any]:
    """Give what surrounds the scars as results.json holds it."""
    context, file = analysis.context, analysis.campaign.file
    return {
        "rig": _rig(file.rig),
        "lubricants": _lubricants(analysis),
        "conditions": _conditions(analysis),
        "contact": [_contact(state) for state in context.contact],
        "growth": [_growth(curve) for curve in context.growth],
        # A record around them: each list of records is a sheet of tables.xlsx, where no cell holds a curve.
        "growth_chart": {"curves": [_growth_curve(curve) for curve in context.growth]},
        "film": [_film(state) for state in context.film],
        "heat": [_heat(state) for state in context.heat],
        "service": None
        if file.service is None or context.joint is None
        else _service(file.service, context.joint, context.bench),
        "measurement": _measurement(analysis),
        "not_computed": {"film": context.no_film, "heat": context.no_heat},
    }


SCHEMA = "pinscar.results/1"


def campaign_entry(analysis: Analysis) -> dict[str, Any]:
    """Say which campaign results.json is of, and by which schema."""
    settings = analysis.campaign.file.campaign
    return {
        "schema": SCHEMA,
        "campaign": {
            "id": settings.id,
            "title": settings.title,
            "question": settings.question,
            "reference": settings.reference,
            "confidence": analysis.confidence,
            "block": settings.block,
        },
    }


def setting_entries(analysis: Analysis) -> dict[str, Any]:
    """Give the rig, the conditions of the runs and the stated uncertainties as results.json holds them."""
    file = analysis.campaign.file
    return {
        "rig": _rig(file.rig),
        "conditions": _conditions(analysis),
        "measurement": _stated_uncertainty(file.rig),
    }


def _rig(rig: Rig) -> dict[str, Any]:
    return {
        "geometry": rig.geometry,
        "pin_diameter_mm": number(rig.pin_diameter, "mm"),
        "ring_diameter_mm": number(rig.ring_diameter, "mm"),
        "ring_width_mm": number(rig.ring_width, "mm"),
        "ring_groove_depth_um": number(rig.ring_groove_depth, "µm"),
        "crossing_angle_deg": number(rig.crossing_angle, "°"),
    }


def _lubricants(analysis: Analysis) -> list[dict[str, Any]]:
    file, included = analysis.campaign.file, analysis.included
    declared = {one.id: one for one in file.lubricants}
    levels = sorted(included["load_level"].dropna().unique())
    told = []
    for name in dict.fromkeys(included["lubricant"]):
        own, oil = included[included["lubricant"] == name], declared.get(name)
        counts = [{"load_N": float(v), "n": int((own["load_level"] == v).sum())} for v in levels]
        told.append(
            {
                "lubricant": name,
                "role": file.role_of(name),
                "kinematic_viscosity_40_mm2_per_s": number(
                    getattr(oil, "kinematic_viscosity_40", None), "mm²/s"
                ),
                "kinematic_viscosity_100_mm2_per_s": number(
                    getattr(oil, "kinematic_viscosity_100", None), "mm²/s"
                ),
                "density_15_kg_per_m3": number(getattr(oil, "density_15", None)),
                "runs": counts,
            }
        )
    return told


def _conditions(analysis: Analysis) -> dict[str, Any]:
    runs = analysis.included
    days = sorted({day for day in runs["run_day"].dropna() if day})
    settings = {key: _ends(spread_over(runs[column])) for key, column in SETTINGS.items()}
    return {
        "loads_N": sorted(float(v) for v in runs["load_level"].dropna().unique()),
        "days": days,
    } | settings


def _ends(values: Spread, unit: str = "1") -> dict[str, float | None]:
    return {
        "median": number(values.median, unit),
        "low": number(values.low, unit),
        "high": number(values.high, unit),
    }


def _contact(state: ContactState) -> dict[str, Any]:
    return {
        "lubricant": state.lubricant,
        "load_N": state.load_level,
        "n": state.scar_pressure.n,
        "hertz_peak_pressure_MPa": number(state.hertz_peak_pressure, "MPa"),
        "scar_pressure_MPa": _ends(state.scar_pressure, "MPa"),
        "pressure_drop": number(state.drop),
        "scar_depth_um": _ends(state.scar_depth, "µm"),
    }


def _growth(curve: Growth) -> dict[str, Any]:
    return {
        "lubricant": curve.lubricant,
        "load_N": curve.load_level,
        "n": curve.n,
        "quiet_time_s": number(curve.quiet_time),
        "quiet_length_mm": number(curve.quiet_length, "mm"),
        "wear_coefficient_mm3_per_Nm": number(curve.wear_coefficient, "mm³/(N m)"),
        "film_pressure_MPa": number(curve.film_pressure, "MPa"),
    }


def _growth_curve(curve: Growth) -> dict[str, Any]:
    return {
        "lubricant": curve.lubricant,
        "load_N": curve.load_level,
        "time_s": [number(one) for one in curve.time],
        "length_mm": [number(one, "mm") for one in curve.length],
    }


def _film(state: FilmState) -> dict[str, Any]:
    return {
        "lubricant": state.lubricant,
        "load_N": state.load_level,
        "occasion": state.occasion,
        "temperature_degC": number(state.temperature, "°C"),
        "dynamic_viscosity_mPa_s": number(state.dynamic_viscosity, "mPa s"),
        "pressure_viscosity_per_GPa": number(state.pressure_viscosity, "1/GPa"),
        "correlation": state.correlation,
        "minimum_film_um": number(state.minimum, "µm"),
        "central_film_um": number(state.central, "µm"),
        "lambda_ratio": number(state.lambda_ratio),
        "regime": state.regime,
        "within_fit": state.within_fit,
    }


def _heat(state: HeatState) -> dict[str, Any]:
    (friction_low, friction_high), (power_low, power_high) = state.friction, state.power
    return {
        "lubricant": state.lubricant,
        "load_N": state.load_level,
        "friction_low": number(friction_low),
        "friction_high": number(friction_high),
        "friction_from": "traces" if state.measured else "common practice",
        "friction_power_low_W": number(power_low),
        "friction_power_high_W": number(power_high),
        "flash_rise_low_K": number(state.flash_rise[0]),
        "flash_rise_high_K": number(state.flash_rise[1]),
        "heat_into_pin_percent": number(state.share_pin, "%"),
    }


def _service(service: Service, joint: JointDuty, bench: tuple[BenchDuty, ...]) -> dict[str, Any]:
    return {
        "chain_tension_N": number(service.chain_tension),
        "chain_pitch_mm": number(service.chain_pitch, "mm"),
        "pin_diameter_mm": number(service.pin_diameter, "mm"),
        "bush_length_mm": number(service.bush_length, "mm"),
        "sprocket_teeth": service.sprocket_teeth,
        "sprocket_speed_rpm": number(service.sprocket_speed, "rpm"),
        "pitch_diameter_mm": number(joint.pitch_diameter, "mm"),
        "chain_speed_m_per_s": number(joint.chain_speed),
        "torque_Nm": number(joint.torque),
        "power_W": number(joint.power),
        "swing_deg": number(joint.swing, "°"),
        "sliding_per_swing_mm": number(joint.sliding_per_swing, "mm"),
        "joint_pressure_MPa": number(joint.pressure, "MPa"),
        "joint_speed_m_per_s": number(joint.speed),
        "bench": [_duty(duty) for duty in bench],
    }


def _duty(duty: BenchDuty) -> dict[str, Any]:
    return {
        "load_N": duty.load_level,
        "pressure_MPa": number(duty.pressure, "MPa"),
        "pressure_low_MPa": number(duty.pressures[0], "MPa"),
        "pressure_high_MPa": number(duty.pressures[1], "MPa"),
        "sliding_speed_m_per_s": number(duty.speed),
        "sliding_distance_m": number(duty.distance),
        "swings_of_a_joint": number(duty.swings),
        "against_service": [
            {
                "quantity": row.quantity,
                "unit": row.unit,
                "bench": number(row.bench),
                "service": number(row.service),
                "ratio": number(row.ratio),
                "verdict": row.verdict,
            }
            for row in duty.rows
        ],
    }


def _measurement(analysis: Analysis) -> dict[str, Any]:
    rig, known = analysis.campaign.file.rig, analysis.context.cell_uncertainty
    return _stated_uncertainty(rig) | {
        "cells": [
            _precision(summary, known.get(summary.response.name, {}).get(_cell(summary)))
            for summary in analysis.summaries
            if summary.response.name in known or spread_of(summary) is not None
        ],
    }


def _stated_uncertainty(rig: Rig) -> dict[str, Any]:
    return {
        "load_uncertainty_percent": number(rig.load_uncertainty, "%"),
        "reading_uncertainty_mm": number(rig.reading_uncertainty, "mm"),
    }


def _cell(summary: Summary) -> tuple[str, float]:
    return summary.cell.lubricant, summary.cell.load_level


def _precision(summary: Summary, relative: float | None) -> dict[str, Any]:
    lubricant, level = _cell(summary)
    return {
        "lubricant": lubricant,
        "load_N": level,
        "response": summary.response.name,
        "between_runs_percent": number(spread_of(summary)),
        "one_measurement_percent": number(relative, "%"),
    }

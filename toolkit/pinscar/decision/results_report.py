"""What ``[report]`` and the samples say, as results.json holds it; nothing where there is no ``[report]``."""

from __future__ import annotations

from typing import Any

from pinscar.campaign.model import Lubricant
from pinscar.decision.expanded_uncertainty import (
    COVERAGE,
    COVERAGE_FACTOR,
    Expanded,
    expanded_uncertainties,
)
from pinscar.decision.record import Analysis
from pinscar.decision.responses import in_unit
from pinscar.shown import to_shown


def report_entries(analysis: Analysis) -> dict[str, Any]:
    """Give the head of a laboratory's report as results.json holds it."""
    file = analysis.campaign.file
    if file.report is None:
        return {}
    said = file.report.model_dump(mode="json")
    samples = [_sample(oil) for oil in file.lubricants if oil.sample is not None]
    uncertainty = [_expanded(one) for one in expanded_uncertainties(analysis)]
    ambient = {"ambient_temperature": _ambient(analysis)}
    return {"report": {**said, "samples": samples, **ambient, "expanded_uncertainty": uncertainty}}


def _ambient(analysis: Analysis) -> dict[str, float] | None:
    """Give the ends of the ambient temperatures that were noted; None where none was."""
    noted = analysis.included["ambient_temperature"].dropna()
    if noted.empty:
        return None
    ends = {"low_degC": noted.min(), "high_degC": noted.max()}
    return {name: float(to_shown(float(end), "°C")) for name, end in ends.items()}


def _sample(oil: Lubricant) -> dict[str, Any]:
    assert oil.sample is not None
    return {"lubricant": oil.id, **oil.sample.model_dump(mode="json")}


def _expanded(one: Expanded) -> dict[str, Any]:
    return {
        "lubricant": one.lubricant,
        "load_N": one.load_level,
        "response": one.response.name,
        "unit": one.response.unit,
        "value": in_unit(one.response, one.value),
        "expanded_uncertainty": in_unit(one.response, one.uncertainty),
        "coverage_factor": COVERAGE_FACTOR,
        "coverage": COVERAGE,
    }

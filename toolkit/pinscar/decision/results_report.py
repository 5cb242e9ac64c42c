"""What ``[report]`` and the samples say, as results.json holds it, with expanded uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pinscar.campaign.model import Lubricant
from pinscar.decision.record import Analysis, places
from pinscar.decision.responses import Response, in_unit
from pinscar.shown import to_shown

COVERAGE_FACTOR = 2.0
"""k: about 95 % of a normal distribution (JCGM 100:2008, 6.3.3, from memory)."""
COVERAGE = 0.95
SHOWN = ("scar_area", "scar_pressure", "wear_volume")
"""Responses whose uncertainty is told: those computed from one scar, none of them a bound."""


@dataclass(frozen=True, slots=True)
class Expanded:
    """The expanded uncertainty of one measurement.

    Attributes
    ----------
    response : Response
        What was measured.
    lubricant : str
        The oil.
    load_level : float
        Load level [N].
    value : float
        Median of the runs [SI of the response].
    uncertainty : float
        Coverage factor times the standard uncertainty [SI of the response].
    """

    response: Response
    lubricant: str
    load_level: float
    value: float
    uncertainty: float


def expanded_uncertainties(analysis: Analysis) -> tuple[Expanded, ...]:
    """Collect the expanded uncertainties that the rig's stated ones give; none where it states none."""
    wanted = [response for response in analysis.responses if response.name in SHOWN]
    known = analysis.context.cell_uncertainty
    runs = analysis.included
    place, found = places(analysis.campaign.file, runs["lubricant"]), []
    for response in wanted:
        cells = known.get(response.name, {})
        for oil, level in sorted(cells, key=lambda cell: (cell[1], place[cell[0]])):
            share = cells[oil, level]
            own = runs[(runs["lubricant"] == oil) & (runs["load_level"] == level)][response.name]
            value = float(own.median())
            if value > 0.0 and share == share:
                found.append(Expanded(response, oil, level, value, COVERAGE_FACTOR * share * value))
    return tuple(found)


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

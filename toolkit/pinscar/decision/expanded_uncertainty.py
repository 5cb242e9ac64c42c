"""Expanded uncertainty of one measurement of each oil and load, with its coverage factor."""

from __future__ import annotations

from dataclasses import dataclass

from pinscar.decision.oils import places
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response

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

"""What surrounds the scars: contact, growth, film, heat, service, uncertainty; computed once a campaign."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import CampaignFile
from pinscar.contact.geometry import Geometry
from pinscar.decision.evaluate import with_table_values
from pinscar.decision.runs import by_cell
from pinscar.decision.surrounding_states import (
    ContactState,
    Context,
    Spread,
)
from pinscar.decision.surroundings import (
    bench_duties,
    film_states,
    heat_states,
    joint_duty,
    relative_uncertainty,
    scar_growth_curves,
    why_no_film,
    why_no_heat,
)
from pinscar.decision.traces import RunTrace, final_friction

FROM_SCARS = ("scar_area", "scar_pressure", "film_pressure", "wear_volume", "wear_coefficient")
"""Responses computed from a scar, for which the uncertainty of one measurement is known."""
NO_PROPERTIES = "no oil has both viscosities, a density and runs with a temperature"


def context_of(
    included: pd.DataFrame, file: CampaignFile, geometry: Geometry, traces: Sequence[RunTrace]
) -> Context:
    """Compute what surrounds the scars."""
    rig = with_table_values(file.rig)
    no_film, no_heat = why_no_film(rig), why_no_heat(rig)
    films = () if no_film else film_states(included, rig, file.lubricants)
    friction = final_friction(phase for told in traces for phase in told.phases)
    joint = None if file.service is None else joint_duty(file.service)
    found = {name: relative_uncertainty(included, file.rig, geometry, name) for name in FROM_SCARS}
    known = {name: shares for name, shares in found.items() if shares is not None}
    relative = known.get("wear_volume")
    volume = {} if relative is None else dict(zip(included["run_id"], relative.tolist(), strict=True))
    return Context(
        contact=tuple(_contact(level, oil, group) for level, oil, group in by_cell(included)),
        growth=scar_growth_curves(included, geometry),
        film=films,
        no_film=no_film or (None if films else NO_PROPERTIES),
        heat=() if no_heat else heat_states(included, rig, friction),
        no_heat=no_heat,
        joint=joint,
        bench=() if joint is None else bench_duties(included, joint),
        uncertainty=known,
        cell_uncertainty={name: _medians(included, shares) for name, shares in known.items()},
        specific_energy_uncertainty=specific_energy_uncertainty(traces, volume),
    )


def _contact(level: float, lubricant: str, group: pd.DataFrame) -> ContactState:
    hertz = spread_over(group["hertz_peak_pressure"]).median
    return ContactState(
        lubricant, level, hertz, spread_over(group["scar_pressure"]), spread_over(group["scar_depth"])
    )


def specific_energy_uncertainty(traces: Sequence[RunTrace], volume: Mapping[str, float]) -> dict[str, float]:
    """Give the standard uncertainty of the friction energy over the wear volume."""
    return {
        told.run_id: abs(told.specific_energy)
        * math.hypot(told.energy.uncertainty / told.energy.energy, volume.get(told.run_id, math.nan))
        for told in traces
        if told.energy is not None and told.energy.energy
    }


def spread_over(values: pd.Series) -> Spread:
    """Give median and ends of some values."""
    there = values.dropna()
    if there.empty:
        return Spread(0, math.nan, math.nan, math.nan)
    return Spread(len(there), float(there.median()), float(there.min()), float(there.max()))


def _medians(included: pd.DataFrame, relative: NDArray[np.float64]) -> dict[tuple[str, float], float]:
    frame = included.assign(relative=relative)
    return {(name, level): float(group["relative"].median()) for level, name, group in by_cell(frame)}

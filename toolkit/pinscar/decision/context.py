"""What surrounds the scars: contact, growth, film, heat, service, uncertainty; computed once a campaign."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import CampaignFile
from pinscar.contact.geometry import Geometry
from pinscar.decision.bodies import with_table_values
from pinscar.decision.runs import by_cell
from pinscar.decision.surroundings import (
    BenchDuty,
    FilmState,
    Growth,
    HeatState,
    JointDuty,
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


@dataclass(frozen=True, slots=True)
class Spread:
    """Median and ends of some values.

    Attributes
    ----------
    n : int
        How many there are.
    median, low, high : float
        NaN where there are none.
    """

    n: int
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ContactState:
    """The contact of one oil and load, at the first touch and at the end of the runs.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    hertz_peak_pressure : float
        Median peak pressure of the first touch [Pa]; NaN where it is not computed.
    scar_pressure : Spread
        Mean pressure of the final scars [Pa].
    scar_depth : Spread
        Their depth [m].
    """

    lubricant: str
    load_level: float
    hertz_peak_pressure: float
    scar_pressure: Spread
    scar_depth: Spread

    @property
    def drop(self) -> float:
        """First peak pressure over the median final one [1]; NaN where either lacks."""
        return self.hertz_peak_pressure / self.scar_pressure.median


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What surrounds the scars of a campaign.

    Attributes
    ----------
    contact : tuple of ContactState
        The contact of each oil and load.
    growth : tuple of Growth
        How scars grew, where quiet times tell.
    film : tuple of FilmState
        Films between the unworn bodies.
    no_film : str or None
        Why there are none.
    heat : tuple of HeatState
        Friction heat at the end of the runs.
    no_heat : str or None
        Why there is none.
    joint : JointDuty or None
        What the chain's joint goes through; None without a stated service.
    bench : tuple of BenchDuty
        The bench set against it.
    uncertainty : mapping of str to ndarray
        Relative standard uncertainty of one measurement of a response [1], of each included run in their
        order; responses whose uncertainty the rig does not state are left out.
    cell_uncertainty : mapping of str to mapping
        Its median by response, then by oil and load level.
    specific_energy_uncertainty : mapping of str to float
        Standard uncertainty of the friction energy over the wear volume [J/m^3], by run_id, of the runs with
        a trace; NaN where that of the energy or of the volume is not known.
    """

    contact: tuple[ContactState, ...]
    growth: tuple[Growth, ...]
    film: tuple[FilmState, ...]
    no_film: str | None
    heat: tuple[HeatState, ...]
    no_heat: str | None
    joint: JointDuty | None
    bench: tuple[BenchDuty, ...]
    uncertainty: Mapping[str, NDArray[np.float64]]
    cell_uncertainty: Mapping[str, Mapping[tuple[str, float], float]]
    specific_energy_uncertainty: Mapping[str, float]


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

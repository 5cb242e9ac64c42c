"""The units of the runs at the desk: SI in the frame, the units people write on request."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.columns import RUNS
from pinscar.decision.responses import STANDARD
from pinscar.errors import UsageError
from pinscar.shipped import nearest
from pinscar.units import DIMENSIONS, Q_, UnitError, is_offset_unit, parse_unit, registry, to_unit

COMPUTED: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "load_level": ("N", "N"),
        "scar_width_used": ("m", "mm"),
        "width_ratio": ("1", "1"),
        "scar_depth": ("m", "um"),
        "scar_area": ("m^2", "mm^2"),
        "scar_pressure": ("Pa", "MPa"),
        "film_pressure": ("Pa", "MPa"),
        "wear_volume": ("m^3", "mm^3"),
        "sliding_speed": ("m/s", "m/s"),
        "sliding_distance": ("m", "m"),
        "load_distance": ("N m", "N m"),
        "wear_coefficient": ("m^2/N", "mm^3/(N m)"),
        "hertz_peak_pressure": ("Pa", "MPa"),
        "temperature_rise": ("K", "K"),
        "friction_coefficient": ("1", "1"),
        "friction_energy": ("J", "J"),
        "heating_rate": ("K/s", "K/s"),
        "last_step_start": ("s", "s"),
    }
)
"""Columns that the evaluation adds: SI unit, and the unit it is usually told in."""


def si_units(runs: pd.DataFrame, written: Mapping[str, str]) -> dict[str, str]:
    """Tell the SI unit of every numeric column."""
    known = {column.name: DIMENSIONS[column.dimension] for column in RUNS if column.dimension}
    known |= {name: units[0] for name, units in COMPUTED.items()}
    own = {name: _base(unit) for name, unit in written.items() if name not in known and unit}
    return {name: unit for name, unit in {**known, **own}.items() if name in runs.columns}


def shown_units(runs: pd.DataFrame, written: Mapping[str, str]) -> dict[str, str]:
    """Tell the unit that each numeric column is usually told in."""
    usual = {column.name: column.unit for column in RUNS if column.unit}
    usual |= {name: units[1] for name, units in COMPUTED.items()}
    usual |= {response.name: response.unit for response in STANDARD if response.name in COMPUTED}
    usual |= {name: unit for name, unit in written.items() if unit}
    return {name: usual.get(name, unit) for name, unit in si_units(runs, written).items()}


def in_units(runs: pd.DataFrame, units: Mapping[str, str]) -> pd.DataFrame:
    """Give the runs in chosen units, each told in the column's head as in runs.csv."""
    shown = runs.copy()
    for name, unit in units.items():
        shown[name] = to_unit(runs[name].to_numpy(dtype=float), unit)
    heads = {name: f"{name} [{unit}]" for name, unit in units.items() if unit != "1"}
    shown = shown.rename(columns=heads)
    shown.attrs["units"] = {heads.get(name, name): unit for name, unit in units.items()}
    return shown


def as_quantities(runs: pd.DataFrame, units: Mapping[str, str]) -> pd.DataFrame:
    """Give the runs with a pint quantity in every numeric cell."""
    shown = runs.copy()
    for name in units:
        column = quantity(runs, name, units)
        cells = np.empty(len(runs), dtype=object)
        for row, value in enumerate(column.magnitude):
            cells[row] = registry().Quantity(float(value), column.units)
        shown[name] = pd.Series(cells, index=runs.index, dtype=object)
    return shown


def quantity(runs: pd.DataFrame, name: str, units: Mapping[str, str]) -> Any:
    """Give one column as a pint array."""
    if name not in units:
        raise UsageError(f"no column with a unit is called {name!r}{nearest(name, list(units))}")
    return Q_(to_unit(runs[name].to_numpy(dtype=float), units[name]), units[name])


def checked_units(units: Mapping[str, str], si: Mapping[str, str]) -> dict[str, str]:
    """Check units that a person chose."""
    for name, unit in units.items():
        if name not in si:
            raise UsageError(f"no column with a unit is called {name!r}{nearest(name, list(si))}")
        try:
            fits = parse_unit(unit).is_compatible_with(parse_unit(si[name]))
        except UnitError as error:
            raise UsageError(f"{name}: {error}") from error
        if not fits:
            raise UsageError(f"{name} is in {si[name]}, which can't be told in {unit}")
    return dict(units)


def _base(unit: str) -> str:
    if is_offset_unit(unit):
        return "K"
    base = registry().get_base_units(parse_unit(unit))[1]
    return "1" if base.dimensionless else f"{base:~C}".replace("**", "^")

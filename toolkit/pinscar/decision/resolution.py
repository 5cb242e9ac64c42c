"""How finely each response was read, found from the digits of the columns that it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.decision.responses import Response
from pinscar.units import to_unit

SCAR = MappingProxyType({"scar_length": 1.0, "scar_width": 1.0})
LENGTH = MappingProxyType({"scar_length": 4.0})
DERIVED: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "scar_area": SCAR,
        "scar_pressure": SCAR,
        "film_pressure": SCAR,
        "wear_volume": LENGTH,
        "wear_coefficient": LENGTH,
    }
)
"""Columns that a response rests on, and the power in which it goes with each (4: the most of a volume)."""

SUMS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"temperature_rise": ("peak_temperature", "ambient_temperature")}
)
MOST_DIGITS = 9
ENOUGH = 6
"""Values from which on a column whose last digit is always even, or 0 or 5, counts as read in such steps."""


def resolution(response: Response, runs: pd.DataFrame, units: Mapping[str, str]) -> float:
    """Give the step of the readings: relative on the log scale, in SI units else; 0 where it is unknown."""
    if response.name in SUMS:
        step = sum(column_step(runs, name, units) for name in SUMS[response.name])
        return step if response.scale == "linear" else step / _centre(runs, response.name)
    if response.scale == "linear":
        return column_step(runs, response.name, units)
    parts = DERIVED.get(response.name, {response.name: 1.0})
    if parts is SCAR and not column_step(runs, "scar_width", units):
        parts = {"scar_length": 2.0}  # the width follows from the length
    steps = ((name, power * column_step(runs, name, units)) for name, power in parts.items())
    return sum(step / _centre(runs, name) for name, step in steps if step > 0.0)


def column_step(runs: pd.DataFrame, name: str, units: Mapping[str, str]) -> float:
    """Give the step in which a column was typed, in SI units; 0 for a column that was not typed.

    Examples
    --------
    >>> runs = pd.DataFrame({"scar_length": [3.78e-3, 4.1e-3]})
    >>> round(column_step(runs, "scar_length", {"scar_length": "mm"}), 9)
    1e-05
    """
    if name not in runs or name not in units:
        return 0.0
    column = runs[name].dropna().to_numpy(dtype=float)
    typed = np.asarray(to_unit(column[np.isfinite(column)], units[name]), dtype=float)
    if typed.size == 0:
        return 0.0
    first, second = to_unit(np.array([1.0, 2.0]), units[name])
    return abs(_step(typed) / float(second - first))


def _step(typed: NDArray[np.float64]) -> float:
    for digits in range(MOST_DIGITS):
        steps = typed * 10.0**digits
        whole = np.round(steps)
        if np.all(np.abs(steps - whole) <= 1e-9 * np.maximum(np.abs(steps), 1.0)):
            enough = typed.size >= ENOUGH
            multiple = next((m for m in (5, 2) if enough and bool(np.all(whole % m == 0))), 1)
            return float(multiple) * 10.0**-digits
    return 0.0


def _centre(runs: pd.DataFrame, name: str) -> float:
    values = np.abs(runs[name].dropna().to_numpy(dtype=float))
    return float(np.median(values)) or np.inf

"""How finely each response was read: as campaign.toml says, else found from the digits of its columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Rig
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

NEAR_ZERO = 10.0
"""Steps of the reading up to which the median of the readings above zero makes a zero mean "below a step"."""
ZERO_IS_LITTLE = ("fling_mass", "fling_area")
"""Responses that are never quite nothing, so that a reading of zero says only that they are below a step."""
UNKNOWN: Mapping[str, float] = MappingProxyType({})


def typed_steps(rig: Rig) -> dict[str, float]:
    """Give the steps of the readings that campaign.toml states, in SI units by column."""
    stated = {
        "scar_length": rig.reading_resolution,
        "scar_width": rig.reading_resolution,
        "fling_mass": rig.balance_resolution,
    }
    return {name: step for name, step in stated.items() if step is not None}


def zeros_as_bounds(
    responses: Sequence[Response],
    runs: pd.DataFrame,
    units: Mapping[str, str],
    typed: Mapping[str, float] = UNKNOWN,
) -> tuple[Response, ...]:
    """Keep a response with zeros on the log scale, as bounds, where zero means less than a step."""
    return tuple(_zeros_as_bounds(response, runs, units, typed) for response in responses)


def _zeros_as_bounds(
    response: Response, runs: pd.DataFrame, units: Mapping[str, str], typed: Mapping[str, float]
) -> Response:
    if response.name not in ZERO_IS_LITTLE or response.scale == "log":
        return response
    values = runs[response.name].dropna().to_numpy(dtype=float)
    step, seen = column_step(runs, response.name, units, typed), values[values > 0.0]
    if step <= 0.0 or values.min() < 0.0 or seen.size == 0 or np.median(seen) > NEAR_ZERO * step:
        return response
    return replace(response, scale="log", censored_side="left", zero_below=step)


def resolution(
    response: Response, runs: pd.DataFrame, units: Mapping[str, str], typed: Mapping[str, float] = UNKNOWN
) -> float:
    """Give the step of the readings: relative on the log scale, in SI units else; 0 where it is unknown."""
    if response.name in SUMS:
        step = sum(column_step(runs, name, units, typed) for name in SUMS[response.name])
        return step if response.scale == "linear" else step / _centre(runs, response.name)
    if response.scale == "linear":
        return column_step(runs, response.name, units, typed)
    parts = DERIVED.get(response.name, {response.name: 1.0})
    if parts is SCAR and not column_step(runs, "scar_width", units, typed):
        parts = {"scar_length": 2.0}  # the width follows from the length
    steps = ((name, power * column_step(runs, name, units, typed)) for name, power in parts.items())
    return sum(step / _centre(runs, name) for name, step in steps if step > 0.0)


def column_step(
    runs: pd.DataFrame, name: str, units: Mapping[str, str], typed: Mapping[str, float] = UNKNOWN
) -> float:
    """Give the step in which a column was read, in SI units; 0 for a column that was not typed.

    Examples
    --------
    >>> runs = pd.DataFrame({"scar_length": [3.78e-3, 4.1e-3]})
    >>> round(column_step(runs, "scar_length", {"scar_length": "mm"}), 9)
    1e-05
    """
    if name not in runs or name not in units:
        return 0.0
    column = runs[name].dropna().to_numpy(dtype=float)
    numbers = np.asarray(to_unit(column[np.isfinite(column)], units[name]), dtype=float)
    if numbers.size == 0:
        return 0.0
    if name in typed:
        return typed[name]
    first, second = to_unit(np.array([1.0, 2.0]), units[name])
    return abs(_step(numbers) / float(second - first))


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
    values = values[values > 0.0]
    return float(np.median(values)) if values.size else np.inf

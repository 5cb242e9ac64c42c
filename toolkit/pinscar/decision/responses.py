"""The responses: what a run can be judged by, with unit, scale, direction and kind of censoring."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import pandas as pd

from pinscar.campaign.columns import SETTINGS
from pinscar.errors import UsageError
from pinscar.shown import to_shown
from pinscar.units import is_offset_unit, to_unit

Scale = Literal["log", "linear"]
Better = Literal["lower", "higher"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """One measured or derived quantity that runs are summarised and compared by.

    Attributes
    ----------
    name : str
        Name in campaign.toml, in results.json and of the column.
    label : str
        What a reader calls it.
    unit : str
        Unit of the numbers in results.json, as pint reads it.
    shown_unit : str
        Unit as printed, with real superscripts.
    shown_factor : float
        Printed number = number in ``unit`` times this.
    scale : {"log", "linear"}
        Scale on which it is analysed; ratios exist on the log scale only.
    better : {"lower", "higher"} or None
        Which way is better for the user of the lubricant, where that is known.
    censored_side : {"left", "right"} or None
        Side on which a run can be a bound instead of a value.
    smaller, larger : str
        The plain words for a lower and a higher value.
    on_request : bool
        Whether it is reported only where someone asks for it; limits and claims can always name it.
    is_count : bool
        Whether it counts events: then the interval is an exact Poisson one and nothing is compared.
    zero_below : float
        Value in SI units that a reading of zero lies below, as a bound; 0 where zero is zero.
    """

    name: str
    label: str
    unit: str
    shown_unit: str
    shown_factor: float = 1.0
    scale: Scale = "log"
    better: Better | None = None
    censored_side: Literal["left", "right"] | None = None
    smaller: str = "lower"
    larger: str = "higher"
    on_request: bool = False
    is_count: bool = False
    zero_below: float = 0.0


STANDARD = (
    Response(
        name="scar_area",
        label="Scar area",
        unit="mm^2",
        shown_unit="mm²",
        better="lower",
        smaller="smaller",
        larger="larger",
    ),
    Response(name="scar_pressure", label="Scar pressure", unit="MPa", shown_unit="MPa", better="higher"),
    Response(
        name="film_pressure",
        label="Film pressure",
        unit="MPa",
        shown_unit="MPa",
        better="higher",
        censored_side="left",
    ),
    Response(
        name="wear_volume",
        label="Wear volume",
        unit="mm^3",
        shown_unit="mm³",
        better="lower",
        smaller="smaller",
        larger="larger",
    ),
    Response(
        name="wear_coefficient",
        label="Wear coefficient",
        unit="mm^3/(N m)",
        shown_unit="10⁻⁶ mm³/(N m)",
        shown_factor=1e6,
        better="lower",
    ),
    Response(
        name="quiet_time",
        label="Quiet time",
        unit="s",
        shown_unit="s",
        better="lower",
        censored_side="right",
        smaller="shorter",
        larger="longer",
    ),
    Response(name="temperature_rise", label="Temperature rise", unit="K", shown_unit="K", better="lower"),
    Response(name="fling_mass", label="Fling mass", unit="mg", shown_unit="mg", better="lower"),
    Response(
        name="fling_area",
        label="Fling area",
        unit="mm^2",
        shown_unit="mm²",
        better="lower",
        smaller="smaller",
        larger="larger",
    ),
    Response(
        name="scar_length",
        label="Scar length",
        unit="mm",
        shown_unit="mm",
        better="lower",
        smaller="shorter",
        larger="longer",
        on_request=True,
    ),
    Response(
        name="scar_width",
        label="Scar width",
        unit="mm",
        shown_unit="mm",
        better="lower",
        smaller="narrower",
        larger="wider",
        on_request=True,
    ),
    Response(
        name="peak_temperature",
        label="Peak temperature",
        unit="degC",
        shown_unit="°C",
        scale="linear",
        better="lower",
        on_request=True,
    ),
    Response(
        name="friction_coefficient",
        label="Friction coefficient",
        unit="1",
        shown_unit="1",
        better="lower",
        on_request=True,
    ),
    Response(
        name="friction_energy",
        label="Friction energy",
        unit="J",
        shown_unit="J",
        better="lower",
        on_request=True,
    ),
    Response(
        name="heating_rate",
        label="Greatest heating rate",
        unit="K/s",
        shown_unit="K/s",
        better="lower",
        on_request=True,
    ),
    Response(
        name="drips",
        label="Drips per run",
        unit="1",
        shown_unit="1",
        scale="linear",
        better="lower",
        on_request=True,
        is_count=True,
    ),
)

_NOT_OWN = SETTINGS | {response.name for response in STANDARD} | {"timer_gap"}
"""Columns that need no response made: they describe how a run was made, or have theirs already."""


def own_responses(units: Mapping[str, str]) -> tuple[Response, ...]:
    """Make a response of every unit-carrying column that pinscar does not know.

    A column in an offset unit such as degC is analysed on the linear scale, since its zero is arbitrary.

    Examples
    --------
    >>> [r.name for r in own_responses({"load": "N", "torque": "N m"})]
    ['torque']
    """
    return tuple(
        Response(
            name=name,
            label=name.replace("_", " ").capitalize(),
            unit=unit,
            shown_unit=_pretty(unit),
            scale="linear" if is_offset_unit(unit) else "log",
        )
        for name, unit in units.items()
        if name not in _NOT_OWN and unit
    )


def available(runs: pd.DataFrame, units: Mapping[str, str]) -> tuple[Response, ...]:
    """List the responses that at least one included run has a value of.

    A quiet time may be known as an interval in every run. A response analysed on the log scale that holds a
    zero or a negative value moves to the linear scale.
    """
    included = runs[runs["excluded"] == ""]
    found = []
    for response in (*STANDARD, *own_responses(units)):
        values = included[response.name].dropna() if response.name in included else pd.Series(dtype=float)
        if response.name == "quiet_time" and values.empty and "quiet_after" in included:
            values = included["quiet_after"].dropna()
        if values.empty:
            continue
        found.append(
            response
            if response.scale == "linear" or bool((values > 0).all())
            else replace(response, scale="linear")
        )
    return tuple(found)


def choose(found: Sequence[Response], wanted: Sequence[str] | None) -> tuple[Response, ...]:
    """Keep the wanted responses, in the order wanted; all of them where none is named."""
    if not wanted:
        return tuple(response for response in found if not response.on_request)
    by_name = {response.name: response for response in found}
    for name in wanted:
        if name not in by_name:
            raise UsageError(f"no run has the response {name!r}; the runs have {', '.join(by_name)}")
    return tuple(by_name[name] for name in wanted)


def in_unit(response: Response, value: float | None) -> float | None:
    """Turn an SI value of a response into the response's own unit; None stays None."""
    return None if value is None else float(to_unit(value, response.unit))


def _pretty(unit: str) -> str:
    return (
        unit.replace("**", "^")
        .replace("^2", "²")
        .replace("^3", "³")
        .replace("um", "µm")
        .replace("degC", "°C")
    )


def number(value: Any, unit: str = "1") -> float | None:
    """Give a number as JSON can hold it.

    Examples
    --------
    >>> number(0.0021, "mm"), number(float("nan")), number(None)
    (2.1, None, None)
    """
    if value is None or not math.isfinite(float(value)):
        return None
    return float(to_shown(np.float64(value), unit))

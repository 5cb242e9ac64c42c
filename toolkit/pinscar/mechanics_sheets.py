"""What the notebook front of the mechanics gives back: records of quantities that show as tables."""

from __future__ import annotations

import dataclasses
import typing
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np


class Sheet:
    """A record of results that a notebook shows as a table and a terminal as lines.

    Its subclasses are frozen dataclasses; each field is a quantity, text, or None where it isn't computed.
    """

    def __str__(self) -> str:
        return "\n".join(f"{label}: {text}" for label, text in self._lines())

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th scope='row' style='text-align:left'>{escape(label)}</th><td>{escape(text)}</td></tr>"
            for label, text in self._lines()
        )
        return f"<table>{rows}</table>"

    def _lines(self) -> list[tuple[str, str]]:
        fields = dataclasses.fields(typing.cast(Any, self))
        return [(one.name.replace("_", " "), _shown(getattr(self, one.name))) for one in fields]


def _shown(value: Any) -> str:
    if value is None:
        return "not computed"
    if not hasattr(value, "units"):
        return str(value)
    numbers = ", ".join(f"{float(one):.5g}" for one in np.ravel(value.magnitude))
    unit = f"{value.units:~P}"
    return f"{numbers} {unit}".strip()


@dataclass(frozen=True)
class HertzContact(Sheet):
    """Elastic contact of unworn crossed cylinders.

    Parameters
    ----------
    semi_major, semi_minor : pint.Quantity
        Long and short half-axis of the ellipse.
    peak_pressure, mean_pressure : pint.Quantity
        Pressure at the centre, and load over area.
    approach : pint.Quantity
        How far distant points of the bodies come together.
    """

    semi_major: Any
    semi_minor: Any
    peak_pressure: Any
    mean_pressure: Any
    approach: Any


@dataclass(frozen=True)
class Scar(Sheet):
    """What a scar's axes tell.

    Parameters
    ----------
    depth : pint.Quantity
        Depth in the middle.
    implied_width : pint.Quantity
        Width that the geometry implies for this length.
    area : pint.Quantity
        Area, from the measured width or else from the implied one.
    pressure : pint.Quantity or None
        Load over area; None without a load.
    wear_volume : pint.Quantity
        Volume worn away.
    """

    depth: Any
    implied_width: Any
    area: Any
    pressure: Any
    wear_volume: Any


@dataclass(frozen=True)
class WearArrest(Sheet):
    """A scar that grows until the film carries the load.

    Parameters
    ----------
    scar_length : pint.Quantity
        Length of the scar at the times asked for.
    depth : pint.Quantity
        Its depth then.
    final_length : pint.Quantity
        Length at which wear stops.
    stopped_after : pint.Quantity
        Time since the start at which the pressure is within 5 % of the film pressure.
    time_constant : pint.Quantity
        Time tau of the closed form, at the last load.
    """

    scar_length: Any
    depth: Any
    final_length: Any
    stopped_after: Any
    time_constant: Any


@dataclass(frozen=True)
class Film(Sheet):
    """Oil film between unworn crossed cylinders.

    Parameters
    ----------
    minimum, central : pint.Quantity
        Film thickness.
    ellipticity : pint.Quantity
        Axis of the contact across the motion over the one along it.
    within_fit : bool or ndarray of bool
        Whether the ellipticity lies in the range that the formula was fitted on, 1 to 8.
    lambda_ratio : pint.Quantity or None
        Minimum film over composite roughness; None without both roughnesses.
    regime : str, ndarray of str or None
        The trade's word for the regime.
    """

    minimum: Any
    central: Any
    ellipticity: Any
    within_fit: Any
    lambda_ratio: Any
    regime: Any


@dataclass(frozen=True)
class Viscosity(Sheet):
    """An oil at a temperature.

    Parameters
    ----------
    kinematic : pint.Quantity
        Kinematic viscosity.
    density, dynamic : pint.Quantity or None
        Density and dynamic viscosity; None without the density at 15 degC.
    pressure_viscosity : pint.Quantity or None
        Estimated pressure-viscosity coefficient; None without the density at 15 degC.
    """

    kinematic: Any
    density: Any
    dynamic: Any
    pressure_viscosity: Any


@dataclass(frozen=True)
class FlashTemperature(Sheet):
    """Friction heat of a scar.

    Parameters
    ----------
    power : pint.Quantity
        Friction power.
    rise : pint.Quantity
        Largest rise of the surface over the bulk.
    share_pin : pint.Quantity
        Share of the heat that the pin takes.
    """

    power: Any
    rise: Any
    share_pin: Any


@dataclass(frozen=True, kw_only=True)
class ChainJoint(Sheet):
    """Duty of a chain joint on a sprocket.

    Parameters
    ----------
    pressure : pint.Quantity
        Tension over the projected area of pin and bush.
    speed : pint.Quantity
        Sliding speed while the joint swings.
    swing : pint.Quantity
        Angle of one swing.
    sliding_per_swing : pint.Quantity
        Sliding distance of one swing.
    pitch_diameter : pint.Quantity or None
        Pitch diameter of the sprocket; None without the pitch.
    chain_speed : pint.Quantity or None
        Speed of the chain; None without the pitch.
    distance : pint.Quantity or None
        Sliding distance in the duration, over two equal sprockets; None without pitch, links and duration.
    caution : str
        What these numbers do not say.
    """

    pressure: Any
    speed: Any
    swing: Any
    sliding_per_swing: Any
    pitch_diameter: Any
    chain_speed: Any
    distance: Any
    caution: str

"""Friction heat and flash temperature: a range, where no trace tells the friction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pinscar.campaign.model import Body, Rig
from pinscar.contact import flash, heat
from pinscar.decision.grouping import by_cell

FRICTION_RANGE = (0.08, 0.15)
"""Friction coefficients of oiled steel rubbing in boundary and mixed lubrication (common practice)."""


@dataclass(frozen=True, slots=True)
class HeatState:
    """Friction heat at the end of the runs of one oil and load.

    Parameters
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    friction : tuple of float
        Lowest and highest friction coefficient taken [1].
    measured : bool
        Whether the friction comes from traces; else it is the range of common practice.
    power : tuple of float
        Friction power [W].
    flash_rise : tuple of float
        Largest rise of the scar's surface over the bulk [K].
    share_pin : float
        Share of the heat that the pin takes [1].
    """

    lubricant: str
    load_level: float
    friction: tuple[float, float]
    measured: bool
    power: tuple[float, float]
    flash_rise: tuple[float, float]
    share_pin: float


def why_not(rig: Rig) -> str | None:
    """Say why no flash temperature can be computed on a rig.

    Parameters
    ----------
    rig : Rig
        The rig.

    Returns
    -------
    str or None
        The reason in plain words; None where nothing stands against it.
    """
    missing = [
        f"rig.{name}.{key}"
        for name, body in (("pin", rig.pin), ("ring", rig.ring))
        for key in ("thermal_conductivity", "density", "specific_heat")
        if getattr(body, key) is None
    ]
    return f"campaign.toml doesn't state {', '.join(missing)}" if missing else None


def heat_states(
    runs: pd.DataFrame, rig: Rig, friction: dict[str, tuple[float, float]]
) -> tuple[HeatState, ...]:
    """Compute friction power and flash temperature of the final scar, an oil and load at a time.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    rig : Rig
        A rig against which `why_not` has nothing.
    friction : dict of str to tuple of float
        Lowest and highest friction coefficient of each run that has a trace [1].

    Returns
    -------
    tuple of HeatState
        By load, then lubricant.
    """
    return tuple(
        _heat_state(group, rig, lubricant, level, friction)
        for level, lubricant, group in by_cell(runs)
        if group["scar_area"].notna().any()
    )


def _heat_state(
    group: pd.DataFrame, rig: Rig, lubricant: str, level: float, friction: dict[str, tuple[float, float]]
) -> HeatState:
    traced = [friction[run] for run in group["run_id"] if run in friction]
    low, high = (min(t[0] for t in traced), max(t[1] for t in traced)) if traced else FRICTION_RANGE
    speed = float(group["sliding_speed"].median())
    power = heat.friction_power(np.array([low, high]), level, speed)
    radius = flash.equal_area_radius(float(group["scar_area"].median()))
    rise = flash.contact_flash(power, radius, 0.0, *_thermal(rig.pin), speed, *_thermal(rig.ring))
    return HeatState(
        lubricant,
        level,
        (low, high),
        bool(traced),
        (float(power[0]), float(power[1])),
        (float(rise.maximum[0]), float(rise.maximum[1])),
        float(np.atleast_1d(rise.share_1)[0]),
    )


def _thermal(body: Body) -> tuple[float, float]:
    conductivity, density, specific_heat = body.thermal_conductivity, body.density, body.specific_heat
    assert conductivity is not None and density is not None and specific_heat is not None
    return conductivity, float(heat.thermal_diffusivity(conductivity, density, specific_heat))

"""Film thickness and lambda of each oil at the first touch, at the temperatures that the runs saw."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from pinscar.campaign.model import Lubricant, Rig
from pinscar.contact import film, lubrication_regime
from pinscar.contact.density import density
from pinscar.contact.pressure_viscosity import pressure_viscosity
from pinscar.contact.viscosity import dynamic_viscosity, kinematic_viscosity, walther_line
from pinscar.decision.bodies import reduced_modulus
from pinscar.decision.grouping import by_cell

T40, T100 = 313.15, 373.15
RIGHT_ANGLE_TOLERANCE = 1e-3


@dataclass(frozen=True, slots=True)
class FilmState:
    """Film between the unworn bodies for one oil, load and temperature.

    Parameters
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    temperature : float
        Inlet temperature taken [K].
    occasion : str
        Which temperature that is: the ambient one or the highest seen.
    dynamic_viscosity : float
        Dynamic viscosity at that temperature [Pa s].
    pressure_viscosity : float
        Pressure-viscosity coefficient [1/Pa].
    correlation : str
        How the coefficient was got.
    minimum, central : float
        Film thickness [m].
    lambda_ratio : float or None
        Minimum film thickness over composite roughness [1]; None where a roughness is not stated.
    regime : str
        The trade's word for the regime.
    within_fit : bool
        Whether the ellipticity lies in the range that the film formula was fitted on.
    """

    lubricant: str
    load_level: float
    temperature: float
    occasion: str
    dynamic_viscosity: float
    pressure_viscosity: float
    correlation: str
    minimum: float
    central: float
    lambda_ratio: float | None
    regime: str
    within_fit: bool


def why_not(rig: Rig) -> str | None:
    """Say why no film can be computed on a rig.

    Parameters
    ----------
    rig : Rig
        The rig.

    Returns
    -------
    str or None
        The reason in plain words; None where nothing stands against it.
    """
    right_angle = abs(rig.crossing_angle - 0.5 * math.pi) < RIGHT_ANGLE_TOLERANCE
    if rig.geometry != "crossed-cylinders" or not right_angle:
        return "the film formula is set up here for cylinders crossed at 90° only"
    if reduced_modulus(rig) is None:
        return "campaign.toml states no elastic modulus or Poisson's ratio for pin or ring"
    return None


def film_states(runs: pd.DataFrame, rig: Rig, lubricants: tuple[Lubricant, ...]) -> tuple[FilmState, ...]:
    """Compute the film of each oil and load, at the median ambient and median peak temperature of its runs.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    rig : Rig
        A rig against which `why_not` has nothing.
    lubricants : tuple of Lubricant
        Their viscosities and densities.

    Returns
    -------
    tuple of FilmState
        By load, then lubricant, then temperature; oils without viscosity or density, and runs without
        temperature, are left out.
    """
    known = {oil.id: oil for oil in lubricants if has_properties(oil)}
    return tuple(
        _film_state(rig, known[name], level, float(group["sliding_speed"].median()), occasion, temperature)
        for level, name, group in by_cell(runs)
        if name in known
        for occasion, temperature in _temperatures(group)
    )


def has_properties(oil: Lubricant) -> bool:
    """Tell whether an oil's viscosities and density are stated.

    Parameters
    ----------
    oil : Lubricant
        The oil.

    Returns
    -------
    bool
        True where a film can be computed.
    """
    return None not in (oil.kinematic_viscosity_40, oil.kinematic_viscosity_100, oil.density_15)


def _temperatures(group: pd.DataFrame) -> Iterator[tuple[str, float]]:
    occasions = {"ambient_temperature": "start", "peak_temperature": "hottest"}
    for column, occasion in occasions.items():
        known = group[column].dropna()
        if not known.empty:
            yield occasion, float(known.median())


def _film_state(
    rig: Rig, oil: Lubricant, load: float, speed: float, occasion: str, temperature: float
) -> FilmState:
    assert rig.pin_diameter is not None
    modulus = reduced_modulus(rig)
    assert modulus is not None and oil.density_15 is not None
    assert oil.kinematic_viscosity_40 is not None and oil.kinematic_viscosity_100 is not None
    line = walther_line(T40, oil.kinematic_viscosity_40, T100, oil.kinematic_viscosity_100)
    nu = kinematic_viscosity(line, temperature)
    rho = density(oil.density_15, temperature).density
    eta = float(dynamic_viscosity(nu, rho))
    alpha, correlation = _pressure_viscosity(oil, float(nu), float(rho), float(line.slope))
    # The ring's surface moves along the pin, so the ring's radius lies in the direction of motion.
    thickness = film.hamrock_dowson(
        load,
        film.entrainment_speed(0.0, speed),
        eta,
        alpha,
        modulus,
        0.5 * rig.ring_diameter,
        0.5 * rig.pin_diameter,
    )
    ratio = _lambda(rig, float(thickness.minimum))
    return FilmState(
        oil.id,
        load,
        temperature,
        occasion,
        eta,
        alpha,
        correlation,
        float(thickness.minimum),
        float(thickness.central),
        ratio,
        "not computed" if ratio is None else str(lubrication_regime.lubrication_regime(ratio)),
        bool(thickness.within_fit),
    )


def _pressure_viscosity(oil: Lubricant, nu: float, rho: float, slope: float) -> tuple[float, str]:
    if oil.pressure_viscosity is not None:
        return oil.pressure_viscosity, "stated in campaign.toml"
    estimate = pressure_viscosity(nu, rho, slope)
    return float(estimate.coefficient), estimate.correlation


def _lambda(rig: Rig, thickness: float) -> float | None:
    if rig.pin.roughness_rq is None or rig.ring.roughness_rq is None:
        return None
    return float(film.lambda_ratio(thickness, rig.pin.roughness_rq, rig.ring.roughness_rq))

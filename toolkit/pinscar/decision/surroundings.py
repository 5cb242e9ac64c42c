"""What surrounds a campaign's scars: film thickness, friction heat, chain duty, growth, uncertainty.

Film and lambda are for the first touch at the temperatures that the runs saw; heat is a range where no trace
tells the friction; growth goes through each oil's quiet times and final scars; uncertainty of measurement is
kept apart from the spread between runs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Body, Lubricant, Rig, Service
from pinscar.contact import chain, film, heat
from pinscar.contact.arrest import worn_depth_exact
from pinscar.contact.arrest_fit import film_from_quiet_time
from pinscar.contact.chain import Duty, bench_against_service
from pinscar.contact.geometry import CrossedCylinders, Geometry
from pinscar.contact.viscosity import (
    density,
    dynamic_viscosity,
    kinematic_viscosity,
    pressure_viscosity,
    walther_line,
)
from pinscar.decision.evaluate import reduced_modulus
from pinscar.decision.runs import by_cell, by_level
from pinscar.decision.surrounding_states import BenchDuty, FilmState, Growth, HeatState, JointDuty
from pinscar.stats import uncertainty

T40, T100 = 313.15, 373.15
RIGHT_ANGLE_TOLERANCE = 1e-3


def why_no_film(rig: Rig) -> str | None:
    """Say why no film can be computed on a rig."""
    right_angle = abs(rig.crossing_angle - 0.5 * math.pi) < RIGHT_ANGLE_TOLERANCE
    if rig.geometry != "crossed-cylinders" or not right_angle:
        return "the film formula is set up here for cylinders crossed at 90° only"
    if reduced_modulus(rig) is None:
        return "campaign.toml states no elastic modulus or Poisson's ratio for pin or ring"
    return None


def film_states(runs: pd.DataFrame, rig: Rig, lubricants: tuple[Lubricant, ...]) -> tuple[FilmState, ...]:
    """Compute the film of each oil and load, at the median ambient and peak temperature of its runs."""
    known = {oil.id: oil for oil in lubricants if has_properties(oil)}
    return tuple(
        _film_state(rig, known[name], level, float(group["sliding_speed"].median()), occasion, temperature)
        for level, name, group in by_cell(runs)
        if name in known
        for occasion, temperature in _temperatures(group)
    )


def has_properties(oil: Lubricant) -> bool:
    """Tell whether an oil's viscosities and density are stated."""
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
        lubricant=oil.id,
        load_level=load,
        temperature=temperature,
        occasion=occasion,
        dynamic_viscosity=eta,
        pressure_viscosity=alpha,
        correlation=correlation,
        minimum=float(thickness.minimum),
        central=float(thickness.central),
        lambda_ratio=ratio,
        regime="not computed" if ratio is None else str(film.lubrication_regime(ratio)),
        within_fit=bool(thickness.within_fit),
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


FRICTION_RANGE = (0.08, 0.15)
"""Friction coefficients of oiled steel rubbing in boundary and mixed lubrication (common practice)."""


def why_no_heat(rig: Rig) -> str | None:
    """Say why no flash temperature can be computed on a rig."""
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
    """Compute friction power and flash temperature of the final scar of each oil and load, all at once."""
    cells = [cell for cell in by_cell(runs) if cell[2]["scar_area"].notna().any()]
    if not cells:
        return ()
    levels, names, groups = zip(*cells, strict=True)
    ranges = [_friction_of(group, friction) for group in groups]
    speed = np.array([[float(group["sliding_speed"].median())] for group in groups])
    area = np.array([[float(group["scar_area"].median())] for group in groups])
    span = np.array([one for one, _ in ranges])
    power = heat.friction_power(span, np.array(levels, dtype=float)[:, None], speed)
    rise = heat.contact_flash(
        power, heat.equal_area_radius(area), 0.0, *_thermal(rig.pin), speed, *_thermal(rig.ring)
    )
    share = np.broadcast_to(rise.share_1, power.shape)
    return tuple(
        HeatState(
            lubricant=names[i],
            load_level=levels[i],
            friction=(float(span[i, 0]), float(span[i, 1])),
            measured=ranges[i][1],
            power=(float(power[i, 0]), float(power[i, 1])),
            flash_rise=(float(rise.maximum[i, 0]), float(rise.maximum[i, 1])),
            share_pin=float(share[i, 0]),
        )
        for i in range(len(cells))
    )


def _friction_of(
    group: pd.DataFrame, friction: dict[str, tuple[float, float]]
) -> tuple[tuple[float, float], bool]:
    """Give the range of friction coefficients of some runs, and whether traces tell it."""
    traced = [friction[run] for run in group["run_id"] if run in friction]
    if not traced:
        return FRICTION_RANGE, False
    return (min(low for low, _ in traced), max(high for _, high in traced)), True


def _thermal(body: Body) -> tuple[float, float]:
    conductivity, density, specific_heat = body.thermal_conductivity, body.density, body.specific_heat
    assert conductivity is not None and density is not None and specific_heat is not None
    return conductivity, float(heat.thermal_diffusivity(conductivity, density, specific_heat))


def joint_duty(service: Service) -> JointDuty:
    """Compute what the joint of a chain goes through."""
    diameter = float(chain.pitch_diameter(service.chain_pitch, service.sprocket_teeth))
    speed = float(chain.chain_speed(service.chain_pitch, service.sprocket_teeth, service.sprocket_speed))
    return JointDuty(
        pressure=float(
            chain.joint_pressure(service.chain_tension, service.pin_diameter, service.bush_length)
        ),
        speed=float(chain.joint_speed(service.pin_diameter, service.sprocket_speed)),
        swing=float(chain.swing_angle(service.sprocket_teeth)),
        sliding_per_swing=float(chain.sliding_per_swing(service.pin_diameter, service.sprocket_teeth)),
        pitch_diameter=diameter,
        chain_speed=speed,
        torque=0.5 * service.chain_tension * diameter,
        power=service.chain_tension * speed,
    )


def bench_duties(runs: pd.DataFrame, joint: JointDuty) -> tuple[BenchDuty, ...]:
    """Set each load level of the bench against the joint."""
    return tuple(_bench_duty(level, group, joint) for level, group in by_level(runs))


def _bench_duty(level: float, group: pd.DataFrame, joint: JointDuty) -> BenchDuty:
    pressure, speed, distance = (
        float(group[column].median()) for column in ("scar_pressure", "sliding_speed", "sliding_distance")
    )
    rows = bench_against_service(Duty(pressure, speed, distance), Duty(joint.pressure, joint.speed, None))
    span = float(group["scar_pressure"].min()), float(group["scar_pressure"].max())
    return BenchDuty(
        load_level=level,
        pressure=pressure,
        speed=speed,
        distance=distance,
        pressures=span,
        rows=rows,
        swings=distance / joint.sliding_per_swing,
    )


POINTS = 120


def scar_growth_curves(runs: pd.DataFrame, geometry: Geometry) -> tuple[Growth, ...]:
    """Fit the wear-arrest model to each run with a quiet time and draw each oil's median curve."""
    if not isinstance(geometry, CrossedCylinders):
        return ()
    stepped = np.array(["load-steps" in flags for flags in runs["flags"]], dtype=bool)
    usable = runs[~stepped & runs["scar_length"].notna().to_numpy()]
    return tuple(
        _growth(level, lubricant, group, geometry)
        for level, lubricant, group in by_cell(usable)
        if (group["quiet_time"] > 0.0).any()  # a scar that was quiet from the start tells no growth
    )


def _growth(level: float, lubricant: str, group: pd.DataFrame, pair: CrossedCylinders) -> Growth:
    heard = group[group["quiet_time"] > 0.0]
    length, quiet, duration, load, pace = (
        heard[name].to_numpy(dtype=float)
        for name in ("scar_length", "quiet_time", "duration", "load", "sliding_speed")
    )
    fits = film_from_quiet_time(length, quiet, duration, load, pace, pair)
    wear, film = (float(np.median(values)) for values in fits)
    speed, stop = float(group["sliding_speed"].median()), float(np.median(quiet))
    # Length grows with the fourth root of time at first, so the points stand closest there.
    time = float(group["duration"].max()) * np.linspace(0.0, 1.0, POINTS) ** 3

    def length_at(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return pair.scar_length(worn_depth_exact(at, [0.0], [level], speed, wear, film, pair))

    return Growth(
        lubricant=lubricant,
        load_level=level,
        n=len(heard),
        wear_coefficient=wear,
        film_pressure=film,
        time=time,
        length=length_at(time),
        quiet_time=stop,
        quiet_length=float(length_at(np.array([stop]))[0]),
        end_time=group["duration"].to_numpy(dtype=float),
        end_length=group["scar_length"].to_numpy(dtype=float),
    )


def relative_uncertainty(
    runs: pd.DataFrame, rig: Rig, geometry: Geometry, response: str
) -> NDArray[np.float64] | None:
    """Give the relative standard uncertainty of one measurement of a response, for each run."""
    reading, load = rig.reading_uncertainty, rig.load_uncertainty
    if reading is None:
        return None
    length, width = runs["scar_length"].to_numpy(dtype=float), runs["scar_width_used"].to_numpy(dtype=float)
    implied = runs["width_is_implied"].to_numpy(dtype=bool)
    if response == "scar_area":
        return uncertainty.relative_area_uncertainty(length, width, reading, geometry.implied_width, implied)
    if response == "wear_volume":
        return uncertainty.relative_volume_uncertainty(length, reading, geometry.wear_volume)
    if load is None:
        return None
    if response in ("scar_pressure", "film_pressure"):
        return uncertainty.relative_pressure_uncertainty(
            length, width, load, reading, geometry.implied_width, implied
        )
    if response == "wear_coefficient":
        return uncertainty.relative_wear_coefficient_uncertainty(length, load, reading, geometry.wear_volume)
    return None

"""Bench against service: the chain joint that the bench is meant to stand for."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pinscar.campaign.model import Service
from pinscar.contact import chain
from pinscar.contact.severity import Duty, SeverityRow, bench_against_service
from pinscar.decision.grouping import by_level


@dataclass(frozen=True, slots=True)
class JointDuty:
    """What the chain's joint goes through.

    Parameters
    ----------
    pressure : float
        Mean pressure between pin and bush [Pa].
    speed : float
        Sliding speed while a link swings [m/s].
    swing : float
        Angle of one swing [rad].
    sliding_per_swing : float
        Sliding distance of one swing [m].
    pitch_diameter : float
        Of the sprocket [m].
    chain_speed : float
        Mean speed of the chain [m/s].
    torque, power : float
        At the sprocket, from the tension [N m], [W].
    """

    pressure: float
    speed: float
    swing: float
    sliding_per_swing: float
    pitch_diameter: float
    chain_speed: float
    torque: float
    power: float


@dataclass(frozen=True, slots=True)
class BenchDuty:
    """The bench at one load level, set against the joint.

    Parameters
    ----------
    load_level : float
        Load level [N].
    pressure, speed, distance : float
        Median final scar pressure [Pa], sliding speed [m/s] and sliding distance [m] of its runs.
    pressures : tuple of float
        Lowest and highest final scar pressure [Pa].
    rows : tuple of SeverityRow
        Bench against service, quantity by quantity.
    swings : float
        Swings of a joint that slide as far as one run.
    """

    load_level: float
    pressure: float
    speed: float
    distance: float
    pressures: tuple[float, float]
    rows: tuple[SeverityRow, ...]
    swings: float


def joint_duty(service: Service) -> JointDuty:
    """Compute what the joint of a chain goes through.

    Parameters
    ----------
    service : Service
        The chain duty.

    Returns
    -------
    JointDuty
        Pressure, speed, swing, distance, and the drive that goes with them.
    """
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
    """Set each load level of the bench against the joint.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    joint : JointDuty
        The joint.

    Returns
    -------
    tuple of BenchDuty
        By load level.
    """
    return tuple(_bench_duty(level, group, joint) for level, group in by_level(runs))


def _bench_duty(level: float, group: pd.DataFrame, joint: JointDuty) -> BenchDuty:
    pressure, speed, distance = (
        float(group[column].median()) for column in ("scar_pressure", "sliding_speed", "sliding_distance")
    )
    rows = bench_against_service(Duty(pressure, speed, distance), Duty(joint.pressure, joint.speed, None))
    span = float(group["scar_pressure"].min()), float(group["scar_pressure"].max())
    return BenchDuty(level, pressure, speed, distance, span, rows, distance / joint.sliding_per_swing)

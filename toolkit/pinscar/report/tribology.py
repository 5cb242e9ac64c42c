"""Tables and sentences of the contact's surroundings: film, heat, and the chain that the oil is for."""

from __future__ import annotations

import math

from pinscar.campaign.model import Service
from pinscar.decision.duty import BenchDuty, JointDuty
from pinscar.decision.heating import HeatState
from pinscar.decision.lubrication import FilmState
from pinscar.decision.wording import listing, load_text, significant
from pinscar.report.markup import Markup, key_value, table


def film_sentence(states: tuple[FilmState, ...]) -> str:
    """Say which lubrication regime the unworn contact starts in.

    Parameters
    ----------
    states : tuple of FilmState
        At least one.

    Returns
    -------
    str
        One sentence.
    """
    thickest, thinnest = max(s.minimum for s in states), min(s.minimum for s in states)
    ratios = [s.lambda_ratio for s in states if s.lambda_ratio is not None]
    span = f"{significant(thinnest * 1e6, 2)} to {significant(thickest * 1e6, 2)} µm"
    if not ratios:
        return (
            f"Between the unworn bodies the film would be {span} thick; lambda is not computed, because a "
            "roughness is not stated."
        )
    regimes = listing(sorted({s.regime for s in states}))
    return (
        f"Between the unworn bodies the film would be {span} thick, lambda {significant(min(ratios), 2)} to "
        f"{significant(max(ratios), 2)}: {regimes} lubrication."
    )


def film_table(states: tuple[FilmState, ...]) -> Markup:
    """Tabulate film thickness and lambda.

    Parameters
    ----------
    states : tuple of FilmState
        At least one.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            f"{s.lubricant} at {load_text(s.load_level)}",
            s.occasion,
            f"{s.temperature - 273.15:.0f}",
            significant(s.dynamic_viscosity * 1e3),
            significant(s.pressure_viscosity * 1e9),
            significant(s.minimum * 1e6),
            "not computed" if s.lambda_ratio is None else significant(s.lambda_ratio, 2),
            s.regime,
        ]
        for s in states
    ]
    outside = any(not s.within_fit for s in states)
    note = f"Pressure-viscosity coefficient: {listing(sorted({s.correlation for s in states}))}."
    if outside:
        note += (
            " The ring moves along the pin, so the ellipticity k is below 1, outside the range of 1 to 8 "
            "on which the formula "
            "was fitted: these films are extrapolated."
        )
    return table(
        [
            "Oil and load",
            "Inlet",
            ("Temperature", "°C"),
            ("Viscosity", "mPa s"),
            ("Pressure-viscosity", "1/GPa"),
            ("Least film", "µm"),
            "Lambda",
            "Regime",
        ],
        rows,
        caption="Film between the unworn bodies, at the temperatures of the runs",
        key="lubrication",
        number_columns=[2, 3, 4, 5, 6],
        note=note,
    )


def heat_sentence(states: tuple[HeatState, ...]) -> str:
    """Say how much heat the friction makes and how hot the scar gets.

    Parameters
    ----------
    states : tuple of HeatState
        At least one.

    Returns
    -------
    str
        One sentence.
    """
    power = min(s.power[0] for s in states), max(s.power[1] for s in states)
    rise = min(s.flash_rise[0] for s in states), max(s.flash_rise[1] for s in states)
    return (
        f"Friction generates {significant(power[0], 2)} to {significant(power[1], 2)} W, and the surface of "
        "the final scar runs "
        f"{significant(rise[0], 2)} to {significant(rise[1], 2)} K above the bulk."
    )


def heat_table(states: tuple[HeatState, ...]) -> Markup:
    """Tabulate friction power and flash temperature.

    Parameters
    ----------
    states : tuple of HeatState
        At least one.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            f"{s.lubricant} at {load_text(s.load_level)}",
            " to ".join(f"{one:.3f}" if s.measured else f"{one:.2f}" for one in s.friction),
            "traces" if s.measured else "common practice",
            f"{significant(s.power[0], 2)} to {significant(s.power[1], 2)}",
            f"{significant(s.flash_rise[0], 2)} to {significant(s.flash_rise[1], 2)}",
            f"{100 * s.share_pin:.0f}",
        ]
        for s in states
    ]
    return table(
        [
            "Oil and load",
            "Friction coefficient",
            "From",
            ("Friction power", "W"),
            ("Flash rise", "K"),
            ("Heat into the pin", "%"),
        ],
        rows,
        caption="Friction heat at the end of the runs",
        key="heat",
        number_columns=[1, 3, 4, 5],
        note=_friction_source(states),
    )


def _friction_source(states: tuple[HeatState, ...]) -> str | None:
    if not any(s.measured for s in states):
        return None
    return (
        "From traces: the 5 and 95 % points over the time after the noise stopped, or over the last load "
        "step where that moment wasn't noted; lowest and highest of the oil's traced runs."
    )


def duty_sentence(service: Service, joint: JointDuty, bench: tuple[BenchDuty, ...]) -> str:
    """Say how much more severe the bench is than the joint.

    Parameters
    ----------
    service : Service
        The chain duty.
    joint : JointDuty
        What it means for the joint.
    bench : tuple of BenchDuty
        The bench at each load level; at least one.

    Returns
    -------
    str
        One sentence.
    """
    pressures = [b.pressure / joint.pressure for b in bench]
    return (
        f"A chain tension of {service.chain_tension:.3g} N presses pin on bush with "
        f"{significant(joint.pressure * 1e-6)} MPa; the bench's "
        f"final scars carry {_times(min(pressures), max(pressures))} that pressure and slide "
        f"{significant(bench[0].speed / joint.speed, 2)} times as fast."
    )


def duty_table(joint: JointDuty, bench: tuple[BenchDuty, ...]) -> Markup:
    """Tabulate bench against service.

    Parameters
    ----------
    joint : JointDuty
        The joint.
    bench : tuple of BenchDuty
        The bench at each load level.

    Returns
    -------
    Markup
        The table.
    """
    factors = {
        "pressure": (1e-6, "MPa"),
        "sliding speed": (1.0, "m/s"),
        "pressure times speed": (1e-6, "W/mm²"),
    }
    rows = []
    for duty in bench:
        for row in duty.rows:
            if row.quantity not in factors or row.bench is None or row.service is None or row.ratio is None:
                continue
            factor, unit = factors[row.quantity]
            rows.append(
                [
                    f"{row.quantity.capitalize()} [{unit}] at {load_text(duty.load_level)}",
                    significant(row.bench * factor),
                    significant(row.service * factor),
                    significant(row.ratio, 2),
                    row.verdict,
                ]
            )
        rows.append(
            [
                f"Sliding distance [m] at {load_text(duty.load_level)}",
                f"{significant(duty.distance)} per run",
                f"{significant(joint.sliding_per_swing)} per swing",
                significant(duty.swings, 2),
                f"one run slides as far as about {_swings(duty.swings)} swings",
            ]
        )
    return table(
        ["Quantity", "Bench", "Joint", "Bench over joint", "What that means"],
        rows,
        caption="Bench against the chain joint in service",
        key="duty",
        number_columns=[1, 2, 3],
    )


def joint_facts(service: Service, joint: JointDuty) -> Markup:
    """List the chain duty and what it means for the joint.

    Parameters
    ----------
    service : Service
        The chain duty.
    joint : JointDuty
        What it means for the joint.

    Returns
    -------
    Markup
        Names and values.
    """
    rpm = service.sprocket_speed * 60.0 / math.tau
    return key_value(
        {
            "Chain": f"pitch {service.chain_pitch * 1e3:g} mm, pin {service.pin_diameter * 1e3:g} mm, "
            f"bush length {service.bush_length * 1e3:g} mm",
            "Sprocket": f"{service.sprocket_teeth} teeth at {rpm:.3g} rpm, "
            f"pitch diameter {joint.pitch_diameter * 1e3:.2f} mm",
            "Chain speed": f"{significant(joint.chain_speed)} m/s",
            "Tension": f"{service.chain_tension:g} N: {significant(joint.torque)} N m and "
            f"{significant(joint.power)} W at the sprocket",
            "Swing of a link": f"{math.degrees(joint.swing):.1f}°, "
            f"{significant(joint.sliding_per_swing * 1e3)} mm of sliding",
        }
    )


def _times(low: float, high: float) -> str:
    a, b = significant(low, 2), significant(high, 2)
    return f"{a} times" if a == b else f"{a} to {b} times"


def _swings(swings: float) -> str:
    return f"{float(significant(swings, 2)):,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")

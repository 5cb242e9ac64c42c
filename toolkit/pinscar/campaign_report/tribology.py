"""Tables and sentences of the contact's surroundings: film, heat, and the chain that the oil is for.

Notes on method depend on the rig's geometry: only formulas that were used are told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from pinscar.campaign.model import Rig, Service
from pinscar.decision import surroundings
from pinscar.decision.surrounding_states import BenchDuty, FilmState, HeatState, JointDuty
from pinscar.page.formula import replace_formulas
from pinscar.page.markup import Markup, grouped, key_value, table
from pinscar.shown import to_shown
from pinscar.wording import listing, load_text, rounded, significant


def film_sentence(states: tuple[FilmState, ...]) -> str:
    """Say which lubrication regime the unworn contact starts in."""
    thickest, thinnest = max(s.minimum for s in states), min(s.minimum for s in states)
    ratios = [s.lambda_ratio for s in states if s.lambda_ratio is not None]
    span = f"{significant(to_shown(thinnest, 'µm'), 2)} to {significant(to_shown(thickest, 'µm'), 2)} µm"
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
    """Tabulate film thickness and lambda."""
    rows = [
        [
            f"{s.lubricant} at {load_text(s.load_level)}",
            s.occasion,
            f"{to_shown(s.temperature, '°C'):.0f}",
            significant(to_shown(s.dynamic_viscosity, "mPa s")),
            significant(to_shown(s.pressure_viscosity, "1/GPa")),
            significant(to_shown(s.minimum, "µm")),
            "not computed" if s.lambda_ratio is None else significant(s.lambda_ratio, 2),
            s.regime,
        ]
        for s in states
    ]
    outside = any(not s.within_fit for s in states)
    note = f"Pressure-viscosity coefficient: {listing(sorted({s.correlation for s in states}))}."
    if outside:
        note += (
            " The ring moves along the pin, so the ellipticity k is below 1, outside the range of 1 to 8 on "
            "which the formula was fitted: these films are extrapolated."
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
    """Say how much heat the friction makes and how hot the scar gets."""
    power = min(s.power[0] for s in states), max(s.power[1] for s in states)
    rise = min(s.flash_rise[0] for s in states), max(s.flash_rise[1] for s in states)
    return (
        f"Friction generates {significant(power[0], 2)} to {significant(power[1], 2)} W, and the surface of "
        f"the final scar runs {significant(rise[0], 2)} to {significant(rise[1], 2)} K above the bulk."
    )


def heat_table(states: tuple[HeatState, ...]) -> Markup:
    """Tabulate friction power and flash temperature."""
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
    """Say how much more severe the bench is than the joint."""
    pressures = [b.pressure / joint.pressure for b in bench]
    return (
        f"A chain tension of {service.chain_tension:.3g} N presses pin on bush with "
        f"{significant(to_shown(joint.pressure, 'MPa'))} MPa; the bench's "
        f"final scars carry {_times(min(pressures), max(pressures))} that pressure and slide "
        f"{significant(bench[0].speed / joint.speed, 2)} times as fast."
    )


def duty_table(joint: JointDuty, bench: tuple[BenchDuty, ...]) -> Markup:
    """Tabulate bench against service."""
    units = {"pressure": "MPa", "sliding speed": "m/s", "pressure times speed": "W/mm²"}
    rows = []
    for duty in bench:
        for row in duty.rows:
            if row.quantity not in units or row.bench is None or row.service is None or row.ratio is None:
                continue
            unit = units[row.quantity]
            rows.append(
                [
                    f"{row.quantity.capitalize()} [{unit}] at {load_text(duty.load_level)}",
                    significant(to_shown(row.bench, unit)),
                    significant(to_shown(row.service, unit)),
                    significant(row.ratio, 2),
                    row.verdict,
                ]
            )
        rows.append(
            [
                f"Sliding distance [m] at {load_text(duty.load_level)}",
                f"{significant(duty.distance)} per run",
                f"{significant(joint.sliding_per_swing)} per swing",
                _swings(duty.swings),
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
    """List the chain duty and what it means for the joint."""
    rpm = to_shown(service.sprocket_speed, "rpm")
    return key_value(
        {
            "Chain": f"pitch {to_shown(service.chain_pitch, 'mm'):g} mm, "
            f"pin {to_shown(service.pin_diameter, 'mm'):g} mm, "
            f"bush length {to_shown(service.bush_length, 'mm'):g} mm",
            "Sprocket": f"{service.sprocket_teeth} teeth at {rpm:.3g} rpm, "
            f"pitch diameter {to_shown(joint.pitch_diameter, 'mm'):.2f} mm",
            "Chain speed": f"{significant(joint.chain_speed)} m/s",
            "Tension": f"{service.chain_tension:g} N: {significant(joint.torque)} N m and "
            f"{significant(joint.power)} W at the sprocket",
            "Swing of a link": f"{to_shown(joint.swing, '°'):.1f}°, "
            f"{significant(to_shown(joint.sliding_per_swing, 'mm'))} mm of sliding",
        }
    )


MOST_COUNTED = 1e9
"""A count from here on is written as a power of ten."""


def _times(low: float, high: float) -> str:
    a, b = significant(low, 2), significant(high, 2)
    return f"{a} times" if a == b else f"{a} to {b} times"


def _swings(swings: float) -> str:
    return grouped(f"{rounded(swings, 2):,.0f}") if swings < MOST_COUNTED else significant(swings, 2)


_RIGHT_ANGLE = 1e-3

_BENCH: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": "A steel pin is pressed by dead weights across a rotating ring that is wetted "
        "with the lubricant. The pin wears until the oval scar is wide enough for the lubricant film to "
        "carry the load; then the rubbing noise stops and wear stops. ",
        "worn-ring": "A steel pin is pressed by dead weights across a rotating ring that is wetted with the "
        "lubricant. Pin and ring wear until the oval scar is wide enough for the lubricant film to carry the "
        "load; then the rubbing noise stops and wear stops. ",
        "ball-on-disc": "A ball is pressed by dead weights on a rotating disc that is wetted with the "
        "lubricant. The ball wears until its round scar is wide enough for the lubricant film to carry the "
        "load; then the rubbing noise stops and wear stops. ",
        "block-on-ring": "A block is pressed by dead weights on a rotating ring that is wetted with the "
        "lubricant. The block wears until its scar is long enough for the lubricant film to carry the load; "
        "then the rubbing noise stops and wear stops. ",
    }
)

_OVAL = (
    r"Scar area from the two measured axes, $A = \frac{\pi}{4} L W$; mean scar pressure "
    "$p = F / A$ (common practice: area of an ellipse; load over area)."
)
_AREA: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": _OVAL,
        "worn-ring": _OVAL,
        "ball-on-disc": r"Scar area from the two measured diameters, $A = \frac{\pi}{4} L W$; mean scar "
        r"pressure $p = F / A$.",
        "block-on-ring": r"The scar of a block is a rectangle, its length $b$ along and its width $t$ across "
        r"the sliding direction: $A = b\,t$; mean scar pressure $p = F / A$.",
    }
)

_POINT = (
    "Initial contact: elastic point contact by Hertz theory with exact elliptic integrals (Johnson, Contact "
    "Mechanics, 1985, ch. 4). "
)
_CHORD = (
    r"Scar depth from the length, $h = R_r - \sqrt{R_r^2 - L^2/4}$; wear volume as the exact overlap of the "
    "two cylinders by quadrature; "
)
_OBLIQUE = (
    r"Scar depth from the length, $h = R_p - \sqrt{R_p^2 - (L \sin \varphi)^2/4} + R_r - \sqrt{R_r^2 - (L "
    r"\sin(\theta - \varphi))^2/4}$, with the crossing angle $\theta$ and the angle $\varphi$ from the pin "
    r"to the scar's long axis (own derivation); wear volume as the exact overlap of the two cylinders by "
    r"quadrature; "
)
_CONTACT: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": _POINT + _CHORD,
        "worn-ring": _POINT + r"With the groove of the ring, $g$ deep: scar depth "
        r"$h = R_r - g - \sqrt{(R_r - g)^2 - L^2/4}$, implied width $W = 2\sqrt{2 R_p (h + g) - (h + g)^2}$; "
        "wear volume of the pin by quadrature across the track, where pin and ring are taken to share what "
        "they overlap in the same proportion everywhere (own derivation); ",
        "ball-on-disc": _POINT + r"With the ball's radius $r$ and the scar's diameter $d$ (ASTM G99): depth "
        r"$h = r - \sqrt{r^2 - d^2/4}$, wear volume $V = \frac{\pi h}{6} (\frac{3 d^2}{4} + h^2)$; ",
        "block-on-ring": r"Initial contact: elastic line contact by Hertz theory (Johnson, Contact "
        r"Mechanics, 1985, ch. 4). With the ring's diameter $D$ (ASTM G77): wear volume $V = \frac{D^2 t}{8} "
        r"(2 \theta - \sin 2\theta)$ with $\sin \theta = b/D$; ",
    }
)

_GROWTH = (
    r"Wear-arrest model: Archard wear above the film pressure, $dh/dt = k\,v\,(p - p_f)$ while the mean "
    "pressure $p = F / A(h)$ exceeds $p_f$, with the exact scar area of crossed cylinders. Two unknowns from "
    "two observations of each run: its final scar, and its quiet time, taken as the moment when $p$ has come "
    r"down to $1.05\,p_f$ (own convention). Runs with load steps are left out. Long before arrest the length "
    "grows with $t^{1/4}$."
)
_FILM = (
    r"Film: Hamrock and Dowson (J. Lubr. Technol. 99, 1977), fully flooded and isothermal, with the "
    r"viscosity at the stated temperature (ASTM D341 between 40 and 100 °C); $\lambda = h_{min} / "
    r"\sqrt{R_{q1}^2 + R_{q2}^2}$; boundary below 1, mixed from 1 to 3, full film above (common practice). "
    r"It describes the unworn bodies. For the worn, conformal scar no film is computed: the formula doesn't "
    r"hold there, and the measured film pressure takes its place. "
)
_HEAT = (
    r"Heat: friction power $\mu F v$; flash temperature of a uniform source as large as the scar, at rest on "
    r"the body that wears and moving over the other (Jaeger, 1942), heat shared for equal maximum "
    r"temperatures (Blok, 1937). Where no trace gives the friction coefficient, a range of common practice "
    r"is carried through, never one assumed number."
)


def method_note(section: str, rig: Rig) -> Markup:
    """Tell the method of a section, as far as it depends on the rig's geometry."""
    if section not in _NOTES:
        raise ValueError(f"section must be one of {', '.join(_NOTES)}; got {section!r}")
    text = _NOTES[section](rig)
    lead = f"<p>{_lead(rig)}</p>\n" if section == "tested" else ""
    # The texts are this module's own, so they may hold markup.
    return Markup(lead + (f'<p class="method">{replace_formulas(text)}</p>' if text else ""))


def _lead(rig: Rig) -> str:
    reading = "The scar is read under a microscope. A small scar means a strong film."
    return _BENCH[rig.geometry] + reading


def _tested(rig: Rig) -> str:
    diameter = "the track's diameter" if rig.geometry == "ball-on-disc" else "the ring's diameter"
    return (
        r"Load from weights $m$, hanger $m_0$ and lever ratio $i$: $F = g\,(m + m_0)\,i$ with $g = 9.80665$ "
        rf"m/s². Sliding speed $v = \pi D n$ with {diameter} $D$, sliding distance $s = v t$. Runs whose "
        r"loads agree within 0.5 % form one load level."
    )


def _film(rig: Rig) -> str:
    return (
        f"{_AREA[rig.geometry]} If wear had stopped in the final load step, the final mean pressure is the "
        "film pressure; if it was still running, or was not judged, the film carries less than that, and the "
        "run is a left-censored value. Estimates are geometric means with Student $t$ intervals on "
        "logarithms; with censored runs the median by log-normal maximum likelihood with likelihood "
        "intervals (Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7 and 8) that "
        "are calibrated to Student's $t$ and by simulation, so that they hold for few runs. Where every run "
        "is censored, only a bound is given: the median lies below the largest final pressure with "
        "confidence $1 - 0.5^n$ (sign test). All assume that runs are "
        "independent and that logarithms are normally distributed."
    )


def _contact(rig: Rig) -> str:
    text = _CONTACT[rig.geometry]
    if rig.geometry == "crossed-cylinders" and abs(rig.crossing_angle - 0.5 * math.pi) > _RIGHT_ANGLE:
        text = _POINT + _OBLIQUE
    if rig.geometry == "block-on-ring" and rig.ring_groove_depth:
        text = text.replace("the ring's diameter $D$", "the diameter $D$ of the ring's worn track")
    return text + "wear coefficient $k = V / (F s)$, where $F s$ is summed over the load steps."


def _growth(rig: Rig) -> str:
    return _GROWTH if rig.geometry == "crossed-cylinders" else ""


def _surround(rig: Rig) -> str:
    return _HEAT if surroundings.why_no_film(rig) else _FILM + _HEAT


def _spread(rig: Rig) -> str:
    pressure = r"p = F / (b\,t)" if rig.geometry == "block-on-ring" else r"p = 4 F / (\pi L W)"
    return (
        r"Spread: relative standard deviation between runs, $\sqrt{e^{s^2} - 1}$ from the standard deviation "
        r"$s$ of the logarithms. Uncertainty of one measurement: stated uncertainties of load and reading "
        rf"carried through ${pressure}$ (JCGM 100:2008, GUM, section 5). The spread contains the reading "
        "error of each run, but no error that all runs share, such as a wrong lever ratio. The next run: "
        r"$\exp(\bar y \pm t_{n-1}\,s\sqrt{1 + 1/n})$ with the mean $\bar y$ of the logarithms. Most runs: "
        r"$\exp(\bar y \pm k\,s)$ with the exact two-sided factor $k$ (ISO 16269-6; Hahn and Meeker, "
        "Statistical Intervals, 1991, sections 4.6 and 4.7). Assumed: normal logarithms and independent "
        "runs; where days or rings differ, both intervals are too narrow."
    )


_NOTES: Mapping[str, Callable[[Rig], str]] = MappingProxyType(
    {
        "tested": _tested,
        "film": _film,
        "contact": _contact,
        "growth": _growth,
        "surround": _surround,
        "spread": _spread,
    }
)

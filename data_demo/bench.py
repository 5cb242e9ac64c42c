"""The invented bench behind the demo campaigns: what a run leaves when the truth about the oil is known.

Nothing here was measured. An oil is a film pressure and a wear coefficient; a run follows the wear-arrest
model of `pinscar.contact.arrest` on the true shape of the scar; the numbers are then read with an error
and rounded as a technician would round them. Everything random is drawn from the Generator that is handed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pinscar.contact.arrest import worn_depth_exact
from pinscar.contact.geometry import CrossedCylinders

PIN_RADIUS = 6e-3
RING_RADIUS = 20e-3
BODIES = CrossedCylinders(PIN_RADIUS, RING_RADIUS)
SPEED = np.pi * 2 * RING_RADIUS * 700 / 60
READING_ERROR = 0.03e-3
#: The share of its final area at which the ear takes the rubbing noise to have stopped.
QUIET_SHARE = 0.97
REFERENCE_LOAD = 450.0


@dataclass(frozen=True)
class Oil:
    """The truth about one invented oil, in SI units, at 450 N.

    Parameters
    ----------
    film_pressure : float
        Pressure that the film carries at 450 N [Pa].
    film_loss : float
        Relative loss of film pressure for each newton above 450 N [1/N]; the hotter contact carries less.
    wear_coefficient : float
        Wear while metal still rubs [m^2/N].
    fling : float
        Typical mass thrown off the ring in a minute [kg].
    drips : float
        Mean number of drips in a run.
    friction : float
        Friction coefficient on the film.
    smokes_early : float
        How much sooner than an ordinary oil it smokes, as a temperature [K].
    """

    film_pressure: float
    film_loss: float
    wear_coefficient: float
    fling: float
    drips: float
    friction: float
    smokes_early: float = 0.0

    def film_pressure_at(self, load: float) -> float:
        """Film pressure at a load [Pa]."""
        return self.film_pressure * (1.0 - self.film_loss * (load - REFERENCE_LOAD))


@dataclass(frozen=True)
class Scatter:
    """Standard deviations of the natural logarithms between runs of one oil at one load on one day."""

    film_run: float = 0.085
    wear_run: float = 0.15
    fling_run: float = 0.16
    heat_run: float = 0.06


@dataclass(frozen=True)
class Scar:
    """What a run leaves: true axes, when the noise stopped (None: it did not), share of its final area."""

    length: float
    width: float
    quiet_time: float | None
    share: float


def run_scar(
    film_pressure: float, wear_coefficient: float, steps: Sequence[tuple[float, float]], duration: float
) -> Scar:
    """Let a pin wear until the film carries the load, or until the time is up.

    Parameters
    ----------
    film_pressure : float
        Pressure that the film carries in this run [Pa].
    wear_coefficient : float
        Wear coefficient of this run [m^2/N].
    steps : sequence of (float, float)
        Start [s] and load [N] of each load step, the first at 0 s.
    duration : float
        Length of the run [s].
    """
    starts, loads = (list(column) for column in zip(*steps, strict=True))
    times = np.linspace(starts[-1], duration, 2001)
    depths = worn_depth_exact(times, starts, loads, SPEED, wear_coefficient, film_pressure, BODIES)
    share = film_pressure * BODIES.area_at_depth(depths) / loads[-1]
    quiet = float(np.interp(QUIET_SHARE, share, times)) if share[-1] > QUIET_SHARE else None
    length = float(BODIES.scar_length(depths[-1]))
    return Scar(length, float(BODIES.implied_width(length)), quiet, float(share[-1]))


def rubbing_share(
    film_pressure: float, wear_coefficient: float, steps: Sequence[tuple[float, float]], times: np.ndarray
) -> np.ndarray:
    """The share of the load that metal carries at each time: all of it at first, none once the film does."""
    starts, loads = (list(column) for column in zip(*steps, strict=True))
    depths = worn_depth_exact(times, starts, loads, SPEED, wear_coefficient, film_pressure, BODIES)
    load = np.asarray(loads)[np.searchsorted(starts, times, side="right") - 1]
    return np.clip(1.0 - film_pressure * BODIES.area_at_depth(depths) / load, 0.0, 1.0)


def read_axis(rng: np.random.Generator, true_value: float) -> float:
    """One reading of one axis of a scar [m], with the reading error of the bench."""
    return true_value + READING_ERROR * rng.standard_normal()


def judged(rng: np.random.Generator, scar: Scar, duration: float) -> tuple[str, str]:
    """What the technician enters for wear_stopped and quiet_time; a "yes" mostly comes with a time."""
    if scar.quiet_time is None:
        return ("" if scar.share > 0.94 and rng.random() < 0.5 else "no", "")
    heard = min(round(scar.quiet_time + 0.8 * rng.standard_normal()), round(duration))
    if scar.quiet_time > 0.93 * duration and rng.random() < 0.4:
        return "", ""
    if rng.random() < 0.12:
        return "", str(heard)
    return "yes", str(heard) if rng.random() < 0.8 else ""


def heat(
    rng: np.random.Generator, oil: Oil, scar: Scar, load: float, duration: float, spread: float
) -> float:
    """Rise of the pin holder's temperature [K] by friction, of which there is more while metal rubs."""
    rubbing = duration if scar.quiet_time is None else scar.quiet_time
    energy = load * SPEED * (oil.friction * duration + 0.06 * rubbing)
    return energy / 170.0 * float(np.exp(spread * rng.standard_normal()))


def smoke(rng: np.random.Generator, oil: Oil, rise: float) -> str:
    """Smoke as the technician notes it; it comes with heat."""
    level = rise + oil.smokes_early + 4 * rng.standard_normal()
    return "heavy" if level > 62 else "light" if level > 46 else "none"


def millimetres(metres: float) -> str:
    """Text of a length in mm, to the 0.01 mm that the microscope's readout shows."""
    return f"{metres * 1e3:.2f}"

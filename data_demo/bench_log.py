"""The log of the invented bench: from a planned run to the row that the technician writes."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from bench import REFERENCE_LOAD, Oil, Scatter, heat, judged, millimetres, read_axis, run_scar, smoke

#: Plates for 450 N and 600 N: with the 0.8 kg hanger and the 10:1 lever they give 450.1 and 600.2 N.
WEIGHTS = {450: 3.79, 600: 5.32}
#: What a technician notes of an ordinary run: mostly nothing.
ORDINARY_NOTES = ("squeal at start", "loud rubbing first 10 s", "", "", "", "", "", "")


@dataclass(frozen=True)
class Planned:
    """One run as planned, with whatever is going to happen to it.

    `film_effect` and `wear_effect` are what day, ring, laboratory or month add to the logarithms of the oil's
    film pressure and wear coefficient; `spread` multiplies the scatter between runs.
    """

    lubricant: str
    load: int
    at: datetime
    ring: str
    operator: str = "op1"
    pin_lot: str = "P-114"
    pin_state: str = "new"
    duration: float = 60.0
    steps: tuple[tuple[float, int], ...] = ()
    dose: float = 2.0
    shaken: str = "yes"
    read_blind: str = "yes"
    tilt: float = 1.0
    width_readable: bool = True
    noise_heard: bool = True
    thermocouple_on: bool = True
    excluded: str = ""
    note: str = ""
    ambient: float = 21.0
    film_effect: float = 0.0
    wear_effect: float = 0.0
    spread: float = 1.0


def newtons(load: int) -> float:
    """The load that the plates for a nominal load really give [N]."""
    return 9.80665 * (WEIGHTS[load] + 0.8) * 10


def changed(plan: list[Planned], lubricant: str, load: int, nth: int, **what: object) -> None:
    """Change the n-th run of a cell, counted from 0."""
    index = [i for i, run in enumerate(plan) if (run.lubricant, run.load) == (lubricant, load)][nth]
    plan[index] = replace(plan[index], **what)


@dataclass(frozen=True)
class Truth:
    """What a run is in truth: film pressure [Pa] and wear coefficient [m^2/N] of this pin, load steps."""

    film_pressure: float
    wear_coefficient: float
    steps: list[tuple[float, float]]


def draw_truth(rng: np.random.Generator, run: Planned, oil: Oil, scatter: Scatter) -> Truth:
    """Draw what this pin does to the oil."""
    steps = [(start, newtons(load)) for start, load in run.steps] or [(0.0, newtons(run.load))]
    film = run.film_effect + run.spread * scatter.film_run * rng.standard_normal()
    wear = run.wear_effect + run.spread * scatter.wear_run * rng.standard_normal()
    film_pressure = oil.film_pressure_at(newtons(run.load)) * float(np.exp(film))
    return Truth(film_pressure, oil.wear_coefficient * float(np.exp(wear)), steps)


def run_row(
    rng: np.random.Generator, run_id: str, run: Planned, oil: Oil, scatter: Scatter
) -> dict[str, str]:
    """Make one run: draw what this pin does to the oil, let it wear, read the scar, write it down."""
    return written_row(rng, run_id, run, oil, scatter, draw_truth(rng, run, oil, scatter))


def written_row(
    rng: np.random.Generator, run_id: str, run: Planned, oil: Oil, scatter: Scatter, truth: Truth
) -> dict[str, str]:
    """Let one pin wear, read the scar, write it down."""
    scar = run_scar(truth.film_pressure, truth.wear_coefficient, truth.steps, run.duration)
    stopped, quiet = judged(rng, scar, run.duration)
    rise = heat(rng, oil, scar, newtons(run.load), run.duration, scatter.heat_run)
    ambient = run.ambient + 0.2 * rng.standard_normal()
    fling = oil.fling * (run.load / REFERENCE_LOAD) ** 0.5 * np.exp(scatter.fling_run * rng.standard_normal())
    width = read_axis(rng, scar.width * np.exp(0.012 * rng.standard_normal())) * run.tilt
    ordinary = str(rng.choice(ORDINARY_NOTES))
    return {
        "run_id": run_id,
        "run_at": f"{run.at:%Y-%m-%dT%H:%M}",
        "operator": run.operator,
        "lubricant": run.lubricant,
        "weights [kg]": f"{WEIGHTS[run.load]:.2f}",
        "duration [s]": f"{run.duration:.0f}",
        "ring_id": run.ring,
        "pin_lot": run.pin_lot,
        "pin_state": run.pin_state,
        "dose [mL]": f"{run.dose:.1f}",
        "shaken": run.shaken,
        "ambient_temperature [degC]": f"{ambient:.1f}",
        "peak_temperature [degC]": f"{ambient + rise:.0f}" if run.thermocouple_on else "",
        "wear_stopped": stopped if run.noise_heard else "",
        "quiet_time [s]": quiet if run.noise_heard else "",
        "smoke": smoke(rng, oil, rise),
        "drips": str(rng.poisson(oil.drips)),
        "fling_mass [mg]": f"{fling * 1e6:.0f}",
        "scar_length [mm]": millimetres(read_axis(rng, scar.length)),
        "scar_width [mm]": millimetres(width) if run.width_readable else "",
        "read_blind": run.read_blind,
        "excluded": run.excluded,
        "note": run.note or ordinary,
    }


def without(rows: Sequence[Mapping[str, str]], *columns: str) -> list[dict[str, str]]:
    """The rows without some columns: not every lab writes down everything."""
    return [{name: text for name, text in row.items() if name not in columns} for row in rows]


def load_step_rows(plan: Sequence[Planned], run_ids: Sequence[str]) -> list[dict[str, str]]:
    """Rows of load_steps.csv for the runs in which the load was raised while running."""
    return [
        {"run_id": run_id, "start [s]": f"{start:.0f}", "load [N]": f"{newtons(load):.1f}"}
        for run_id, run in zip(run_ids, plan, strict=True)
        for start, load in run.steps
    ]


def table(rows: Sequence[Mapping[str, str]]) -> str:
    """The rows as CSV text; the columns are those of the first row."""
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()

"""Demo campaign conveyor-07: may C-21 replace R-10 on the oven line? Invented data, drawn from a known truth.

Four oils at two loads, six runs a cell planned, over three days. The truth in `OILS` makes C-21 leave a scar
about 40 % smaller than R-10, carry a film pressure close to the limit of 120 MPa, and fling more than it may:
eight seeds were tried, and with each of them one criterion at least was met, one not met and one undecided.
This seed was taken because it leaves runs that were still wearing in most cells.

What an audit should find, put in on purpose: pins of a reground lot in some runs; C-22 run mostly on one
ring, and last on the third day; scars read that day by someone who knew the oil; one run that went on for
75 s; one with 3 mL of oil; one from a can that was not shaken; one scar off its geometry; two runs in which
the load was raised while running; one cell a run short.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from bench import REFERENCE_LOAD, Oil, Scatter, heat, judged, millimetres, read_axis, run_scar, smoke, table

SEED = 4
OILS = {
    "R-10": Oil(74e6, 3.0e-4, 5.4e-14, 18e-6, 1.2, 0.085),
    "C-21": Oil(124e6, 3.0e-4, 2.6e-14, 34e-6, 2.4, 0.080),
    "C-22": Oil(78e6, 3.0e-4, 5.0e-14, 20e-6, 1.0, 0.085),
    "B-05": Oil(24e6, 1.8e-3, 3.4e-13, 26e-6, 1.8, 0.105),
}
SCATTER = Scatter()
#: Plates for 450 N and 600 N: with the 0.8 kg hanger and the 10:1 lever they give 450.1 and 600.2 N.
WEIGHTS = {450: 3.79, 600: 5.32}
DAYS = ("2026-04-14", "2026-04-15", "2026-04-16")
RINGS = ("G-31", "G-32", "G-33")
RING_EFFECT = {"G-31": 0.01, "G-32": 0.0, "G-33": -0.02}
RUNS_A_DAY = 2

CAMPAIGN_TOML = """\
# Invented data: a demo of the folder format. No such oils, rig or line exist; see data_demo/make_demo.py.

[campaign]
id = "conveyor-07"
title = "Conveyor-chain oils, campaign 7 (invented demo data)"
question = "May C-21 replace R-10 on the oven line?"
reference = "R-10"
confidence = 0.95
block = "run_day"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_width = "14 mm"
crossing_angle = "90 deg"
ring_speed = "700 rpm"
lever_ratio = 10.0
hanger_mass = "0.8 kg"           # 3.79 kg of plates: 450 N; 5.32 kg: 600 N
load_uncertainty = "1 %"         # spring balance on the pin holder, 2026-02
reading_uncertainty = "0.03 mm"

[rig.pin]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.20 um"

[rig.ring]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "8.0 GPa"
roughness_rq = "0.15 um"

[[lubricants]]
id = "R-10"
role = "reference"
kinematic_viscosity_40 = "68 mm^2/s"
kinematic_viscosity_100 = "9.1 mm^2/s"
density_15 = "872 kg/m^3"

[[lubricants]]
id = "C-21"
role = "candidate"
kinematic_viscosity_40 = "61.5 mm^2/s"
kinematic_viscosity_100 = "9.4 mm^2/s"
density_15 = "914 kg/m^3"

[[lubricants]]
id = "C-22"
role = "candidate"
kinematic_viscosity_40 = "70 mm^2/s"
kinematic_viscosity_100 = "9.3 mm^2/s"
density_15 = "870 kg/m^3"

[[lubricants]]
id = "B-05"
role = "benchmark"
kinematic_viscosity_40 = "46 mm^2/s"
kinematic_viscosity_100 = "6.8 mm^2/s"
density_15 = "861 kg/m^3"

[[criteria]]
id = "film-450"
response = "film_pressure"
lubricant = "C-21"
load = "450 N"
rule = "at least"
limit = "120 MPa"

[[criteria]]
id = "scar-450"
response = "scar_area"
lubricant = "C-21"
load = "450 N"
rule = "ratio at most"
limit = 0.8

[[criteria]]
id = "scar-600"
response = "scar_area"
lubricant = "C-21"
load = "600 N"
rule = "not worse than"
margin = "10 %"

[[criteria]]
id = "heat-600"
response = "temperature_rise"
lubricant = "C-21"
load = "600 N"
rule = "at most"
limit = "50 K"

[[criteria]]
id = "fling-450"
response = "fling_mass"
lubricant = "C-21"
load = "450 N"
rule = "at most"
limit = "25 mg"

[service]                        # oven conveyor, half-inch chain, hottest stretch
chain_pitch = "12.7 mm"
pin_diameter = "4.45 mm"
bush_length = "11.3 mm"
sprocket_teeth = 19
sprocket_speed = "120 rpm"
chain_tension = "900 N"
"""

#: What a technician notes of an ordinary run: mostly nothing.
_RUBBING = ("squeal at start", "loud rubbing first 10 s", "", "", "", "", "", "")


def _plan(rng: np.random.Generator) -> list[dict[str, object]]:
    """Every run in the order it is made, with its day, ring and time."""
    plan = []
    for day_index, day in enumerate(DAYS):
        cells = [(oil, load) for oil in OILS for load in WEIGHTS for _ in range(RUNS_A_DAY)]
        rng.shuffle(cells)
        if day_index == 2:
            cells = [c for c in cells if c[0] != "C-22"] + [c for c in cells if c[0] == "C-22"]
            cells.remove(("B-05", 600))
        clock = datetime.fromisoformat(f"{day}T08:05") + timedelta(minutes=int(rng.integers(0, 20)))
        rings = [str(r) for r in rng.permutation(np.tile(RINGS, 6)[: len(cells)])]
        for number, ((oil, load), ring) in enumerate(zip(cells, rings, strict=True)):
            if oil == "C-22" and rng.random() < 0.8:
                ring = "G-33"
            plan.append({"oil": oil, "load": load, "day": day_index, "ring": ring, "at": clock})
            clock += timedelta(minutes=int(rng.integers(11, 17)) + (40 if number == 8 else 0))
    return plan


def _nth(plan: list[dict[str, object]], oil: str, load: int, n: int) -> dict[str, object]:
    """The n-th run of a cell, counted from 0."""
    return [run for run in plan if run["oil"] == oil and run["load"] == load][n]


def _mark_what_happened(plan: list[dict[str, object]]) -> None:
    """Put in what goes wrong in a lab: each of these is something for the audit to find."""
    for oil, load, n in (("R-10", 600, 2), ("R-10", 600, 3), ("B-05", 600, 2), ("B-05", 450, 3)):
        _nth(plan, oil, load, n).update(reground=True, note="reground pin, new lot not in yet")
    _nth(plan, "B-05", 450, 4).update(duration=75.0, note="timer missed, stopped by hand at 75 s")
    _nth(plan, "C-22", 600, 4).update(dose=3.0, note="syringe overfilled")
    _nth(plan, "C-22", 450, 4).update(tilt=0.79, note="oval lopsided, pin not square in holder?")
    _nth(plan, "C-22", 450, 1).update(shaken="no", note="can not shaken")
    _nth(plan, "C-22", 600, 3).update(steps=[(0.0, 450), (20.0, 600)], note="450 first, plate added at 20 s")
    _nth(plan, "B-05", 600, 3).update(
        steps=[(0.0, 450), (15.0, 600)], note="started at 450 by mistake, raised at 15 s"
    )
    _nth(plan, "C-22", 600, 1).update(
        excluded="hanger touched the frame in the first seconds, load not known",
        note="grinding noise at start",
    )
    _nth(plan, "C-21", 600, 4).update(no_width=True, note="side edges washed out, width not readable")
    _nth(plan, "R-10", 450, 3).update(note="phone rang, noise end not heard", deaf=True)
    _nth(plan, "C-21", 450, 4).update(note="thermocouple loose, no peak", no_heat=True)


def _run(rng: np.random.Generator, number: int, plan: dict[str, object], day: dict[str, np.ndarray]) -> dict:
    """Make one run: draw what this pin and this day do to the oil, wear, read, write down."""
    oil, load, day_index = OILS[plan["oil"]], plan["load"], plan["day"]
    duration = plan.get("duration", 60.0)
    newtons = {name: 9.80665 * (plates + 0.8) * 10 for name, plates in WEIGHTS.items()}
    steps = [(start, newtons[step]) for start, step in plan.get("steps", [(0.0, load)])]
    film = oil.film_pressure_at(newtons[load]) * np.exp(
        day["film"][day_index] + RING_EFFECT[plan["ring"]] + SCATTER.film_run * rng.standard_normal()
    )
    wear = oil.wear_coefficient * np.exp(
        day["wear"][day_index]
        + SCATTER.wear_run * rng.standard_normal()
        + (0.15 if plan.get("reground") else 0.0)
    )
    scar = run_scar(film, wear, steps, duration)
    stopped, quiet = judged(rng, scar, duration)
    rise = heat(rng, oil, scar, newtons[load], duration, SCATTER.heat_run)
    ambient = 20.6 + 0.4 * day_index + 0.35 * (plan["at"].hour - 8) + 0.2 * rng.standard_normal()
    fling = oil.fling * (load / REFERENCE_LOAD) ** 0.5 * np.exp(SCATTER.fling_run * rng.standard_normal())
    width = read_axis(rng, scar.width * np.exp(0.012 * rng.standard_normal())) * plan.get("tilt", 1.0)
    note = plan.get("note") or str(rng.choice(_RUBBING))
    return {
        "run_id": f"07-{number:02d}",
        "run_at": f"{plan['at']:%Y-%m-%dT%H:%M}",
        "operator": "op1" if day_index < 2 else "op2",
        "lubricant": plan["oil"],
        "weights [kg]": f"{WEIGHTS[load]:.2f}",
        "duration [s]": f"{duration:.0f}",
        "ring_id": plan["ring"],
        "pin_lot": "P-109" if plan.get("reground") else "P-115" if day_index == 2 else "P-114",
        "pin_state": "reground" if plan.get("reground") else "new",
        "dose [mL]": f"{plan.get('dose', 2.0):.1f}",
        "shaken": plan.get("shaken", "yes"),
        "ambient_temperature [degC]": f"{ambient:.1f}",
        "peak_temperature [degC]": "" if plan.get("no_heat") else f"{ambient + rise:.0f}",
        "wear_stopped": "" if plan.get("deaf") else stopped,
        "quiet_time [s]": "" if plan.get("deaf") else quiet,
        "smoke": smoke(rng, rise),
        "drips": str(rng.poisson(oil.drips)),
        "fling_mass [mg]": f"{fling * 1e6:.0f}",
        "scar_length [mm]": millimetres(read_axis(rng, scar.length)),
        "scar_width [mm]": "" if plan.get("no_width") else millimetres(width),
        "read_blind": "no" if day_index == 2 else "yes",
        "excluded": plan.get("excluded", ""),
        "note": note,
    }


def _readings(rng: np.random.Generator, rows: list[dict]) -> list[dict]:
    """Two readers read six of the scars twice; the operator's first reading is the one in runs.csv."""
    readable = [row for row in rows if row["scar_width [mm]"] and not row["excluded"]]
    chosen = sorted(rng.choice(len(readable), size=6, replace=False))
    bias = {"op1": 0.0, "op2": 0.02e-3}
    readings = []
    for row in (readable[i] for i in chosen):
        true = [float(row[f"scar_{axis} [mm]"]) * 1e-3 for axis in ("length", "width")]
        for reader in ("op1", "op2"):
            for reading in (1, 2):
                first = reader == row["operator"] and reading == 1
                values = true if first else [read_axis(rng, axis + bias[reader]) for axis in true]
                readings.append(
                    {
                        "run_id": row["run_id"],
                        "reader": reader,
                        "reading": str(reading),
                        "scar_length [mm]": millimetres(values[0]),
                        "scar_width [mm]": millimetres(values[1]),
                    }
                )
    return readings


def _load_steps(plan: list[dict[str, object]]) -> list[dict]:
    """The runs in which the load was raised while running."""
    newtons = {name: 9.80665 * (plates + 0.8) * 10 for name, plates in WEIGHTS.items()}
    return [
        {"run_id": f"07-{number:02d}", "start [s]": f"{start:.0f}", "load [N]": f"{newtons[load]:.1f}"}
        for number, run in enumerate(plan, start=1)
        for start, load in run.get("steps", [])
    ]


def files() -> dict[str, str]:
    """Text of every file of the campaign, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    plan = _plan(rng)
    _mark_what_happened(plan)
    day = {
        "film": SCATTER.film_day * rng.standard_normal(len(DAYS)),
        "wear": SCATTER.wear_day * rng.standard_normal(len(DAYS)),
    }
    rows = [_run(rng, number, run, day) for number, run in enumerate(plan, start=1)]
    return {
        "conveyor_07/campaign.toml": CAMPAIGN_TOML,
        "conveyor_07/runs.csv": table(rows),
        "conveyor_07/load_steps.csv": table(_load_steps(plan)),
        "conveyor_07/readings.csv": table(_readings(rng, rows)),
    }

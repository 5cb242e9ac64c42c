"""Demo campaign conveyor-07: may C-21 replace R-10 on the oven line? Invented data, drawn from a known truth.

Four oils at two loads, six runs per cell planned, over three days. The truth in oils.py makes C-21 leave a
scar about 40 % smaller than R-10, carry a film pressure close to the limit of 120 MPa, and fling more than
allowed. Ten seeds were tried; with six of them the criteria show a met, a not met and an undecided one.
This is one of the six.

What an audit should find, put in on purpose: B-05 stopped early at 600 N because it smoked; pins of a
reground lot in some runs; C-22 run mostly on one ring, and last on the third day; scars read that day by
someone who knew the oil; one run that went on for 75 s; one with 3 mL of oil; one from a can that was not
shaken; one scar off its geometry; two runs in which the load was raised while running; one cell with one run
less.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from bench_log import WEIGHTS, Planned, changed, draw_truth, load_step_rows, table, written_row
from bench_sound import recording
from bench_trace import trace_rows
from demo_fling import CARD, fling_cards
from demo_micrographs import SCALE_UM, micrographs
from oils import OILS, SCATTER
from rig_text import CONVEYOR_CHAIN, campaign_text, lubricants_text

from bench import millimetres, read_axis

SEED = 10
ROLES = {"R-10": "reference", "C-21": "candidate", "C-22": "candidate", "B-05": "benchmark"}
DAYS = ("2026-04-14", "2026-04-15", "2026-04-16")
DAY_SPREAD = {"film": 0.035, "wear": 0.05}
RINGS = {"G-31": 0.01, "G-32": 0.0, "G-33": -0.02}
RUNS_A_DAY = 2
#: Runs that the recorder was on for; in c07-32 the load was raised while running.
TRACED = ("c07-01", "c07-06", "c07-17", "c07-23", "c07-32", "c07-37")
#: Runs that were recorded, and what happened; in c07-23 the recorder was started 8 s late, at a
#: gain 3 dB above its usual 20 dB.
RECORDED: dict[str, dict[str, float]] = {
    "c07-01": {},
    "c07-06": {},
    "c07-12": {},
    "c07-17": {"squeal": 3.0},
    "c07-23": {"late": 8.0, "gain": 3.0},
    "c07-31": {"telephone": 38.0},
}

CRITERIA = """\
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
"""

CLAIMS = """\
[[claims]]                       # what marketing would like to print
subject = "C-21"
response = "scar_area"
direction = "lower"
against = "R-10"
load = "450 N"
percentage = "25 %"

[[claims]]
subject = "C-22"
response = "scar_area"
direction = "lower"
against = "R-10"
load = "450 N"

[[claims]]
subject = "C-21"
response = "scar_area"
direction = "lower"
against = "B-05"
load = "600 N"
"""


#: What a laboratory would print about itself and its customer; no such laboratory or customer exists.
REPORT = """\
[report]                         # the head and the statements of a test report; all of it is invented
laboratory = "Example Bench Laboratory (invented)"
address = ["12 Mill Lane", "00000 Exampletown"]
place = "at the laboratory, bench 2"
logo = "logo.svg"
customer = ["Example Conveyors (invented)", "3 Oven Road, Exampletown"]
order = "PO 4711"
number = "2026-014"
revision = 2
replaces = "2026-014, revision 1"
reason = "run c07-10 is excluded"
issued = 2026-04-24              # typed, never the clock
author = "A. Author, test engineer"
approver = "B. Approver, head of laboratory"
method = { document = "Bench instruction BI-12", edition = "edition 3" }
deviations = ["two runs had their load raised while running", "B-05 was stopped at 40 s at 600 N"]
environment = "relative humidity 45 to 55 %"
sampling = "by the customer"
supplied_by_customer = ["viscosities and densities of all oils"]
external = []
opinions = ["Less fling is worth another blend before C-21 goes to the line."]
"""

SAMPLES = {
    name: f'description = "chain oil, 1 L can", batch = "{batch}", condition = "sealed, clear", '
    "taken = 2026-04-07, received = 2026-04-09"
    for name, batch in {"R-10": "24-0117", "C-21": "26-0402", "C-22": "26-0405", "B-05": "25-1130"}.items()
}

LOGO = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 150 60">
<circle cx="32" cy="30" r="28" fill="#46525e"/>
<circle cx="32" cy="30" r="11" fill="#ffffff"/>
<rect x="64" y="21" width="82" height="18" rx="9" fill="#46525e"/>
</svg>
"""


def campaign_toml() -> str:
    """Text of campaign.toml."""
    head = campaign_text(
        "conveyor-07",
        "Conveyor-chain oils, campaign 7",
        "May C-21 replace R-10 on the oven line?",
        about=(
            "Four oils, two loads, three days. load_steps.csv: two runs whose load was raised while running;",
            "readings.csv: six scars read again by two readers; traces/: six runs with the recorder on;",
            "sound/: six recordings, one started late and at another gain; fling/: six cards, one blurred;",
            "fling areas measured by hand in ten runs, and left to pinscar gather in two.",
        ),
        fling_card=CARD,
    )
    return "\n".join([head, lubricants_text(ROLES, SAMPLES), CRITERIA, CLAIMS, CONVEYOR_CHAIN, REPORT])


def _day(rng: np.random.Generator, index: int) -> list[Planned]:
    """The runs of a day in their order; on the last day it was not quite random, and a sample ran out."""
    cells = [(oil, load) for oil in ROLES for load in WEIGHTS for _ in range(RUNS_A_DAY)]
    rng.shuffle(cells)
    if index == 2:
        cells.sort(key=lambda cell: cell[0] == "C-22")
        cells.remove(("B-05", 600))
    film, wear = (DAY_SPREAD[name] * rng.standard_normal() for name in ("film", "wear"))
    clock = datetime.fromisoformat(f"{DAYS[index]}T08:05") + timedelta(minutes=int(rng.integers(0, 20)))
    rings = rng.permutation(np.tile(list(RINGS), 6)[: len(cells)])
    runs = []
    for number, ((oil, load), drawn) in enumerate(zip(cells, rings, strict=True)):
        ring = "G-33" if oil == "C-22" and rng.random() < 0.8 else str(drawn)
        runs.append(
            Planned(
                oil,
                load,
                clock,
                ring,
                operator="op2" if index == 2 else "op1",
                pin_lot="P-115" if index == 2 else "P-114",
                read_blind="no" if index == 2 else "yes",
                duration=40.0 if (oil, load) == ("B-05", 600) else 60.0,
                ambient=20.6 + 0.4 * index + 0.35 * (clock.hour - 8),
                film_effect=film + RINGS[ring],
                wear_effect=wear,
            )
        )
        clock += timedelta(minutes=int(rng.integers(11, 17)) + (40 if number == 8 else 0))
    return runs


def _let_things_happen(plan: list[Planned]) -> None:
    """Put in what goes wrong in a lab: each of these is something for the audit to find."""
    changed(plan, "B-05", 600, 0, note="heavy smoke, stopped at 40 s; same for the rest of B-05 at 600")
    for oil, load, n in (("R-10", 600, 2), ("R-10", 600, 3), ("B-05", 600, 2), ("B-05", 450, 3)):
        reground = {"pin_lot": "P-109", "pin_state": "reground", "wear_effect": 0.15}
        changed(plan, oil, load, n, note="reground pin, new lot not in yet", **reground)
    changed(plan, "B-05", 450, 4, duration=75.0, note="timer missed, stopped by hand at 75 s")
    changed(plan, "C-22", 600, 4, dose=3.0, note="syringe overfilled")
    changed(plan, "C-22", 450, 4, tilt=0.79, note="oval lopsided, pin not square in holder?")
    changed(plan, "C-22", 450, 1, shaken="no", note="can not shaken")
    changed(plan, "C-22", 600, 3, steps=((0.0, 450), (20.0, 600)), note="450 first, plate added at 20 s")
    mistake = "started at 450 by mistake, raised at 15 s"
    changed(plan, "B-05", 600, 3, steps=((0.0, 450), (15.0, 600)), note=mistake)
    reason = "hanger touched the frame in the first seconds, load not known"
    changed(plan, "C-22", 600, 1, excluded=reason, note="grinding noise at start")
    changed(plan, "C-21", 600, 4, width_readable=False, note="side edges washed out, width not readable")
    changed(plan, "R-10", 450, 3, noise_heard=False, note="phone rang, noise end not heard")
    changed(plan, "C-21", 450, 4, thermocouple_on=False, note="thermocouple loose, no peak")


def _readings(rng: np.random.Generator, rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Two readers read six of the scars twice; the operator's first reading is the one in runs.csv."""
    readable = [row for row in rows if row["scar_width [mm]"] and not row["excluded"]]
    chosen = sorted(rng.choice(len(readable), size=6, replace=False))
    bias = {"op1": 0.0, "op2": 0.02e-3}
    readings = []
    for row in (readable[i] for i in chosen):
        written = [float(row[f"scar_{axis} [mm]"]) * 1e-3 for axis in ("length", "width")]
        for reader in bias:
            for reading in ("1", "2"):
                first = (reader, reading) == (row["operator"], "1")
                values = written if first else [read_axis(rng, axis + bias[reader]) for axis in written]
                readings.append(
                    {
                        "run_id": row["run_id"],
                        "reader": reader,
                        "reading": reading,
                        "scar_length [mm]": millimetres(values[0]),
                        "scar_width [mm]": millimetres(values[1]),
                    }
                )
    return readings


def files() -> dict[str, str | bytes]:
    """Content of every file of the campaign, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    plan = [run for index in range(len(DAYS)) for run in _day(rng, index)]
    _let_things_happen(plan)
    run_ids = [f"c07-{number:02d}" for number in range(1, len(plan) + 1)]
    rows, truths = [], {}
    for name, run in zip(run_ids, plan, strict=True):
        truths[name] = draw_truth(rng, run, OILS[run.lubricant], SCATTER)
        rows.append(written_row(rng, name, run, OILS[run.lubricant], SCATTER, truths[name]))
    readings = _readings(rng, rows)
    by_name = {row["run_id"]: row for row in rows}
    pictures = micrographs(by_name)
    for name, row in by_name.items():
        row["micrograph_scale [um/px]"] = f"{SCALE_UM:.1f}" if name in pictures else ""
        row["sound_gain"] = f"{20 + RECORDED[name].get('gain', 0):.0f} dB" if name in RECORDED else ""
    cards, by_hand = fling_cards(by_name)
    for name, row in by_name.items():
        row["fling_area [mm^2]"] = by_hand.get(name, "")
    return {
        "conveyor_07/campaign.toml": campaign_toml(),
        "conveyor_07/logo.svg": LOGO,
        "conveyor_07/runs.csv": table(rows),
        "conveyor_07/load_steps.csv": table(load_step_rows(plan, run_ids)),
        "conveyor_07/readings.csv": table(readings),
        **{
            f"conveyor_07/traces/{name}.csv": table(
                trace_rows(rng, by_name[name], truths[name], OILS[by_name[name]["lubricant"]])
            )
            for name in TRACED
        },
        **{f"conveyor_07/micrographs/{name}.jpg": picture for name, picture in pictures.items()},
        **{f"conveyor_07/fling/{name}.jpg": card for name, card in cards.items()},
        **{
            f"conveyor_07/sound/{name}.wav": recording(
                np.random.default_rng([SEED, number]),
                truths[name],
                float(by_name[name]["duration [s]"]),
                **happened,
            )
            for number, (name, happened) in enumerate(RECORDED.items())
        },
    }

"""Demo of rig control: R-10 at 450 N, a small campaign a month over ten months. Invented data.

Truth: months differ by 3 % of film pressure. In 2025-12 the ring was glazed and the film carried about a
third less; with the new ring of 2026-01 the rig came back, and it was in order when conveyor-07 was run in
2026-04.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from bench_log import Planned, run_row, table, without
from oils import OILS, SCATTER
from rig_text import campaign_text, lubricants_text

SEED = 1404
MONTH_SPREAD = 0.03
#: Day of the check -> what the ring did to the logarithm of the film pressure, and the ring.
CHECKS = {
    "2025-07-08": (0.0, "G-21"),
    "2025-08-12": (0.0, "G-21"),
    "2025-09-09": (0.0, "G-22"),
    "2025-10-07": (0.0, "G-22"),
    "2025-11-11": (-0.06, "G-22"),
    "2025-12-09": (-0.44, "G-22"),
    "2026-01-13": (0.0, "G-31"),
    "2026-02-10": (0.0, "G-31"),
    "2026-03-10": (0.0, "G-31"),
    "2026-04-13": (0.0, "G-31"),
}
RUNS = 4
NOTES = {
    "2025-12-09": "ring looks shiny",
    "2026-01-13": "ring shiny, track glazed?",
    "2026-02-10": "new ring",
}


def _check(rng: np.random.Generator, day: str) -> dict[str, str]:
    """The files of one month's check."""
    effect, ring = CHECKS[day]
    effect += MONTH_SPREAD * rng.standard_normal()
    clock = datetime.fromisoformat(f"{day}T13:10")
    rows = []
    for number in range(RUNS):
        run = Planned(
            "R-10",
            450,
            clock + timedelta(minutes=13 * number),
            ring,
            pin_lot="P-108" if day < "2026" else "P-112",
            ambient=21.5,
            film_effect=effect,
            note=NOTES.get(day, "") if number == 0 else "",
        )
        rows.append(run_row(rng, f"K{day[2:4]}{day[5:7]}-{number + 1}", run, OILS["R-10"], SCATTER))
    month = day[:7]
    head = campaign_text(
        f"control-{month}",
        f"Reference-oil check, {month}",
        "Is the rig where it was?",
        about=(
            "Rig control: a few runs of the reference oil a month; the folders beside this are the series.",
        ),
        block=None,
    )
    return {
        f"rig_control/{month}/campaign.toml": head + "\n" + lubricants_text({"R-10": "reference"}),
        f"rig_control/{month}/runs.csv": table(without(rows, "shaken", "read_blind")),
    }


def files() -> dict[str, str]:
    """Text of every file of the series, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    return {name: text for day in CHECKS for name, text in _check(rng, day).items()}

"""Demo precision study 02: R-10 at two loads, six laboratories, four runs each. Invented data.

Truth: laboratories differ by 5 % of film pressure; L4 scatters three times as much as the others, and the
scars of L6 are clearly larger (its ring was glazed). The seed is one of twelve tried, the one with which both
h and k find what was planted.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from bench_log import WEIGHTS, Planned, run_row, table, without
from oils import OILS, SCATTER
from rig_text import campaign_text, lubricants_text

SEED = 1205
LABORATORY_SPREAD = 0.05
LABORATORIES = {"L1": 0.0, "L2": 0.0, "L3": 0.0, "L4": 0.0, "L5": 0.0, "L6": -0.22}
SPREAD = {"L4": 3.0}
REPEATS = 4
NOT_EXCHANGED = ("weights [kg]", "shaken", "smoke", "drips", "fling_mass [mg]", "read_blind", "excluded")


def _laboratory(rng: np.random.Generator, name: str, number: int) -> list[tuple[str, Planned]]:
    """The runs of one laboratory, at both loads, on a day of its own."""
    effect = LABORATORIES[name] + LABORATORY_SPREAD * rng.standard_normal()
    clock = datetime(2026, 2, 2 + 2 * number, 9, 5)
    loads = [load for load in WEIGHTS for _ in range(REPEATS)]
    rng.shuffle(loads)
    return [
        (
            name,
            Planned(
                "R-10",
                load,
                clock + timedelta(minutes=14 * i),
                ring=f"{name}-A",
                operator=f"{name.lower()}op1",
                pin_lot="P-112",
                ambient=20.5 + 0.4 * number,
                film_effect=effect,
                spread=SPREAD.get(name, 1.0),
            ),
        )
        for i, load in enumerate(loads)
    ]


def files() -> dict[str, str]:
    """Text of every file of the study, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    plan = [entry for number, name in enumerate(LABORATORIES) for entry in _laboratory(rng, name, number)]
    rows = []
    for index, (laboratory, run) in enumerate(plan):
        row = run_row(rng, f"{laboratory}-{index % (2 * REPEATS) + 1}", run, OILS["R-10"], SCATTER)
        load = {"laboratory": laboratory, "load [N]": str(run.load)}
        rows.append({"run_id": row["run_id"]} | load | without([row], *NOT_EXCHANGED)[0])
    head = campaign_text(
        "precision-02",
        "Precision of the pin-on-ring test on R-10, six laboratories",
        "How far do two runs differ, within a laboratory and between laboratories?",
        about=(
            "Precision study: one oil, two loads, six laboratories (column laboratory), four runs each.",
            "Every laboratory used a ring of its own and pins of one lot.",
        ),
        block="laboratory",
    )
    return {
        "precision_02/campaign.toml": head + "\n" + lubricants_text({"R-10": "reference"}),
        "precision_02/runs.csv": table(rows),
    }

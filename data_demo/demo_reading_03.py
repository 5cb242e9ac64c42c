"""Demo reading study 03: ten scars, three readers, three readings each, under codes. Invented data.

Truth: op2 reads 0.03 mm long, op3 0.02 mm short; readings of one reader on one scar scatter by 0.02 mm, those
of op3 by 0.03 mm. graticule.csv holds what each reader read on a certified 5 mm graticule.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from bench_log import Planned, run_row, table
from oils import OILS, SCATTER
from rig_text import campaign_text, lubricants_text

from bench import millimetres

SEED = 1303
BIAS = {"op1": 0.0, "op2": 0.03e-3, "op3": -0.02e-3}
REPEATABILITY = {"op1": 0.02e-3, "op2": 0.02e-3, "op3": 0.03e-3}
OWN_WAY = 0.012e-3
REPEATS = 3
CERTIFIED = 5e-3
SCARS = (
    ("R-10", 450), ("R-10", 450), ("R-10", 600), ("R-10", 600), ("C-21", 450),
    ("C-21", 450), ("C-21", 600), ("C-22", 450), ("C-22", 600), ("B-05", 450),
)  # fmt: skip


def _read(rng: np.random.Generator, true_value: float, reader: str) -> float:
    return true_value + BIAS[reader] + REPEATABILITY[reader] * rng.standard_normal()


def _readings(rng: np.random.Generator, axes: dict[str, tuple[float, float]]) -> list[dict[str, str]]:
    """Every reader reads every scar in each of three rounds, in an order of their own, under a new code."""
    rows = []
    own_way = {
        (reader, run_id, axis): OWN_WAY * rng.standard_normal()
        for reader in BIAS
        for run_id in axes
        for axis in (0, 1)
    }
    for reading in range(1, REPEATS + 1):
        for reader in BIAS:
            for place, run_id in enumerate(rng.permutation(list(axes))):
                values = [
                    _read(rng, true + own_way[reader, str(run_id), axis], reader)
                    for axis, true in enumerate(axes[str(run_id)])
                ]
                rows.append(
                    {
                        "blind_code": f"{'KMT'[reading - 1]}{10 * (int(reader[-1]) - 1) + place + 11}",
                        "run_id": str(run_id),
                        "reader": reader,
                        "reading": str(reading),
                        "scar_length [mm]": millimetres(values[0]),
                        "scar_width [mm]": millimetres(values[1]),
                    }
                )
    return rows


def _graticule(rng: np.random.Generator) -> list[dict[str, str]]:
    return [
        {
            "reader": reader,
            "reading": str(reading),
            "certified [mm]": f"{CERTIFIED * 1e3:.3f}",
            "read [mm]": millimetres(_read(rng, CERTIFIED, reader)),
        }
        for reader in BIAS
        for reading in range(1, 6)
    ]


def files() -> dict[str, str]:
    """Text of every file of the study, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    axes, rows = {}, []
    for number, (oil, load) in enumerate(SCARS, start=1):
        run_id, at = f"S{number:02d}", datetime(2026, 3, 10, 8, 30) + timedelta(minutes=14 * number)
        row = run_row(rng, run_id, Planned(oil, load, at, "G-32"), OILS[oil], SCATTER)
        axes[run_id] = tuple(float(row[f"scar_{axis} [mm]"]) * 1e-3 for axis in ("length", "width"))
        rows.append(row | {"scar_length [mm]": "", "scar_width [mm]": ""})
    head = campaign_text(
        "reading-03",
        "Reading study 3, ten scars",
        "How much of the scatter of a scar is the reading of it?",
        about=(
            "Reading study: ten scars, three readers, three readings each (readings.csv), each time under",
            "a new code. graticule.csv: what each reader read on a certified length. The scars in runs.csv",
            "are blank, so that they are taken from the readings.",
        ),
        block=None,
    )
    roles = {"R-10": "reference", "C-21": "candidate", "C-22": "candidate", "B-05": "benchmark"}
    return {
        "reading_03/campaign.toml": head + "\n" + lubricants_text(roles),
        "reading_03/runs.csv": table(rows),
        "reading_03/readings.csv": table(_readings(rng, axes)),
        "reading_03/graticule.csv": table(_graticule(rng)),
    }

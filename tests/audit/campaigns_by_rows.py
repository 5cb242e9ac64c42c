"""Small campaigns written row by row with the standard library: two oils, three days, one load."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Sequence
from pathlib import Path

TOML = """\
[campaign]
id = "rows"
reference = "R-10"
block = "run_day"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "R-10"
[[lubricants]]
id = "C-21"
"""
FAIR = ("RCCR", "CRRC", "RCRC")
LENGTH = {"R": 3.9, "C": 3.4}


def length_and_width(oil: str, draw: random.Random) -> tuple[float, float]:
    length = LENGTH[oil] * math.exp(draw.gauss(0.0, 0.03))
    depth = 20.0 - math.sqrt(400.0 - length**2 / 4.0)
    return round(length, 3), round(2.0 * math.sqrt(12.0 * depth - depth**2), 3)


def write(
    folder: Path,
    orders: Sequence[str] = FAIR,
    seed: int = 1,
    *,
    of_oil: dict[str, tuple[str, str]] | None = None,
    seconds: tuple[int, int] = (60, 60),
    readers: tuple[str, str] | None = None,
) -> Path:
    """Write a campaign; `of_oil` gives a column one entry for R-10 and one for C-21 throughout."""
    draw = random.Random(seed)
    folder.mkdir()
    (folder / "campaign.toml").write_text(TOML)
    extra = dict(of_oil or {})
    head = ["run_id", "lubricant", "load [N]", "duration [s]", "scar_length [mm]", "scar_width [mm]"]
    head += ["wear_stopped", "run_at", "operator", "pin_lot", "ring_id", "ambient_temperature [degC]"]
    head += ["read_blind", *[name for name in extra if name not in head]]
    runs, readings = [], []
    for day, order in enumerate(orders):
        for place, oil in enumerate(order):
            length, width = length_and_width(oil, draw)
            run = {
                "run_id": f"d{day}r{place}",
                "lubricant": {"R": "R-10", "C": "C-21"}[oil],
                "load [N]": 450,
                "duration [s]": seconds[oil == "C"],
                "scar_length [mm]": length,
                "scar_width [mm]": width,
                "wear_stopped": "yes",
                "run_at": f"2026-03-{day + 2:02d}T{8 + place // 2:02d}:{30 * (place % 2):02d}",
                "operator": "op1" if day % 2 else "op2",
                "pin_lot": "P-1",
                "ring_id": f"G-{day}-{place}",
                "ambient_temperature [degC]": round(20.0 + 0.4 * day + 0.1 * place, 1),
                "read_blind": "yes",
            }
            run.update({name: pair[oil == "C"] for name, pair in extra.items()})
            runs.append(run)
            if readers is not None:
                who = readers[oil == "C"]
                readings.append(
                    {
                        "run_id": run["run_id"],
                        "reader": who,
                        "scar_length [mm]": length,
                        "scar_width [mm]": width,
                    }
                )
    for name, rows, columns in (
        ("runs.csv", runs, head),
        ("readings.csv", readings, list(readings[0]) if readings else []),
    ):
        if rows:
            with (folder / name).open("w", newline="") as file:
                table = csv.DictWriter(file, columns)
                table.writeheader()
                table.writerows(rows)
    return folder

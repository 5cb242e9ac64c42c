"""Invented campaigns of any size: the runs of the demo again and again, each a little other."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np

from pinscar.shipped import shipped_folder

DEMO = shipped_folder("data_demo") / "conveyor_07"


def large_campaign(folder: Path, runs: int, oils: int = 4, seed: int = 1) -> Path:
    """Write a campaign of so many runs on so many oils."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True)
    with (DEMO / "runs.csv").open(newline="", encoding="utf-8") as stream:
        rows = [row for row in csv.DictReader(stream) if not row["excluded"]]
    settings = (DEMO / "campaign.toml").read_text(encoding="utf-8")
    names = ["R-10", "C-21", "C-22", "B-05", *(f"C-{100 + k}" for k in range(oils))][:oils]
    more = "".join(f'\n[[lubricants]]\nid = "{name}"\nrole = "candidate"\n' for name in names[4:])
    settings = settings.replace("[[criteria]]", f"{more}\n[[criteria]]", 1)
    # Without the laboratory's head, whose logo is not copied, and the samples, received after these runs.
    settings = re.sub(r"\n(history|sample) = .*", "", settings.split("[report]")[0])
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    with (folder / "runs.csv").open("w", newline="", encoding="utf-8") as stream:
        table = csv.DictWriter(stream, fieldnames=list(rows[0]))
        table.writeheader()
        for number in range(runs):
            row = dict(rows[number % len(rows)])
            if oils > 4:
                row["lubricant"] = names[number % oils]
            scale = float(np.exp(0.03 * rng.standard_normal()))
            for column in ("scar_length [mm]", "scar_width [mm]"):
                if row[column]:
                    row[column] = f"{float(row[column]) * scale:.2f}"
            day, hour = divmod(number, 24)
            row["run_at"] = f"2026-{1 + day // 28 % 12:02d}-{1 + day % 28:02d}T{hour:02d}:{number % 60:02d}"
            row["run_id"] = f"n{number:05d}"
            table.writerow(row)
    return folder


def add_traces(folder: Path, count: int, rate: float = 100.0, seed: int = 2) -> None:
    """Give the first so many runs of a campaign a trace of the whole run, so many readings a second."""
    rng = np.random.default_rng(seed)
    (folder / "traces").mkdir()
    with (folder / "runs.csv").open(newline="", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))[:count]
    for row in rows:
        time = np.arange(0.0, float(row["duration [s]"]), 1.0 / rate)
        force = (45.0 + 22.0 * np.exp(-time / 15.0)) * (1.0 + 0.02 * rng.standard_normal(time.size))
        warmth = 22.0 + 25.0 * (1.0 - np.exp(-time / 30.0)) + 0.1 * rng.standard_normal(time.size)
        np.savetxt(
            folder / "traces" / f"{row['run_id']}.csv",
            np.column_stack([time, force, warmth]),
            fmt=["%.2f", "%.1f", "%.2f"],
            delimiter=",",
            header="time [s],friction_force [N],temperature [degC]",
            comments="",
        )

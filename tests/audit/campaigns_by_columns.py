"""Larger campaigns made column by column with arrays: three oils, two loads, four days, order by lot."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

OILS, LOADS, DAYS = ("B-05", "R-10", "C-22"), (450, 600), 4


def frame(seed: int) -> pd.DataFrame:
    """Each oil once a day at each load, mixed by lot; operators, rings and lots by lot too."""
    rng = np.random.default_rng(seed)
    design = pd.MultiIndex.from_product([range(DAYS), LOADS, OILS], names=["day", "load [N]", "lubricant"])
    runs = design.to_frame(index=False)
    runs = runs.assign(lot=rng.random(len(runs))).sort_values(["day", "lot"], ignore_index=True)
    n = len(runs)
    median = runs["lubricant"].map({"B-05": 13.0, "R-10": 10.0, "C-22": 8.0}) * runs["load [N]"] / 450.0
    area = median * np.exp(0.07 * rng.standard_normal(n))
    length = np.sqrt(4.0 * area / np.pi * np.sqrt(20.0 / 6.0))
    half_chord_depth = 20.0 - np.sqrt(400.0 - (length / 2.0) ** 2)
    clock = pd.Timestamp("2026-06-01T07:45") + pd.to_timedelta(runs["day"], unit="D")
    place = runs.groupby("day").cumcount()
    return pd.DataFrame(
        {
            "run_id": [f"q{i:02d}" for i in range(n)],
            "lubricant": runs["lubricant"],
            "load [N]": runs["load [N]"],
            "duration [s]": 60,
            "scar_length [mm]": length.round(3),
            "scar_width [mm]": (2.0 * np.sqrt(12.0 * half_chord_depth - half_chord_depth**2)).round(3),
            "wear_stopped": "yes",
            "run_at": (clock + pd.to_timedelta(20 * place, unit="min")).dt.strftime("%Y-%m-%dT%H:%M"),
            "operator": rng.permutation(np.resize(["ada", "ben"], n)),
            "pin_lot": rng.permutation(np.resize(["L1", "L2"], n)),
            "ambient_temperature [degC]": (21.0 + rng.normal(0.0, 0.8, n)).round(1),
            "humidity [%]": (45.0 + rng.normal(0.0, 3.0, n)).round(),
            "shift_lead": rng.permutation(np.resize(["north", "south"], n)),
            "read_blind": "yes",
        }
    )


def save(runs: pd.DataFrame, folder: Path) -> Path:
    folder.mkdir()
    runs.to_csv(folder / "runs.csv", index=False)
    oils = "".join(f'[[lubricants]]\nid = "{oil}"\n' for oil in OILS)
    (folder / "campaign.toml").write_text(
        '[campaign]\nid = "columns"\nreference = "R-10"\n'
        '[rig]\ngeometry = "crossed-cylinders"\npin_diameter = "12 mm"\nring_diameter = "40 mm"\n'
        f'ring_speed = "700 rpm"\n{oils}'
    )
    return folder


def reordered(runs: pd.DataFrame) -> pd.DataFrame:
    """Hand the times of each day out again, so that C-22 has the last ones of its load."""
    day = runs["run_at"].str[:10]
    key = [day, runs["load [N]"], runs["lubricant"].map({"B-05": 0, "R-10": 1, "C-22": 2})]
    order = np.lexsort((key[2], key[1], key[0]))
    times = runs["run_at"].to_numpy()[np.lexsort((runs["run_at"], day))]
    new = runs.copy()
    new.iloc[order, new.columns.get_loc("run_at")] = times
    return new


def mostly(runs: pd.DataFrame, column: str, entry: str, other: str) -> pd.DataFrame:
    """Give C-22 one entry and R-10 the other, but for one run of each."""
    new = runs.copy()
    for oil, usual, odd in (("C-22", entry, other), ("R-10", other, entry)):
        rows = np.flatnonzero(new["lubricant"] == oil)
        new.loc[rows, column] = usual
        new.loc[rows[3], column] = odd
    return new


def of_candidate(runs: pd.DataFrame, column: str, change: object) -> pd.DataFrame:
    own = runs["lubricant"] == "C-22"
    old = runs[column] if column in runs else pd.Series("other", index=runs.index)
    return runs.assign(**{column: old.where(~own, old + change if isinstance(change, float) else change)})

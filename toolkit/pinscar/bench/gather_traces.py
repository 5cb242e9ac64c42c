"""How warm runs became, by their traces and their load steps, for `pinscar gather`."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from pinscar.campaign.columns import LOAD_STEPS
from pinscar.campaign.frames import read_frame
from pinscar.campaign.tables import read_csv
from pinscar.decision.force_readings import with_zero_taken_off
from pinscar.decision.traces import warming_of
from pinscar.evidence.warming import Warming

STEPS = "load_steps.csv"
"""When the load was raised within runs."""


def step_starts(folder: Path) -> dict[str, list[float]]:
    """List when the load steps of each run started, by load_steps.csv; nothing where there is none."""
    if not (folder / STEPS).exists():
        return {}
    table, _ = read_csv(folder / STEPS, STEPS)
    if table is None:
        return {}
    frame = read_frame(table, LOAD_STEPS).frame.dropna(subset=["run_id", "start"])
    return {str(run): sorted(group["start"].tolist()) for run, group in frame.groupby("run_id")}


def warmings_of(
    runs: pd.DataFrame,
    traces: Mapping[str, pd.DataFrame],
    refused: Container[str],
    starts: Mapping[str, Sequence[float]],
) -> dict[str, Warming | None]:
    """Read each trace as a report does, with the load steps of its run."""
    rows = {run["run_id"]: run for run in runs.to_dict("records")}
    found: dict[str, Warming | None] = {}
    for name in traces:
        if name in refused:
            continue
        duration, load, steps = float(rows[name]["duration"]), float(rows[name]["load"]), starts.get(name, [])
        # a run with load steps may have none typed; the force then tells it
        largest = float("inf") if steps or np.isnan(load) else load
        corrected, _ = with_zero_taken_off(traces[name], duration, largest, steps)
        found[name] = warming_of(corrected, duration, steps)
    return found

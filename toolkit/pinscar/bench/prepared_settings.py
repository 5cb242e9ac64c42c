"""What a prepared table of runs says of loads and durations, for a plan that is not told them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pinscar.campaign.campaign import read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.loads import add_loads
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.typed_table import settle_table


def prepared_settings(folder: Path) -> tuple[tuple[str, ...], str | None]:
    """Read the loads of a table of runs, and their duration where all have one."""
    name, _ = runs_file(folder)
    if name is None or not (folder / name).is_file():
        return (), None
    table, _ = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    if table is None:
        return (), None
    read = read_frame(settle_table(table, RUNS).table, RUNS)
    frame, _ = add_loads(read, name, read_settings(folder).rig)
    loads = sorted({f"{load:.6g}" for load in frame["load"] if np.isfinite(load)}, key=float)
    durations = {f"{time:.6g}" for time in frame["duration"] if np.isfinite(time)}
    return tuple(f"{load} N" for load in loads), f"{durations.pop()} s" if len(durations) == 1 else None

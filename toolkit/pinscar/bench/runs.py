"""The runs of a campaign that are still to be made, day by day, as the run sheet shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.campaign import read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.loads import add_loads
from pinscar.campaign.model import CampaignFile
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.typed_table import settle_table
from pinscar.errors import InputError, UsageError
from pinscar.problems import Severity
from pinscar.study.plan.table import weights_for
from pinscar.units import to_unit
from pinscar.wording import load_text


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRun:
    """One run to be made.

    Attributes
    ----------
    run_id : str
        Its name.
    place : str
        Its place within the day.
    lubricant : str
        The oil.
    load : str
        The load, with its unit.
    weights : str
        Weights to hang on [kg]; blank where the rig has no lever.
    duration : str
        Duration, with its unit; blank where the table has none.
    dose : str
        Dose [mL]; blank where it is not settled.
    pin_lot, operator : str
        As the table has them; blank where they are not settled.
    """

    run_id: str
    place: str
    lubricant: str
    load: str
    weights: str = ""
    duration: str = ""
    dose: str = ""
    pin_lot: str = ""
    operator: str = ""


@dataclass(frozen=True, slots=True)
class BenchDay:
    """The runs of one day.

    Attributes
    ----------
    name : str
        The day, such as ``"day 1"``.
    runs : tuple of BenchRun
        Its runs, in order.
    """

    name: str
    runs: tuple[BenchRun, ...]


def weights_text(file: CampaignFile, load: float) -> str:
    """Give the weights that a load takes on the campaign's rig."""
    if file.rig.lever_ratio == 1.0 and file.rig.hanger_mass == 0.0:
        return ""
    mass = weights_for(file.rig, load)
    return "not possible" if mass is None else f"{mass:.2f}"


def bench_days(folder: Path) -> tuple[CampaignFile, tuple[BenchDay, ...]]:
    """Read the runs of a campaign that have no scar yet."""
    file = read_settings(folder)
    name, problems = runs_file(folder)
    if name is None:
        raise InputError(problems)
    table, found = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    if table is None:
        raise InputError(found)
    read = read_frame(settle_table(table, RUNS, file.campaign.dates).table, RUNS)
    frame, wrong = add_loads(read, name, file.rig)
    grave = [one for one in [*read.problems, *wrong] if _stops(one.code) and one.severity is Severity.ERROR]
    if grave:
        raise InputError(grave)
    open_runs = frame[frame["scar_length"].isna() & (frame["excluded"] == "")]
    if open_runs.empty:
        raise UsageError(f"all runs of {folder} were made: there is nothing to put on a run sheet")
    return file, _by_day(file, open_runs.to_dict("records"))


def _stops(code: str) -> bool:
    """Tell whether an error keeps a run sheet from being made; what is measured may still be blank."""
    return code not in ("value-missing", "value-unusual")


def _by_day(file: CampaignFile, rows: Sequence[Mapping[Any, Any]]) -> tuple[BenchDay, ...]:
    days: dict[str, list[BenchRun]] = {}
    for row in rows:
        runs = days.setdefault(_day(row), [])
        runs.append(_run(file, row, len(runs) + 1))
    return tuple(BenchDay(name, tuple(runs)) for name, runs in days.items())


def _day(row: Mapping[Any, Any]) -> str:
    planned = str(row.get("planned_day") or "")
    moment = next((row[name] for name in ("run_day", "run_at") if not pd.isna(row[name])), None)
    return planned or ("" if moment is None else f"{moment:%Y-%m-%d}")


def _run(file: CampaignFile, row: Mapping[Any, Any], place: int) -> BenchRun:
    load, time, dose = (float(row[name]) for name in ("load", "duration", "dose"))
    return BenchRun(
        run_id=str(row["run_id"]),
        place=str(row.get("planned_place") or place),
        lubricant=str(row["lubricant"]),
        load=load_text(load) if np.isfinite(load) else "",
        weights=weights_text(file, load) if np.isfinite(load) else "",
        duration=f"{time:g} s" if np.isfinite(time) else "",
        dose=f"{float(to_unit(dose, 'mL')):g}" if np.isfinite(dose) else "",
        pin_lot=str(row["pin_lot"]),
        operator=str(row["operator"]),
    )

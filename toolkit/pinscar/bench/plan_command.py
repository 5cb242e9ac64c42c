"""`pinscar plan`: the plan as a report, and the table of runs that belongs to it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from pinscar.bench.prepare import STARTER
from pinscar.campaign.campaign import read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.loads import add_loads
from pinscar.campaign.quantities import quantities_in, usual_quantity
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.typed_table import settle_table
from pinscar.errors import UsageError
from pinscar.press.files import cannot_write, put_file
from pinscar.press.request import Outcome
from pinscar.shipped import shipped_folder
from pinscar.units import UnitError


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


TEMPLATE = "plan"
TABLES = ("runs.csv", "runs.xlsx")


def plan_campaign(
    folder: Path, given: Mapping[str, object], *, pdf: bool, timeout: float = 600.0, xlsx: bool = False
) -> Outcome:
    """Plan a campaign: write its plan and its table of runs."""
    from pinscar.press import build
    from pinscar.press.request import make_requests
    from pinscar.press.template import read_template
    from pinscar.shipped import find_template

    refuse_runs(folder)
    template = read_template(find_template(TEMPLATE))
    passed = {name: value for name, value in given.items() if value is not None}
    passed |= _from_table(folder, passed)
    if isinstance(passed.get("pilot"), Path):
        passed["pilot"] = Path(
            os.path.relpath(Path(str(passed["pilot"])).resolve(), folder.resolve())
        ).as_posix()
    requests = make_requests([folder], template, passed, out=None, pdf=pdf, timeout=timeout)
    outcomes: list[Outcome] = []
    build.build_reports(requests, template.modules, 1, outcomes.append)
    outcome = outcomes[0]
    if outcome.status:
        return outcome
    results = json.loads((requests[0].out / "results.json").read_text(encoding="utf-8"))
    _write_runs(folder, results, xlsx=xlsx or (folder / "runs.xlsx").exists())
    if passed.get("blind"):
        from pinscar.bench.bench_sheet import make_sheet

        make_sheet(folder, blind=True, pdf=pdf)
    return outcome


def names_in(text: str) -> list[str]:
    """Take the oils of an option apart.

    Examples
    --------
    >>> names_in("R-10, H 1; H 2")
    ['R-10', 'H 1', 'H 2']
    """
    return [name.strip() for name in re.split("[,;]", text) if name.strip()]


def loads_in(text: str) -> list[str]:
    """Take the loads of an option apart.

    Examples
    --------
    >>> loads_in("450, 600 N")
    ['450 N', '600 N']
    """
    try:
        return list(quantities_in(text, "force"))
    except UnitError as error:
        raise UsageError(f"a load cannot be read: {error.message}; {error.mend}") from None


def duration_in(text: str) -> str:
    """Take the duration of an option.

    Examples
    --------
    >>> duration_in("1,5 min")
    '1.5 min'
    """
    try:
        return usual_quantity(text, "time")
    except UnitError as error:
        raise UsageError(f"the duration cannot be read: {error.message}; {error.mend}") from None


def _from_table(folder: Path, passed: Mapping[str, object]) -> dict[str, object]:
    """Take loads from the table of runs where neither the command nor a limit names any; durations too."""
    from pinscar.campaign.campaign import read_settings

    if not (folder / "campaign.toml").is_file():
        return {}
    limits = [one.load for one in read_settings(folder).criteria if one.load is not None]
    loads, duration = prepared_settings(folder)
    found: dict[str, object] = {}
    if loads and "loads" not in passed and not limits:
        found["loads"] = list(loads)
    if duration and "duration" not in passed and "pilot" not in passed:
        found["duration"] = duration
    return found


def refuse_runs(folder: Path) -> None:
    """Refuse a folder whose runs a plan would overwrite."""
    starter = shipped_folder("templates") / STARTER / "runs.csv"
    for name in TABLES:
        path = folder / name
        if not path.exists() or is_unfilled(path) or path.read_bytes() == starter.read_bytes():
            continue
        raise UsageError(
            f"{folder} already has a {name}, which a plan does not replace; plan in a new folder"
        )


def is_unfilled(path: Path) -> bool:
    """Tell whether a table of runs holds nothing but what was prepared."""
    from pinscar.campaign.tables import read_csv, read_xlsx
    from pinscar.study.plan.table import FIRST

    table, problems = (read_xlsx if path.suffix == ".xlsx" else read_csv)(path, path.name)
    if table is None or problems:
        return False
    names = [head.partition(" [")[0] for head in table.header]
    beside = [place for place, name in enumerate(names) if name not in (*FIRST, "weights")]
    prepared = "planned_day" in names
    return prepared and not any(cells[place] for _, cells in table.rows for place in beside)


def _write_runs(folder: Path, results: Mapping[str, Any], *, xlsx: bool) -> None:
    from pinscar.bench.prepare import runs_bytes
    from pinscar.study.plan.table import SheetRun, prepared_table

    sizes: dict[int, int] = {}
    for row in results["order"]:
        sizes[row["day"]] = sizes.get(row["day"], 0) + 1
    order = [
        SheetRun(
            run_id=row["run_id"],
            lubricant=row["lubricant"],
            load=row["load_N"],
            day=row["day"],
            place=row["place"],
            of_day=sizes[row["day"]],
        )
        for row in results["order"]
    ]
    table = prepared_table(order, results["study"]["duration_s"])
    oils, title = _oils_and_title(folder, [run.lubricant for run in order])
    name, data = runs_bytes(table, oils, title, xlsx=xlsx)
    try:
        refuse_runs(folder)
        put_file(folder / name, data)
        for other in TABLES:
            if other != name:  # it was only prepared: refuse_runs let it pass
                (folder / other).unlink(missing_ok=True)
    except OSError as error:
        raise cannot_write(folder, error) from error


def _oils_and_title(folder: Path, planned: Sequence[str]) -> tuple[tuple[str, ...], str]:
    """Give the oils that a run sheet lets choose from, the reference first, and the campaign's title."""
    from pinscar.campaign.toml_file import read_toml

    file, _ = read_toml((folder / "campaign.toml").read_text(encoding="utf-8-sig"))
    if file is None:
        return tuple(dict.fromkeys(planned)), folder.name
    declared = [one.id for one in file.lubricants]
    return tuple(dict.fromkeys([file.campaign.reference, *declared, *planned])), (
        file.campaign.title or file.campaign.id
    )

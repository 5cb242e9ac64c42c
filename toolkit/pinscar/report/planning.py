"""`pinscar plan`: the plan as a report, and the runs.csv that belongs to it."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.report.request import Outcome
from pinscar.report.scratch import cannot_write
from pinscar.report.shipped import shipped_folder
from pinscar.report.starter import STARTER

TEMPLATE = "plan"


def plan_campaign(folder: Path, given: Mapping[str, object], *, pdf: bool, timeout: float = 600.0) -> Outcome:
    """Plan a campaign: write its plan and its runs.csv.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder, with a campaign.toml.
    given : mapping
        Parameters of the template; a pilot as the person wrote it.
    pdf : bool
        Whether a PDF is made.
    timeout : float
        Longest time for one cell [s].

    Returns
    -------
    Outcome
        What came of it; where its status is 0, runs.csv was written too.

    Raises
    ------
    UsageError
        If the folder has a table of runs that is not the starter's; nothing is written then.
    RunError
        If runs.csv cannot be written.
    """
    from pinscar.report import build
    from pinscar.report.request import make_requests
    from pinscar.report.shipped import find_template
    from pinscar.report.template import read_template

    refuse_runs(folder)
    template = read_template(find_template(TEMPLATE))
    passed = {name: value for name, value in given.items() if value is not None}
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
    _write_runs(folder, results)
    return outcome


def refuse_runs(folder: Path) -> None:
    """Refuse a folder whose runs a plan would overwrite.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder.

    Raises
    ------
    UsageError
        If it has a runs.csv or runs.xlsx, unless that is the starter's table of examples as it was made.
    """
    if (folder / "runs.xlsx").exists():
        raise UsageError(
            f"{folder} already has a runs.xlsx, which a plan does not replace; plan in a new folder"
        )
    path = folder / "runs.csv"
    if not path.exists():
        return
    starter = shipped_folder("templates") / STARTER / "runs.csv"
    if path.read_bytes() != starter.read_bytes():
        raise UsageError(
            f"{folder} already has a runs.csv, which a plan does not replace; plan in a new folder"
        )


def _write_runs(folder: Path, results: Mapping[str, Any]) -> None:
    from pinscar.decision.plan import Run
    from pinscar.decision.plan_table import runs_csv

    sizes: dict[int, int] = {}
    for row in results["order"]:
        sizes[row["day"]] = sizes.get(row["day"], 0) + 1
    order = [
        Run(row["run_id"], row["lubricant"], row["load_N"], row["day"], row["place"], sizes[row["day"]])
        for row in results["order"]
    ]
    text = runs_csv(order, results["study"]["duration_s"])
    path = folder / "runs.csv"
    temporary = folder / ".pinscar-runs.csv"
    try:
        refuse_runs(folder)
        temporary.write_text(text, encoding="utf-8", newline="")
        temporary.replace(path)
    except OSError as error:
        raise cannot_write(folder, error) from error
    finally:
        temporary.unlink(missing_ok=True)

"""The load of every run: from its column, from weights on the lever, and through load steps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.codes import error
from pinscar.campaign.frames import Read, rows_of
from pinscar.campaign.model import SAME_LOAD, Rig
from pinscar.errors import Problem, Severity

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2], 3rd CGPM (1901)."""


def add_loads(read: Read, file: str, rig: Rig | None) -> tuple[pd.DataFrame, list[Problem]]:
    """Fill ``load`` from ``weights``: standard gravity times (weights + hanger) times the lever's ratio.

    Examples
    --------
    >>> from pinscar.campaign.model import Rig
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 mm",
    ...                           "ring_diameter": "40 mm", "lever_ratio": 10, "hanger_mass": "0.8 kg"})
    >>> frame = pd.DataFrame({"run_id": ["1"], "load": [np.nan], "weights": [4.0]})
    >>> read = Read(frame, {"weights": "kg"}, {"weights": "weights [kg]"}, [])
    >>> add_loads(read, "runs.csv", rig)[0]["load"].round(4).tolist()
    [470.7192]
    """
    frame = read.frame.drop(columns="weights")
    given = [name for name in ("load", "weights") if name in read.headers]
    # a broken load header was already reported as an error; a warning is of a column that the user added
    named = {one.column for one in read.problems if one.severity is Severity.ERROR}
    broken = any(name and name.lower().startswith(("load", "weights")) for name in named)
    if len(given) == 2:
        mend = "keep one of the two columns: load is the force, weights are turned to load by the rig's lever"
        return frame, [error("load-and-weights", file, "the table has both load and weights", mend, row=1)]
    if not given and not broken:
        return frame, [
            error(
                "load-and-weights",
                file,
                "the table has neither load nor weights",
                "add a column load [N] or weights [kg]",
                row=1,
            )
        ]
    if given == ["weights"]:
        hanger, lever = (rig.hanger_mass, rig.lever_ratio) if rig else (0.0, 1.0)
        frame["load"] = STANDARD_GRAVITY * (read.frame["weights"] + hanger) * lever
    return frame, []


def merge_steps(
    runs: pd.DataFrame, steps: pd.DataFrame, column: str, file: str, steps_file: str = "load_steps.csv"
) -> tuple[pd.DataFrame, pd.DataFrame, list[Problem]]:
    """Bring runs and load steps together.

    ``load`` of a stepped run becomes its last step's. Where the first step starts later than 0, the
    load before it is the one in the runs table, and a step from 0 on is put in front.

    Examples
    --------
    >>> runs = pd.DataFrame({"run_id": ["1"], "load": [300.0], "duration": [60.0], "excluded": [""],
    ...                      "row": [2]})
    >>> steps = pd.DataFrame({"run_id": ["1"], "start": [20.0], "load": [600.0], "row": [2]})
    >>> runs, steps, problems = merge_steps(runs, steps, "load [N]", "runs.csv")
    >>> runs["load"].tolist(), steps["start"].tolist(), steps["load"].tolist()
    ([600.0], [0.0, 20.0], [300.0, 600.0])
    """
    problems = _unknown_runs(runs, steps, steps_file)
    loads = runs["load"].to_numpy(dtype=float, copy=True)
    merged: list[dict[str, Any]] = []
    by_run: dict[str, list[dict[str, Any]]] = {}
    for step in rows_of(steps):
        by_run.setdefault(step["run_id"], []).append(step)
    for position, run in enumerate(rows_of(runs)):
        mine = by_run.get(run["run_id"], [])
        if not mine:
            if np.isnan(run["load"]) and not run["excluded"] and column:
                mend = "fill it in, or give the run's load steps from start 0 on in load_steps.csv"
                blank = error("value-missing", file, "the load is blank", mend, row=run["row"], column=column)
                problems.append(blank)
            continue
        found = _step_problems(run, mine, column, file, steps_file)
        problems += [] if run["excluded"] else found
        if found:
            continue
        if mine[0]["start"] > 0:
            mine.insert(0, {**mine[0], "start": 0.0, "load": run["load"], "row": run["row"]})
        loads[position] = mine[-1]["load"]
        merged += mine
    ordered = pd.DataFrame(merged, columns=steps.columns) if merged else steps.iloc[:0]
    return runs.assign(load=loads), ordered[["run_id", "start", "load"]].reset_index(drop=True), problems


def _unknown_runs(runs: pd.DataFrame, steps: pd.DataFrame, file: str) -> list[Problem]:
    known = set(runs["run_id"])
    mend = "correct the run_id, or take the row out"
    return [
        error(
            "steps-unknown-run",
            file,
            "no run has this run_id",
            mend,
            row=step["row"],
            column="run_id",
            value=step["run_id"],
        )
        for step in rows_of(steps)
        if step["run_id"] and step["run_id"] not in known
    ]


def _step_problems(
    run: dict[str, Any], steps: list[dict[str, Any]], column: str, file: str, steps_file: str
) -> list[Problem]:
    found = []
    for before, step in zip([None, *steps], steps, strict=False):
        place = {"row": step["row"], "column": "start"}
        if before and step["start"] <= before["start"]:
            message = f"this step of run {run['run_id']} does not start after the one above it"
            found.append(error("steps-order", steps_file, message, "order the steps by their start", **place))
        if step["start"] >= run["duration"]:
            message = f"this step starts when run {run['run_id']} is over, after {run['duration']:.4g} s"
            found.append(
                error(
                    "steps-outside-run",
                    steps_file,
                    message,
                    "correct the start, or the run's duration",
                    **place,
                )
            )
        if np.isnan(step["load"]):
            found.append(
                error(
                    "value-missing",
                    steps_file,
                    "the load is blank",
                    "fill it in",
                    row=step["row"],
                    column="load",
                )
            )
    if any(np.isnan(one["start"]) or np.isnan(one["load"]) for one in steps):
        return found  # bad cells were already reported
    return found + _start_problems(run, steps, column, file, steps_file)


def _start_problems(
    run: dict[str, Any], steps: list[dict[str, Any]], column: str, file: str, steps_file: str
) -> list[Problem]:
    first, last, load = steps[0], steps[-1], run["load"]
    if first["start"] > 0 and (np.isnan(load) or _same(load, last["load"])):
        message = f"the load of run {run['run_id']} before its first step is not clear"
        return [
            error(
                "steps-ambiguous",
                steps_file,
                message,
                "add a row with start 0",
                row=first["row"],
                column="start",
            )
        ]
    if (
        first["start"] == 0
        and not np.isnan(load)
        and not (_same(load, first["load"]) or _same(load, last["load"]))
    ):
        message = (
            f"the load is neither the first step's {first['load']:.4g} N nor the last's {last['load']:.4g} N"
        )
        mend = "correct it here or in load_steps.csv"
        return [
            error(
                "steps-load-differs",
                file,
                message,
                mend,
                row=run["row"],
                column=column,
                value=f"{load:.4g} N",
            )
        ]
    return []


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME_LOAD * abs(other)

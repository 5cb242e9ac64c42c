"""The tables of a campaign brought together: loads, steps, scars, days, and the checks across them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pinscar.campaign.cross_checks import check_against_runs
from pinscar.campaign.example_rows import check_examples
from pinscar.campaign.frames import Read
from pinscar.campaign.loads import add_loads, merge_steps
from pinscar.campaign.model import CampaignFile, Rig
from pinscar.campaign.readings import fill_scars, number_readings
from pinscar.campaign.rig_checks import check_rig
from pinscar.campaign.run_checks import check_runs, check_scars, leave_out_scars
from pinscar.problems import Problem


def join_tables(
    file: CampaignFile | None, name: str, runs: Read, steps: Read, readings: Read, known: list[Problem]
) -> tuple[tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame], list[Problem]]:
    r"""Bring runs, load steps and readings together, and check them against each other and campaign.toml.

    Parameters
    ----------
    file : CampaignFile or None
        campaign.toml; None when it could not be read, and what needs it is then left out.
    name : str
        Name of the runs table.
    runs, steps, readings : Read
        The three tables; the last two may be empty.
    known : list of Problem
        What is wrong with their cells already; a cell gets no second line for being blank.

    Returns
    -------
    tuple of three DataFrame, and list of Problem
        Runs, load steps and readings as in `Campaign`, and what is wrong.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS
    >>> from pinscar.campaign.frames import empty_frame, read_frame
    >>> from pinscar.campaign.tables import parse_csv
    >>> table, _ = parse_csv("run_id,lubricant,load [kN],duration [min],scar_length [cm],scar_width [cm]\n"
    ...                      "1,R-10,0.45,1,0.41,0.22\n", "runs.csv")
    >>> none = Read(empty_frame(LOAD_STEPS), {}, {}, []), Read(empty_frame(READINGS), {}, {}, [])
    >>> (frame, _, _), problems = join_tables(None, "runs.csv", read_frame(table, RUNS), *none, [])
    >>> frame[["load", "duration", "scar_length"]].round(9).to_numpy().tolist(), problems
    ([[450.0, 60.0, 0.0041]], [])
    """
    found: list[Problem] = []
    rig = file.rig if file else None
    frame, loads = _with_loads(name, runs, steps, rig, found)
    numbered, twice = number_readings(readings.frame)
    frame, scars = fill_scars(frame, numbered, runs.headers, name)
    found += twice + scars + check_runs(frame, runs.headers, name)
    found += check_examples(frame, name)
    if file:
        frame, left_out = leave_out_scars(frame, file.rig, runs.headers, name)
        found += check_rig(file.rig) + left_out + check_scars(frame, file.rig, runs.headers, name)
    frame = _finish(frame, rig)
    if file:
        found += check_against_runs(file, frame, runs.units, name)
    placed = {(one.file, one.row, one.column) for one in known if one.row != 1}
    found = [one for one in found if one.code != "value-missing" or not _places(one) & placed]
    kept = [column for column in numbered.columns if column != "row"]
    return (frame, loads, numbered[kept]), found


def _places(problem: Problem) -> set[tuple[str, int | None, str | None]]:
    return {(problem.file, problem.row, problem.column), (problem.file, problem.row, None)}


def _with_loads(
    name: str, runs: Read, steps: Read, rig: Rig | None, found: list[Problem]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    frame, wrong = add_loads(runs, name, rig)
    found += wrong
    if not steps.headers:
        steps_frame = steps.frame.drop(columns="weights")
    else:
        steps_frame, wrong = add_loads(steps, "load_steps.csv", rig)
        found += wrong
    column = next((runs.headers[one] for one in ("load", "weights") if one in runs.headers), "")
    frame, merged, wrong = merge_steps(frame, steps_frame, column, name)
    # without a rig, weights can't be compared with loads
    mixed = rig is None and ("weights" in runs.headers or "weights" in steps.headers)
    found += [one for one in wrong if not mixed or one.code not in {"steps-load-differs", "steps-ambiguous"}]
    return frame, merged


def _finish(frame: pd.DataFrame, rig: Rig | None) -> pd.DataFrame:
    judged: dict[str, Any] = {"yes": True, "no": False}
    day = frame["run_day"].fillna(frame["run_at"])
    speed = frame["ring_speed"]
    return frame.assign(
        wear_stopped=pd.Series(
            [judged.get(one) for one in frame["wear_stopped"]], dtype=object, index=frame.index
        ),
        run_day=pd.Series(
            ["" if pd.isna(one) else one.date().isoformat() for one in day], dtype=object, index=frame.index
        ),
        ring_speed=speed if rig is None or rig.ring_speed is None else speed.fillna(rig.ring_speed),
    )

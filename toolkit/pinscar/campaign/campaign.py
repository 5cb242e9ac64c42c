"""A campaign folder to one checked record, or to every problem it has."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from pinscar.campaign.codes import condense, error
from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS, Column
from pinscar.campaign.cross_checks import check_against_runs
from pinscar.campaign.folder import check_evidence, hash_inputs, runs_file, stray_names
from pinscar.campaign.frames import Read, empty_frame, read_frame
from pinscar.campaign.loads import add_loads, merge_steps
from pinscar.campaign.model import CampaignFile, Rig
from pinscar.campaign.readings import fill_scars, number_readings
from pinscar.campaign.rig_checks import check_rig
from pinscar.campaign.run_checks import check_runs, check_scars
from pinscar.campaign.tables import read_csv, read_text
from pinscar.campaign.toml_file import read_toml
from pinscar.campaign.workbook import read_xlsx
from pinscar.errors import InputError
from pinscar.problems import Problem, Severity


@dataclass(frozen=True)
class Campaign:
    """A campaign that was read and has no errors.

    Parameters
    ----------
    folder : Path
        Where it lies.
    file : CampaignFile
        campaign.toml, quantities in SI.
    runs : DataFrame
        One row a run, excluded ones too, in the order of the file; SI numbers. Beside the file's columns:
        ``row`` (as a spreadsheet shows it), ``scar_from`` and ``width_from`` ("runs", "readings" or "").
    load_steps : DataFrame
        ``run_id``, ``start`` [s], ``load`` [N]; every stepped run from start 0 on.
    readings : DataFrame
        ``run_id``, ``reader``, ``reading``, ``scar_length`` [m], ``scar_width`` [m].
    units : dict of str to str
        Unit of each numeric column of the runs, as its header has it.
    problems : tuple of Problem
        Warnings.
    inputs : dict of str to str
        SHA-256 of each file, by path relative to the folder.
    """

    folder: Path
    file: CampaignFile
    runs: pd.DataFrame
    load_steps: pd.DataFrame
    readings: pd.DataFrame
    units: dict[str, str]
    problems: tuple[Problem, ...]
    inputs: dict[str, str]


def read_campaign(folder: Path | str) -> Campaign:
    """Read a campaign folder.

    Parameters
    ----------
    folder : Path or str
        The folder.

    Returns
    -------
    Campaign
        The campaign, with its warnings.

    Raises
    ------
    InputError
        With every problem, when any of them is an error.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> read_campaign("nowhere")
    Traceback (most recent call last):
        ...
    pinscar.errors.InputError: nowhere: there is no such folder; check the path
    """
    campaign, problems = check_campaign(folder)
    if campaign is None:
        raise InputError(problems)
    return campaign


def check_campaign(folder: Path | str) -> tuple[Campaign | None, list[Problem]]:
    """Read a campaign folder and list everything that is wrong with it.

    Parameters
    ----------
    folder : Path or str
        The folder.

    Returns
    -------
    tuple of Campaign or None and list of Problem
        The campaign, or None when any problem is an error; and all problems, errors first.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> campaign, problems = check_campaign("nowhere")
    >>> [one.code for one in problems]
    ['folder-missing']
    """
    folder = Path(folder)
    if not folder.is_dir():
        message = "this is a file and not a folder" if folder.exists() else "there is no such folder"
        return None, [error("folder-missing", str(folder), message, "check the path")]
    file, problems = _read_file(folder)
    name, found = runs_file(folder)
    problems += found + stray_names(folder)
    runs = _read_table(folder, name, RUNS, problems) if name else None
    steps = _read_optional(folder, "load_steps.csv", LOAD_STEPS, problems)
    readings = _read_optional(folder, "readings.csv", READINGS, problems)
    frames = None if runs is None or name is None else _join(file, name, runs, steps, readings, problems)
    if frames is not None:
        problems += check_evidence(folder, list(frames[0]["run_id"]))
    problems = condense(problems)
    if (
        file is None
        or frames is None
        or runs is None
        or any(one.severity is Severity.ERROR for one in problems)
    ):
        return None, problems
    units = {
        name if name != "weights" else "load": unit if name != "weights" else "N"
        for name, unit in runs.units.items()
    }
    return Campaign(folder, file, *frames, units, tuple(problems), hash_inputs(folder)), problems


def _in_order(problems: list[Problem]) -> list[Problem]:
    """Errors first, one a cell; warnings after them, joined where they repeat down a column."""
    warnings = [one for one in problems if one.severity is Severity.WARNING]
    return [one for one in problems if one.severity is Severity.ERROR] + condense(warnings)


def _read_file(folder: Path) -> tuple[CampaignFile | None, list[Problem]]:
    if not (folder / "campaign.toml").exists():
        mend = "write one (pinscar new makes one to fill in)"
        return None, [
            error("file-missing", "campaign.toml", "the file that says what is tested is not there", mend)
        ]
    text, problems = read_text(folder / "campaign.toml", "campaign.toml")
    return (None, problems) if text is None else read_toml(text)


def _read_table(folder: Path, name: str, columns: tuple[Column, ...], problems: list[Problem]) -> Read | None:
    reader = read_xlsx if name.endswith(".xlsx") else read_csv
    table, found = reader(folder / name, name)
    problems += found
    if table is None:
        return None
    read = read_frame(table, columns)
    problems += read.problems
    return read


def _read_optional(folder: Path, name: str, columns: tuple[Column, ...], problems: list[Problem]) -> Read:
    read = _read_table(folder, name, columns, problems) if (folder / name).exists() else None
    return read or Read(empty_frame(columns), {}, {}, [])


def _join(
    file: CampaignFile | None, name: str, runs: Read, steps: Read, readings: Read, problems: list[Problem]
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Bring the three tables together; what is wrong goes to `problems`, once a cell."""
    found: list[Problem] = []
    rig = file.rig if file else None
    frame, loads = _with_loads(name, runs, steps, rig, found)
    numbered, twice = number_readings(readings.frame)
    frame, scars = fill_scars(frame, numbered, runs.headers, name)
    found += twice + scars + check_runs(frame, runs.headers, name)
    if file:
        found += check_rig(file.rig) + check_scars(frame, file.rig, runs.headers, name)
    frame = _finish(frame, rig)
    if file:
        found += check_against_runs(file, frame, runs.units, name)
    placed = {(one.file, one.row, one.column) for one in problems if one.row != 1}
    problems += [
        one for one in found if one.code != "value-missing" or (one.file, one.row, one.column) not in placed
    ]
    kept = [column for column in numbered.columns if column != "row"]
    return frame, loads, numbered[kept]


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

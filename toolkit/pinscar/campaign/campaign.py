"""A campaign folder to one checked record, or to every problem it has.

The tables are brought together (loads, steps, scars, days) and checked across each other. A campaign without
runs yet is read from campaign.toml alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from hashlib import file_digest
from os.path import normpath
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pandas as pd

from pinscar.campaign.codes import PROBLEMS, condense, error
from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS, Column
from pinscar.campaign.cross_checks import check_against_runs, check_names
from pinscar.campaign.folder import (
    EVIDENCE,
    FILES,
    NOTES,
    PICTURES,
    check_evidence,
    evidence_files,
    hash_inputs,
    hashes_below,
    is_absolute,
    is_outside,
    own_hashes,
    reach_problems,
    root_of,
    runs_file,
    stray_names,
)
from pinscar.campaign.frames import Read, empty_frame, read_frame
from pinscar.campaign.loads import add_loads, merge_steps
from pinscar.campaign.lubricant_table import NAMES as LUBRICANTS
from pinscar.campaign.lubricant_table import add_table, check_compositions, lubricants_file, placed_in_table
from pinscar.campaign.model import Campaign, CampaignFile, Rig
from pinscar.campaign.own_text import check_notes
from pinscar.campaign.report_checks import check_report
from pinscar.campaign.run_checks import check_fling_card, check_rig, check_runs, check_scars, leave_out_scars
from pinscar.campaign.scar_readings import fill_scars, number_readings
from pinscar.campaign.tables import name_cells, read_csv, read_text, read_xlsx
from pinscar.campaign.to_fill import check_examples
from pinscar.campaign.toml_file import hidden_marks, locate, read_toml
from pinscar.campaign.traces import drop_answered, read_traces
from pinscar.campaign.typed_dates import told_dates
from pinscar.campaign.typed_table import settle_table
from pinscar.errors import InputError, Problem, Severity


def join_tables(
    file: CampaignFile | None, name: str, runs: Read, steps: Read, readings: Read, known: list[Problem]
) -> tuple[tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame], list[Problem]]:
    r"""Bring runs, load steps and readings together, and check them against each other and campaign.toml.

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
        found += check_names(file, frame, name)
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
    # without [rig] in campaign.toml, weights cannot be compared with loads
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


OTHERS: Mapping[str, str] = MappingProxyType(
    {
        "control": "reference-oil checks",
        "history": "an earlier campaign",
        "reference_history": "an earlier campaign",
    }
)
"""What the folders are that a key of campaign.toml names."""


def read_campaign(folder: Path | str) -> Campaign:
    """Read a campaign folder.

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


def check_campaign(
    folder: Path | str, hashes: Mapping[str, str] | None = None
) -> tuple[Campaign | None, list[Problem]]:
    """Read a campaign folder and list everything that is wrong with it.

    Examples
    --------
    >>> campaign, problems = check_campaign("nowhere")
    >>> [one.code for one in problems]
    ['folder-missing']
    """
    return _check(Path(folder), hashes, with_others=True)


def _check(
    folder: Path, hashes: Mapping[str, str] | None, *, with_others: bool
) -> tuple[Campaign | None, list[Problem]]:
    if not folder.is_dir():
        message = "this is a file and not a folder" if folder.exists() else "there is no such folder"
        return None, [error("folder-missing", str(folder), message, "check the path")]
    strange = list(reach_problems(folder, (*FILES, NOTES), (*EVIDENCE, PICTURES)))
    if strange:
        return None, strange  # a file that must not be reached: open nothing else
    text, problems = _read_settings(folder)
    file, found = (None, []) if text is None else read_toml(text)
    problems += found + hidden_marks(text or "")
    file = _with_oils(folder, file, problems)
    name, found = runs_file(folder)
    # runs_file() already reported this near-miss
    problems += found + [one for one in stray_names(folder) if not any(one.file in two.mend for two in found)]
    dates = told_dates(text or "")
    runs = _read_table(folder, name, RUNS, problems, dates) if name else None
    steps = _read_optional(folder, "load_steps.csv", LOAD_STEPS, problems)
    readings = _read_optional(folder, "readings.csv", READINGS, problems)
    frames = None
    if runs is not None and name is not None:
        frames, found = join_tables(file, name, runs, steps, readings, problems)
        problems += found + check_evidence(folder, list(frames[0]["run_id"]))
    problems += check_fling_card(file.rig if file else None, evidence_files(folder))
    traces, found = read_traces(folder, frames[0] if frames else None)
    problems = drop_answered([*problems, *found], traces.measured)
    others = file if with_others else None
    control = _read_others(folder, hashes, "control", others.campaign.control, problems) if others else ()
    history = _read_others(folder, hashes, "history", others.campaign.history, problems) if others else ()
    earlier = others.campaign.reference_history if others else ()
    earlier_campaigns = _read_others(folder, hashes, "reference_history", earlier, problems)
    problems += check_notes(folder) if with_others else []
    problems += check_report(folder, others, frames[0] if frames else None) if others else []
    problems = [locate(one, text or "") for one in problems]
    problems = _in_order(name_cells(problems, name or "", runs.letters if runs else {}))
    wrong = any(one.severity is Severity.ERROR for one in problems)
    if file is None or frames is None or runs is None or wrong:
        return None, problems
    units = {name: unit for name, unit in runs.units.items() if name != "weights"}
    units |= {"load": "N"} if "weights" in runs.units else {}
    inputs = dict(hashes) if hashes is not None else (hash_inputs if with_others else own_hashes)(folder)
    of_runs, of_steps, of_readings = frames
    campaign = Campaign(
        folder=folder,
        file=file,
        runs=of_runs,
        load_steps=of_steps,
        readings=of_readings,
        units=units,
        problems=tuple(problems),
        inputs=inputs,
        headers=runs.headers,
        control=control,
        traces=traces,
        history=history,
        reference_history=earlier_campaigns,
    )
    return campaign, problems


def _with_oils(folder: Path, file: CampaignFile | None, problems: list[Problem]) -> CampaignFile | None:
    """Add the table of oils, and check compositions over both files."""
    if file is None:
        return None
    joined, found = add_table(folder, file)
    name = lubricants_file(folder) or ""
    problems += found
    problems += placed_in_table(check_compositions(joined), file, joined, name)
    return joined


def _read_others(
    folder: Path,
    hashes: Mapping[str, str] | None,
    key: str,
    names: Sequence[str],
    problems: list[Problem],
) -> tuple[Campaign, ...]:
    """Read the folders that a key names; theirs in turn are not followed, so that two may name each other."""
    found: list[Campaign] = []
    named: dict[Path, str] = {}
    of_table = {} if key == "control" or not names else {_digest_of_runs(folder): "this campaign itself"}
    for number, name in enumerate(names, start=1):
        place, code = f"campaign.{key}[{number}]", key.replace("_", "-")
        if is_absolute(name) or is_outside(folder / name, root_of(folder)):
            message = f"this folder of {OTHERS[key]} lies outside the campaign folder, and is not read"
            mend = "move it in, or write a path from this folder on and name a folder around both: --root"
            problems.append(
                error(f"{code}-outside", "campaign.toml", message, mend, column=place, value=name)
            )
            continue
        if key != "control" and (folder / name).resolve() == folder.resolve():
            message = "this names the campaign itself, whose runs would count twice"
            mend = "name earlier campaigns only"
            problems.append(error(f"{code}-itself", "campaign.toml", message, mend, column=place, value=name))
            continue
        digest = _digest_of_runs(folder / name)
        before = named.get((folder / name).resolve()) or of_table.get(digest)
        named[(folder / name).resolve()] = name
        if before is not None:
            message = f"its runs are those of {before} once more, and would count twice"
            mend = "name each campaign once, and no copy of one"
            problems.append(error(f"{code}-twice", "campaign.toml", message, mend, column=place, value=name))
            continue
        if digest:
            of_table[digest] = name
        known = None if hashes is None else hashes_below(hashes, name)
        campaign, wrong = _check(folder / name, known, with_others=False)
        if campaign is None:
            message = f"this folder of {OTHERS[key]} cannot be used: {wrong[0].message}"
            mend = f"check the path, from this folder on, or mend it: pinscar check {normpath(folder / name)}"
            problems.append(
                error(f"{code}-unreadable", "campaign.toml", message, mend, column=place, value=name)
            )
        else:
            found.append(campaign)
    return tuple(found)


def _digest_of_runs(folder: Path) -> str:
    """Give the digest of a folder's table of runs, which a copy shares; "" where it has none."""
    name = runs_file(folder)[0] if folder.is_dir() and not list(reach_problems(folder, FILES, ())) else None
    if name is None or not (folder / name).is_file():
        return ""
    with (folder / name).open("rb") as stream:
        return file_digest(stream, "sha256").hexdigest()


def _in_order(problems: list[Problem]) -> list[Problem]:
    """Errors first, one per cell; warnings after them, joined where they repeat down a column."""
    warnings = [one for one in problems if one.severity is Severity.WARNING]
    return [*_first([one for one in problems if one.severity is Severity.ERROR]), *condense(warnings)]


def _first(problems: list[Problem]) -> Iterator[Problem]:
    """Tell the first of many errors of one kind: nobody reads the rest, and a hostile table has millions."""
    seen: Counter[tuple[str, str, str | None]] = Counter()
    for one in problems:
        kind = (one.code, one.file, one.column)
        seen[kind] += 1
        if seen[kind] < PROBLEMS:
            yield one
        elif seen[kind] == PROBLEMS:
            yield replace(one, message=f"{one.message}, and further rows have the same that are not told")


def _read_settings(folder: Path) -> tuple[str | None, list[Problem]]:
    if not (folder / "campaign.toml").exists():
        message = "the file that says what is tested is not there"
        mend = "write one (pinscar new makes one to fill in)"
        return None, [error("file-missing", "campaign.toml", message, mend)]
    return read_text(folder / "campaign.toml", "campaign.toml")


def _read_table(
    folder: Path, name: str, columns: tuple[Column, ...], problems: list[Problem], dates: str | None = None
) -> Read | None:
    reader = read_xlsx if name.endswith(".xlsx") else read_csv
    table, found = reader(folder / name, name)
    problems += found
    if table is None:
        return None
    settled = settle_table(table, columns, dates)
    read = read_frame(settled.table, columns)
    top = [replace(one, row=table.header_row) if one.row == 1 else one for one in read.problems]
    problems += [*settled.problems, *top]
    return read


def _read_optional(folder: Path, name: str, columns: tuple[Column, ...], problems: list[Problem]) -> Read:
    """Read a table that needn't be there, nor have rows."""
    found: list[Problem] = []
    read = _read_table(folder, name, columns, found) if (folder / name).exists() else None
    problems += [one for one in found if one.code != "table-no-rows"]
    return read or Read(empty_frame(columns), {}, {}, [])


SETTINGS = ("campaign.toml", *LUBRICANTS)
"""The files that are read where the runs are still to come."""


def read_settings(folder: Path | str) -> CampaignFile:
    """Read campaign.toml of a folder, whatever else is in it.

    Examples
    --------
    >>> read_settings("nowhere")
    Traceback (most recent call last):
        ...
    pinscar.errors.InputError: nowhere: there is no such folder; check the path
    """
    folder = Path(folder)
    if not folder.is_dir():
        message = "this is a file and not a folder" if folder.exists() else "there is no such folder"
        raise InputError([error("folder-missing", str(folder), message, "check the path")])
    strange = list(reach_problems(folder, SETTINGS, ()))
    if strange:
        raise InputError(strange)
    if not (folder / "campaign.toml").exists():
        message = "the file that says what is tested is not there"
        mend = "write one (pinscar new makes one to fill in)"
        raise InputError([error("file-missing", "campaign.toml", message, mend)])
    text, problems = read_text(folder / "campaign.toml", "campaign.toml")
    file, found = (None, []) if text is None else read_toml(text)
    if file is None:
        raise InputError([*problems, *found])
    joined, found = add_table(folder, file)
    wrong = [one for one in found if one.severity is Severity.ERROR]
    if wrong:
        raise InputError(wrong)
    return joined

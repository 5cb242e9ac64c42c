"""Traces of runs, recorded while they ran: read in SI, and checked against the runs they belong to."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.codes import PROBLEMS, condense, error, warning
from pinscar.campaign.columns import TRACE, TRACED, UNLOADED, find_column
from pinscar.campaign.folder import evidence_files
from pinscar.campaign.frames import read_frame, rows_of
from pinscar.campaign.headers import split_header
from pinscar.campaign.kept_traces import Traces
from pinscar.campaign.parquet import read_parquet
from pinscar.campaign.tables import read_csv
from pinscar.errors import Problem, RunError

READINGS = ("friction_force", "motor_power", "temperature")
"""What a trace can tell beside its time."""

OVERRUN = 0.05
"""Share of the duration by which a trace may go on after the run without a warning."""

FRICTION = (0.005, 1.5)
"""Friction force over load outside which the unit or the sign may be wrong (common practice)."""

SHORT = 0.5
"""Share of the run under which a trace covers too little of it to pass without a warning."""

UNITS = {"min": 60.0, "h": 3600.0, "ms": 0.001}
"""What a recorder may count time in, in seconds; it is looked at where a trace does not fit its run."""

FITS = 0.05
"""The end of a trace fits its run to that share of it."""

FORCE = 3.0
"""A friction force is no more than so many times the load; beyond, the recorder was overdriven."""

AT_THE_END, MOST_EQUAL = 4, 0.2
"""So many equal readings in a row at the highest value show a recorder at the end of its range, where fewer
than that share of neighbours are equal elsewhere (a force rounded coarsely is no such sign) [1]."""

COLDEST, HOTTEST = 173.15, 1273.15
"""A thermocouple that reads beyond is broken or open (common practice) [K]."""

DIFFER = 5.0
"""Difference of the typed peak temperature and the trace's [K] without a warning."""


KEPT_BYTES = 32 * 1024 * 1024
"""Traces that are kept once they are read; later ones are read again when they are asked for [bytes]."""


def trace_files(folder: Path) -> dict[str, str]:
    """List the traces by run; of two of a run the csv file, as the warning of the second says.

    Examples
    --------
    >>> trace_files(Path("nowhere"))
    {}
    """
    names = [name for name in evidence_files(folder) if name.startswith("traces/")]
    return {Path(name).stem: name for name in reversed(names)}


def read_traces(folder: Path, runs: pd.DataFrame | None) -> tuple[Traces, list[Problem]]:
    """Read the traces of the included runs, one at a time.

    Readings may be irregular in time and have gaps; a blank cell is a missing reading. Columns that
    pinscar doesn't know are left out, whatever stands in them, as a recorder writes what it likes.

    Examples
    --------
    >>> traces, problems = read_traces(Path("nowhere"), None)
    >>> dict(traces), problems
    ({}, [])
    """
    counted = None if runs is None else {one["run_id"]: one for one in rows_of(runs) if not one["excluded"]}
    files: dict[str, tuple[Path, str]] = {}
    kept: dict[str, pd.DataFrame] = {}
    measured: set[str] = set()
    problems: list[Problem] = []
    room = KEPT_BYTES
    for run_id, name in sorted(trace_files(folder).items(), key=lambda item: item[1]):
        if counted is not None and run_id not in counted:
            continue  # a trace without a run was already reported
        frame, found = read_trace(folder / name, name)
        if frame is not None:
            files[run_id] = ((folder / name).absolute(), name)  # a kernel works elsewhere
            measured |= {column for column in READINGS if frame[column].notna().sum() > 1}
            room -= int(frame.memory_usage().sum())
            if room >= 0:
                kept[run_id] = frame
            found += [] if counted is None or found else check_trace(frame, counted[run_id], name)
        problems += condense(found)
    return Traces(files, kept, frozenset(measured), partial(_again, files)), problems


def _again(files: Mapping[str, tuple[Path, str]], run_id: str) -> pd.DataFrame:
    path, name = files[run_id]
    frame, problems = read_trace(path, name)
    if frame is None:
        raise RunError(f"{name} was read before, and can't be read now: {problems[0].message}")
    return frame


def read_trace(path: Path, name: str) -> tuple[pd.DataFrame | None, list[Problem]]:
    """Read one trace.

    Examples
    --------
    >>> read_trace(Path("nowhere.csv"), "traces/nowhere.csv")[1][0].code
    'file-unreadable'
    """
    reader = read_parquet if path.suffix.lower() == ".parquet" else read_csv
    table, problems = reader(path, name)
    if table is None:
        return None, problems
    read = read_frame(table, TRACE)
    problems += [one for one in read.problems if not _follows(one, problems)]
    problems = [one for one in problems if _is_about_a_known_column(one)]
    if not any(one in read.headers for one in READINGS) and not problems:
        mend = "name one of them friction_force [N], motor_power [W] or temperature [degC]"
        message = "no column beside the time is one that pinscar reads"
        problems.append(error("trace-without-readings", name, message, mend, row=1))
    frame = read.frame
    problems += _order(frame["time"].to_numpy(dtype=float), frame["row"].tolist(), read.headers, name)
    return frame[[column.name for column in TRACE]], problems


def _follows(problem: Problem, found: Sequence[Problem]) -> bool:
    """Tell whether a cell is blank only because its whole column was refused."""
    refused = {one.column for one in found if one.code == "parquet-type"}
    return problem.code == "value-missing" and problem.column in refused


def _is_about_a_known_column(problem: Problem) -> bool:
    if problem.column is None or problem.code in {"column-near-miss", "column-missing"}:
        return True
    return find_column(TRACE, split_header(problem.column)[0]) is not None


def _order(time: Any, rows: Sequence[int], headers: Mapping[str, str], name: str) -> list[Problem]:
    latest = np.fmax.accumulate(np.concatenate([[-np.inf], time]))[:-1] if len(time) else time
    message, mend = "the time does not rise from the row above", "order the rows by time, one row per time"
    column = headers.get("time", "time")
    wrong = itertools.compress(rows, time <= latest)
    return [
        error("trace-order", name, message, mend, row=row, column=column)
        for row in itertools.islice(wrong, PROBLEMS)
    ]


def check_trace(trace: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    """Check a trace against its run.

    Examples
    --------
    >>> trace = pd.DataFrame({"time": [0.0, 30.0, 60.0], "friction_force": [45.0, 40.0, 38.0],
    ...                       "motor_power": [np.nan] * 3, "temperature": [295.0, 310.0, 320.0]})
    >>> run = {"run_id": "1", "duration": 60.0, "load": 450.0, "peak_temperature": 330.0}
    >>> [one.code for one in check_trace(trace, run, "traces/1.csv")]
    ['trace-temperature-differs']
    """
    if not np.isfinite(run["duration"]):  # a problem of the runs table, reported there
        return []
    within = trace[(trace["time"] >= 0.0) & (trace["time"] <= run["duration"])]
    wrong_unit = _time_unit(trace, run, name)
    if wrong_unit:
        return wrong_unit
    return [
        *_span(trace, within, run, name),
        *_impossible(within, run, name),
        *_overdriven(within, name),
        *_friction(within, run, name),
        *_temperature(within, run, name),
    ]


def _span(trace: pd.DataFrame, within: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    shown = f"{run['duration']:.4g} s"
    if len(within) < 2:
        message = f"fewer than two of its rows lie within the run of {shown}, so nothing is taken from it"
    elif within["time"].max() - within["time"].min() < SHORT * run["duration"]:
        first, last = within["time"].min(), within["time"].max()
        message = (
            f"the trace covers {first:.4g} to {last:.4g} s only, and the run lasted {run['duration']:.4g} s"
        )
    elif trace["time"].max() > (1.0 + OVERRUN) * run["duration"] and not _unloaded_after(trace, within, run):
        message = f"the trace goes on to {trace['time'].max():.4g} s, and the run ended at {shown}"
        message += "; what came later is not used"
    else:
        return []
    mend = "check the unit of the time, and the run's duration"
    return [warning("trace-outside-run", name, message, mend, column="time")]


def _time_unit(trace: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    """Tell whether a trace covers its run only if its time is in another unit than its header says."""
    time, duration = trace["time"], run["duration"]
    if time.count() < 3 or SHORT <= time.max() / duration <= 1.0 / SHORT:
        return []
    for unit, seconds in UNITS.items():
        # a trace may go on with the unloaded pin for as long as the run
        fits = (1.0 - FITS) * duration <= seconds * time.max() <= duration / SHORT
        if fits and time.min() <= 0.1 * time.max():
            message = f"the trace ends at {time.max():.4g} s and its run lasted {duration:.4g} s: "
            message += f"its time looks like {unit}"
            mend = f"head the column time [{unit}], or correct the run's duration"
            return [error("trace-time-unit", name, message, mend, row=1, column="time")]
    return []


def _impossible(within: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    """Find what a recorder writes when it is overdriven; an open thermocouple shows as an unusual value."""
    force = within["friction_force"]
    beyond = force.abs() > FORCE * run["load"]
    if not 0 < int(beyond.sum()) < 0.5 * force.count():
        return []
    value, at = force[beyond].iloc[0], within.loc[beyond, "time"].iloc[0]
    message = f"{int(beyond.sum())} of its readings lie beyond {FORCE:.0f} times the load, the first, "
    message += f"{value:.3g} N, at {at:.4g} s"
    mend = "they are left out; check the sensor's cable and the recorder's range"
    return [warning("trace-impossible", name, message, mend, column="friction_force")]


def _overdriven(within: pd.DataFrame, name: str) -> list[Problem]:
    """Find a force that stands at the highest value of all: the recorder was at the end of its range."""
    force = within["friction_force"].dropna().to_numpy(dtype=float)
    if force.size < AT_THE_END:
        return []
    top = float(force.max())
    at_top = force == top
    edges = np.flatnonzero(np.diff(np.concatenate([[False], at_top, [False]]).astype(int)))
    others = force[~at_top]
    equal = float(np.mean(np.diff(others) == 0.0)) if others.size > 1 else 1.0
    if int(np.max(np.diff(edges)[::2])) < AT_THE_END or equal >= MOST_EQUAL:
        return []
    count = int(np.count_nonzero(at_top))
    message = f"{count} of its readings stand at the same highest value, {top:.4g} N, some in a row: the"
    message += " recorder was at the end of its range"
    mend = "record with a wider range; where these are over 2 % of the run, nothing is taken from the force"
    return [warning("trace-impossible", name, message, mend, column="friction_force")]


def _unloaded_after(trace: pd.DataFrame, within: pd.DataFrame, run: Mapping[str, Any]) -> bool:
    """Tell whether the trace goes on with an unloaded pin, which shows the zero of its force."""
    after = trace.loc[trace["time"] > run["duration"], "friction_force"].median()
    return bool(abs(after) <= UNLOADED * within["friction_force"].median())


def _friction(within: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    force = within["friction_force"].median()
    ratio = force / run["load"]
    if np.isnan(ratio) or FRICTION[0] <= ratio <= FRICTION[1]:
        return []
    message = f"the friction force is {ratio:.2g} times the run's load of {run['load']:.4g} N"
    mend = "check its unit, its sign and its zero"
    return [warning("trace-friction-unusual", name, message, mend, column="friction_force")]


def _temperature(within: pd.DataFrame, run: Mapping[str, Any], name: str) -> list[Problem]:
    warmth = within["temperature"]
    off = warmth[(warmth > COLDEST) & (warmth < HOTTEST)].max() - run["peak_temperature"]
    if np.isnan(off) or abs(off) <= DIFFER:
        return []
    side = "above" if off > 0 else "below"
    message = f"the highest temperature lies {abs(off):.2g} K {side} the peak_temperature of run"
    message = f"{message} {run['run_id']}"
    mend = "check both; the peak_temperature in the table of runs is the one used"
    return [warning("trace-temperature-differs", name, message, mend, column="temperature")]


def drop_answered(problems: Sequence[Problem], measured: Collection[str]) -> list[Problem]:
    """Take out the warning that no run has data for a response where traces have measured it.

    Examples
    --------
    >>> drop_answered([warning("response-without-data", "campaign.toml", "m", "n", value="temperature_rise")],
    ...               {"temperature"})
    []
    """
    sources = {**TRACED, "temperature_rise": "temperature"}
    answered = {response for response, column in sources.items() if column in measured}
    return [one for one in problems if not (one.code == "response-without-data" and one.value in answered)]

"""Fill the blank cells of the runs table from recordings, traces and pictures, beside the table itself.

Quiet times come from recordings, temperatures from traces, scar axes from micrographs and fling areas from
cards, each only where nobody typed a value.
"""

from __future__ import annotations

import os
from codecs import BOM_UTF8
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pinscar.bench.gather_traces import step_starts, warmings_of
from pinscar.bench.gathered import UNITS, readings_table
from pinscar.campaign.campaign import check_campaign, read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import evidence_by_run, runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.kept_traces import Traces
from pinscar.campaign.table_text import Filling, Found, LeftBlank, filled_text, read_runs_table
from pinscar.campaign.traces import read_traces, trace_files
from pinscar.decision.evidence import NO_BOUND, largest_scar, read_card, scale_of_run
from pinscar.decision.media import read_picture
from pinscar.decision.recordings import hear_file
from pinscar.decision.traces import add_trace_temperatures
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.evidence.scar_image import ScarReading, measure_scar
from pinscar.evidence.sound import QuietHeard
from pinscar.press.files import cannot_write, put_file


def scale_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scale from the bar on the micrograph of each run that names its length and no scale."""
    files = evidence_by_run(folder, "micrographs")
    for run in runs.to_dict("records"):
        file, bar = files.get(run["run_id"]), float(run["scale_bar"])
        if file is None or np.isnan(bar):
            continue
        if not pd.isna(run["micrograph_scale"]):
            yield LeftBlank(run_id=run["run_id"], column="micrograph_scale", source=file, reason="typed")
            continue
        try:
            found = scale_of_run(read_picture(folder / file), np.nan, bar)
        except InputError as error:
            yield LeftBlank(
                run_id=run["run_id"], column="micrograph_scale", source=file, reason=error.problems[0].message
            )
            continue
        if found.from_bar:
            source = f"scale bar on {file}"
            yield Filling(
                row=run["row"],
                run_id=run["run_id"],
                column="micrograph_scale",
                value=found.size,
                source=source,
            )
        else:
            yield LeftBlank(
                run_id=run["run_id"], column="micrograph_scale", source=file, reason=found.why_not
            )


def with_scales(runs: pd.DataFrame, fillings: list[Filling]) -> pd.DataFrame:
    """Put scales read from bars into the runs, so that their scars can be read in the same pass."""
    found = runs["run_id"].map({one.run_id: one.value for one in fillings})
    return runs.assign(micrograph_scale=runs["micrograph_scale"].fillna(found.astype(float)))


AXES = ("scar_length", "scar_width")


def scar_fillings(folder: Path, runs: pd.DataFrame, *, compare: bool = False) -> Iterator[Found]:
    """Read the scar on the micrograph of each run that has a blank axis, or of each to compare."""
    files = evidence_by_run(folder, "micrographs")
    largest = largest_scar(read_settings(folder).rig) if files else NO_BOUND
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = not any(pd.isna(run[axis]) for axis in AXES)
        if typed and not compare:
            yield from (
                LeftBlank(run_id=run["run_id"], column=axis, source=file, reason=TYPED) for axis in AXES
            )
            continue
        reading, why_not = _measured(folder / file, float(run["micrograph_scale"]), largest)
        for axis in AXES:
            read, u, score = _axis(reading, axis)
            was = None if pd.isna(run[axis]) else float(run[axis])
            if was is not None or why_not:
                said = TYPED if was is not None else why_not
                yield LeftBlank(
                    run_id=run["run_id"],
                    column=axis,
                    source=file,
                    reason=said,
                    typed=was,
                    read=None if why_not else read,
                    uncertainty=u,
                    score=score,
                )
            elif read is not None:
                yield Filling(
                    row=run["row"],
                    run_id=run["run_id"],
                    column=axis,
                    value=read,
                    source=file,
                    uncertainty=u,
                    score=score,
                )


def _axis(reading: ScarReading | None, axis: str) -> tuple[float | None, float | None, float | None]:
    """Give value, standard uncertainty and score of an axis."""
    if reading is None:
        return None, None, None
    if axis == "scar_length":
        return reading.length, reading.length_uncertainty, reading.score
    return reading.width, reading.width_uncertainty, reading.score


def _measured(path: Path, scale: float, largest: tuple[float, float]) -> tuple[ScarReading | None, str]:
    """Measure a scar, or say why not."""
    if np.isnan(scale):
        return None, "its row has no micrograph_scale, and no scale_bar that was read"
    try:
        reading = measure_scar(read_picture(path), scale, largest=largest)
    except InputError as error:
        return None, error.problems[0].message
    except ValueError as error:
        return None, str(error)
    if not reading.accepted or reading.length is None or reading.width is None:
        return reading, reading.reason
    return reading, ""


COLUMN = "fling_area"


def fling_fillings(folder: Path, runs: pd.DataFrame, *, compare: bool = False) -> Iterator[Found]:
    """Read the card of each run that has one and a blank fling area, or of each to compare."""
    files = evidence_by_run(folder, "fling")
    sides = read_settings(folder).rig.fling_card if files else None
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = None if pd.isna(run[COLUMN]) else float(run[COLUMN])
        if typed is not None and not compare:
            yield LeftBlank(run_id=run["run_id"], column=COLUMN, source=file, reason=TYPED)
            continue
        area, u, why_not = _read(folder / file, sides)
        if typed is not None or area is None:
            said = TYPED if typed is not None else why_not
            yield LeftBlank(
                run_id=run["run_id"],
                column=COLUMN,
                source=file,
                reason=said,
                typed=typed,
                read=area,
                uncertainty=u,
            )
        else:
            yield Filling(
                row=run["row"], run_id=run["run_id"], column=COLUMN, value=area, source=file, uncertainty=u
            )


def _read(path: Path, sides: tuple[float, float] | None) -> tuple[float | None, float | None, str]:
    """Covered area and its standard uncertainty [m²], or why there is none."""
    if sides is None:
        return None, None, "the size of the card is not given: campaign.toml has no fling_card"
    try:
        reading = read_card(path, sides)
    except InputError as error:
        return None, None, error.problems[0].message
    return reading.fling_area, reading.fling_area_uncertainty, reading.reason


ENDS = ("quiet_after", "quiet_before")
"""The two ends of a quiet time that is known as an interval."""

TYPED = "typed"
"""Why a cell with evidence is left alone: a person's value stands in it."""

NAME = "runs_gathered.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """What was gathered.

    Attributes
    ----------
    table : str
        The runs table that was read.
    file : str
        The file written; empty where nothing was filled, and then nothing is written.
    filled : tuple of Filling
        The cells filled.
    left : tuple of LeftBlank
        The cells that have evidence and stayed blank.
    kept : int
        Cells with evidence in which a person's value stands.
    compared : tuple of LeftBlank
        Of those, the ones whose evidence was read beside them.
    """

    table: str
    file: str
    filled: tuple[Filling, ...]
    left: tuple[LeftBlank, ...]
    kept: int
    compared: tuple[LeftBlank, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``."""
        return {
            "file": self.file,
            "filled": [asdict(one) for one in self.filled],
            "left_blank": [asdict(one) for one in self.left],
            "kept_typed": self.kept,
            "compared": [asdict(one) for one in self.compared],
        }

    def told(self) -> list[str]:
        """Return the lines that the command prints, filled cells first."""
        lines = [f"{one.run_id}: {one.column} filled from {one.source}" for one in self.filled]
        lines += [f"{one.run_id}: {one.column} left blank: {one.source}: {one.reason}" for one in self.left]
        lines = [*readings_table([*self.filled, *self.left, *self.compared]), *lines]
        counts = f"{len(self.filled)} filled, {len(self.left)} left blank, {self.kept} kept as typed"
        if not self.file:
            return [*lines, f"nothing written: {counts}"]
        away = "" if self.table == "runs.csv" else f", and move {self.table} out of the folder"
        return [*lines, f"{self.file}: {counts}", f"look it over; to use it, rename it to runs.csv{away}"]


Teller = Callable[[Gathered], object]
"""What is done with what was found before anything is written."""


def gather(
    folder: Path,
    *,
    force: bool = False,
    compare: bool = False,
    write: bool = True,
    told: Teller | None = None,
) -> Gathered:
    """Write runs_gathered.csv: the runs table with its blank cells filled from evidence.

    A value typed by a person stays as it is; to compare, its evidence is read as well. Excluded runs are
    left alone. What was found is handed to ``told`` before anything is written.
    """
    name = checked_table(folder)
    if write and os.path.lexists(folder / NAME) and not force:
        raise UsageError(f"{folder / NAME} already exists; --force replaces it, --look leaves it")
    table = read_runs_table(folder, name)
    runs = read_frame(table, RUNS).frame
    runs = runs[runs["excluded"] == ""]
    scales = list(scale_fillings(folder, runs))
    scaled = with_scales(runs, [one for one in scales if isinstance(one, Filling)])
    starts = step_starts(folder)
    found = [*_quiet_times(folder, runs, compare=compare), *_temperatures(folder, runs, starts), *scales]
    found += scar_fillings(folder, scaled, compare=compare)
    found += fling_fillings(folder, runs, compare=compare)
    # what stands for a typed cell is dropped here, and counted as kept
    blank = _blank_cells(runs)
    filled = tuple(one for one in found if isinstance(one, Filling) and (one.run_id, one.column) in blank)
    left = tuple(one for one in found if isinstance(one, LeftBlank) and (one.run_id, one.column) in blank)
    kept = len(found) - len(filled) - len(left)
    compared = tuple(one for one in found if isinstance(one, LeftBlank) and one.typed is not None)
    file = NAME if filled and write else ""
    result = Gathered(table=name, file=file, filled=filled, left=left, kept=kept, compared=compared)
    if told is not None:
        told(result)
    if filled and write:
        # Spreadsheets tell UTF-8 by the mark in front of it, so it stays.
        marked = name.endswith(".csv") and (folder / name).read_bytes().startswith(BOM_UTF8)
        text = filled_text(table, list(filled), dict(UNITS))
        _write(folder / NAME, text, "utf-8-sig" if marked else "utf-8")
    return result


def checked_table(folder: Path) -> str:
    """Refuse a folder with errors; that runs are still to be made and read is none here."""
    _, problems = check_campaign(folder)
    name, missing = runs_file(folder) if folder.is_dir() else (None, [])
    errors = [
        one
        for one in problems
        if one.severity is Severity.ERROR and not _is_to_come(one, name) and not _is_of_a_trace(one)
    ]
    if errors or name is None:
        raise InputError(errors or missing)
    return name


def _is_of_a_trace(problem: Problem) -> bool:
    """Tell whether a problem is that of one trace, which keeps the cells of its run blank and no other's."""
    return str(problem.file).startswith("traces/")


def _is_to_come(problem: Problem, name: str | None) -> bool:
    about_scar = problem.file == name and (problem.column or "").startswith("scar_length")
    return problem.code == "block-missing" or (problem.code == "value-missing" and about_scar)


def _blank_cells(runs: pd.DataFrame) -> set[tuple[str, str]]:
    """List the cells that are blank; a column that is not there is blank in every row."""
    return {(run["run_id"], name) for run in runs.to_dict("records") for name in UNITS if pd.isna(run[name])}


def _quiet_times(folder: Path, runs: pd.DataFrame, *, compare: bool = False) -> Iterator[Found]:
    files = evidence_by_run(folder, "sound")
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = None if pd.isna(run["quiet_time"]) else float(run["quiet_time"])
        if typed is not None and not compare:
            yield LeftBlank(run_id=run["run_id"], column="quiet_time", source=file, reason=TYPED)
            continue
        heard = hear_file(folder / file, float(run["duration"]), run_at=run.get("run_at"))
        if heard.faded and typed is None:
            yield from _faded(heard, run, file)
            continue
        u = _half_width(heard)
        if typed is not None or heard.quiet_time is None:
            said = TYPED if typed is not None else heard.reason
            yield LeftBlank(
                run_id=run["run_id"],
                column="quiet_time",
                source=file,
                reason=said,
                typed=typed,
                read=heard.quiet_time,
                uncertainty=u,
            )
        else:
            yield Filling(
                row=run["row"],
                run_id=run["run_id"],
                column="quiet_time",
                value=heard.quiet_time,
                source=file,
                uncertainty=u,
            )


def _faded(heard: QuietHeard, run: Mapping[Any, Any], file: str) -> Iterator[Found]:
    """Give the two ends of a noise that only fades; a person's stay, both of them."""
    typed = [float(run[name]) for name in ENDS]
    for name, value in zip(ENDS, (heard.low, heard.high), strict=True):
        if not np.isnan(typed).all():
            yield LeftBlank(run_id=run["run_id"], column=name, source=file, reason=TYPED)
        elif value is not None:
            yield Filling(row=run["row"], run_id=run["run_id"], column=name, value=value, source=file)


def _half_width(heard: QuietHeard) -> float | None:
    """Give the standard uncertainty that a 95 % interval stands for: a quarter of it, nearly."""
    if heard.low is None or heard.high is None or heard.quiet_time is None:
        return None
    return (heard.high - heard.low) / 3.92


def readable_traces(folder: Path, runs: pd.DataFrame) -> tuple[Traces, dict[str, str]]:
    """Read the traces, and say of each run whose trace was refused why."""
    traces, problems = read_traces(folder, runs)
    wrong = {one.file: one.message for one in reversed(problems) if one.severity is Severity.ERROR}
    known = set(runs["run_id"])
    files = trace_files(folder).items()
    return traces, {name: wrong[file] for name, file in files if file in wrong and name in known}


def _temperatures(folder: Path, runs: pd.DataFrame, starts: Mapping[str, Sequence[float]]) -> Iterator[Found]:
    files = trace_files(folder)
    traces, refused = readable_traces(folder, runs)
    for run_id, why_not in refused.items():
        for name in ("peak_temperature", "ambient_temperature"):
            yield LeftBlank(run_id=run_id, column=name, source=files[run_id], reason=why_not)
    blank = runs.assign(peak_temperature=float("nan"), ambient_temperature=float("nan"))
    warmings = warmings_of(runs, traces, refused, starts)
    read = add_trace_temperatures(blank, warmings)
    own = runs.set_index("run_id")
    for run in read.to_dict("records"):
        if run["run_id"] not in warmings:
            continue
        file = files[run["run_id"]]
        for name in ("peak_temperature", "ambient_temperature"):
            if pd.isna(run[name]):
                reason = "it has no two temperatures within the run"
                yield LeftBlank(run_id=run["run_id"], column=name, source=file, reason=reason)
                continue
            warming, value = warmings[run["run_id"]], float(run[name])
            of_peak = name == "peak_temperature"
            assert warming is not None  # else there were no numbers
            u: float | None = warming.peak_uncertainty if of_peak else warming.start_uncertainty
            u = None if u is None or np.isnan(u) else float(u)
            typed = float(own.loc[run["run_id"], name])
            if np.isnan(typed):
                yield Filling(
                    row=run["row"], run_id=run["run_id"], column=name, value=value, source=file, uncertainty=u
                )
            else:
                yield LeftBlank(
                    run_id=run["run_id"],
                    column=name,
                    source=file,
                    reason=TYPED,
                    typed=typed,
                    read=value,
                    uncertainty=u,
                )


def _write(path: Path, text: str, encoding: str) -> None:
    try:
        put_file(path, text.encode(encoding))
    except OSError as error:
        raise cannot_write(path.parent, error) from error

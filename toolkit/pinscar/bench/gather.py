"""Fill the blank cells of the runs table from recordings, traces and pictures, beside the table itself.

Quiet times come from recordings, temperatures from traces, scar axes from micrographs and fling areas from
cards, each only where nobody typed a value.
"""

from __future__ import annotations

import os
from codecs import BOM_UTF8
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.campaign import check_campaign, read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import evidence_by_run, runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.table_text import Filling, Found, LeftBlank, filled_text, read_runs_table
from pinscar.campaign.traces import read_traces, trace_files
from pinscar.decision.picture_file import read_picture
from pinscar.decision.pictures import read_card, scale_of_run
from pinscar.decision.recordings import hear_file
from pinscar.decision.traces import add_trace_temperatures, warming_of
from pinscar.errors import InputError, UsageError
from pinscar.evidence.scar_image import measure_scar
from pinscar.evidence.warming import Warming
from pinscar.press.files import cannot_write, put_file
from pinscar.problems import Problem, Severity


def scale_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scale from the bar on the micrograph of each run that names its length and no scale."""
    files = evidence_by_run(folder, "micrographs")
    for run in runs.to_dict("records"):
        file, bar = files.get(run["run_id"]), float(run["scale_bar"])
        if file is None or np.isnan(bar):
            continue
        if not pd.isna(run["micrograph_scale"]):
            yield LeftBlank(run["run_id"], "micrograph_scale", file, "typed")
            continue
        try:
            found = scale_of_run(read_picture(folder / file), np.nan, bar)
        except InputError as error:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, error.problems[0].message)
            continue
        if found.from_bar:
            source = f"scale bar on {file}"
            yield Filling(run["row"], run["run_id"], "micrograph_scale", found.size, source)
        else:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, found.why_not)


def with_scales(runs: pd.DataFrame, fillings: list[Filling]) -> pd.DataFrame:
    """Put scales read from bars into the runs, so that their scars can be read in the same pass."""
    found = runs["run_id"].map({one.run_id: one.value for one in fillings})
    return runs.assign(micrograph_scale=runs["micrograph_scale"].fillna(found.astype(float)))


AXES = ("scar_length", "scar_width")


def scar_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scar on the micrograph of each run that has a blank axis."""
    files = evidence_by_run(folder, "micrographs")
    pin = read_settings(folder).rig.pin_diameter if files else None
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = not any(pd.isna(run[axis]) for axis in AXES)
        scale = float(run["micrograph_scale"])
        axes, why_not = ((), "typed") if typed else _measured(folder / file, scale, pin)
        if why_not:
            yield from (LeftBlank(run["run_id"], axis, file, why_not) for axis in AXES)
        else:
            for axis, value in zip(AXES, axes, strict=True):
                yield Filling(run["row"], run["run_id"], axis, value, file)


def _measured(path: Path, scale: float, pin: float | None) -> tuple[tuple[float, ...], str]:
    """Length and width, or why there are none."""
    if np.isnan(scale):
        return (), "its row has no micrograph_scale, and no scale_bar that was read"
    try:
        reading = measure_scar(read_picture(path), scale, pin_diameter=pin)
    except InputError as error:
        return (), error.problems[0].message
    except ValueError as error:
        return (), str(error)
    if not reading.accepted or reading.length is None or reading.width is None:
        return (), reading.reason
    return (reading.length, reading.width), ""


COLUMN = "fling_area"


def fling_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the card of each run that has one and a blank fling area."""
    files = evidence_by_run(folder, "fling")
    sides = read_settings(folder).rig.fling_card if files else None
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = not pd.isna(run[COLUMN])
        area, why_not = (None, "typed") if typed else _read(folder / file, sides)
        if area is None:
            yield LeftBlank(run["run_id"], COLUMN, file, why_not)
        else:
            yield Filling(run["row"], run["run_id"], COLUMN, area, file)


def _read(path: Path, sides: tuple[float, float] | None) -> tuple[float | None, str]:
    """Covered area [m²], or why there is none."""
    if sides is None:
        return None, "the size of the card is not given: campaign.toml has no fling_card"
    try:
        reading = read_card(path, sides)
    except InputError as error:
        return None, error.problems[0].message
    return reading.fling_area, reading.reason


NAME = "runs_gathered.csv"
UNITS = {
    "quiet_time": "s",
    "peak_temperature": "degC",
    "ambient_temperature": "degC",
    "scar_length": "mm",
    "scar_width": "mm",
    "micrograph_scale": "um/px",
    "fling_area": "mm^2",
}


@dataclass(frozen=True, slots=True)
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
    """

    table: str
    file: str
    filled: tuple[Filling, ...]
    left: tuple[LeftBlank, ...]
    kept: int

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``."""
        return {
            "file": self.file,
            "filled": [asdict(one) for one in self.filled],
            "left_blank": [asdict(one) for one in self.left],
            "kept_typed": self.kept,
        }

    def told(self) -> list[str]:
        """Return the lines that the command prints, filled cells first."""
        lines = [f"{one.run_id}: {one.column} filled from {one.source}" for one in self.filled]
        lines += [f"{one.run_id}: {one.column} left blank: {one.source}: {one.reason}" for one in self.left]
        counts = f"{len(self.filled)} filled, {len(self.left)} left blank, {self.kept} kept as typed"
        if not self.file:
            return [*lines, f"nothing written: {counts}"]
        away = "" if self.table == "runs.csv" else f", and move {self.table} out of the folder"
        return [*lines, f"{self.file}: {counts}", f"look it over; to use it, rename it to runs.csv{away}"]


def gather(folder: Path, *, force: bool = False) -> Gathered:
    """Write runs_gathered.csv: the runs table with its blank cells filled from evidence.

    A value typed by a person stays as it is. Excluded runs are left alone.
    """
    name = _checked(folder)
    if os.path.lexists(folder / NAME) and not force:
        raise UsageError(f"{folder / NAME} already exists; --force replaces it")
    table = read_runs_table(folder, name)
    runs = read_frame(table, RUNS).frame
    runs = runs[runs["excluded"] == ""]
    scales = list(scale_fillings(folder, runs))
    scaled = with_scales(runs, [one for one in scales if isinstance(one, Filling)])
    found = [*_quiet_times(folder, runs), *_temperatures(folder, runs), *scales]
    found += scar_fillings(folder, scaled)
    found += fling_fillings(folder, runs)
    # what stands for a typed cell is dropped here, and counted as kept
    blank = _blank_cells(runs)
    filled = tuple(one for one in found if isinstance(one, Filling) and (one.run_id, one.column) in blank)
    left = tuple(one for one in found if isinstance(one, LeftBlank) and (one.run_id, one.column) in blank)
    if filled:
        # Spreadsheets tell UTF-8 by the mark in front of it, so it stays.
        marked = name.endswith(".csv") and (folder / name).read_bytes().startswith(BOM_UTF8)
        text = filled_text(table, list(filled), UNITS)
        _write(folder / NAME, text, "utf-8-sig" if marked else "utf-8")
    return Gathered(name, NAME if filled else "", filled, left, len(found) - len(filled) - len(left))


def _checked(folder: Path) -> str:
    """Refuse a folder with errors; that runs are still to be made and read is none here."""
    _, problems = check_campaign(folder)
    name, missing = runs_file(folder) if folder.is_dir() else (None, [])
    errors = [one for one in problems if one.severity is Severity.ERROR and not _is_to_come(one, name)]
    if errors or name is None:
        raise InputError(errors or missing)
    return name


def _is_to_come(problem: Problem, name: str | None) -> bool:
    about_scar = problem.file == name and (problem.column or "").startswith("scar_length")
    return problem.code == "block-missing" or (problem.code == "value-missing" and about_scar)


def _blank_cells(runs: pd.DataFrame) -> set[tuple[str, str]]:
    """List the cells that are blank; a column that is not there is blank in every row."""
    return {(run["run_id"], name) for run in runs.to_dict("records") for name in UNITS if pd.isna(run[name])}


def _quiet_times(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    files = evidence_by_run(folder, "sound")
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        if not pd.isna(run["quiet_time"]):
            yield LeftBlank(run["run_id"], "quiet_time", file, "typed")
            continue
        heard = hear_file(folder / file, float(run["duration"]))
        if heard.quiet_time is None:
            yield LeftBlank(run["run_id"], "quiet_time", file, heard.reason)
        else:
            yield Filling(run["row"], run["run_id"], "quiet_time", heard.quiet_time, file)


def _temperatures(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    traces, _ = read_traces(folder, runs)
    files = trace_files(folder)
    blank = runs.assign(peak_temperature=float("nan"), ambient_temperature=float("nan"))
    read = add_trace_temperatures(blank, _warmings(runs, traces))
    for run in read.to_dict("records"):
        if run["run_id"] not in traces:
            continue
        file = files[run["run_id"]]
        for name in ("peak_temperature", "ambient_temperature"):
            if pd.isna(run[name]):
                reason = "it has no two temperatures within the run"
                yield LeftBlank(run["run_id"], name, file, reason)
            else:
                yield Filling(run["row"], run["run_id"], name, float(run[name]), file)


def _warmings(runs: pd.DataFrame, traces: Mapping[str, pd.DataFrame]) -> dict[str, Warming | None]:
    durations = dict(zip(runs["run_id"], runs["duration"], strict=True))
    return {name: warming_of(trace, durations[name]) for name, trace in traces.items()}


def _write(path: Path, text: str, encoding: str) -> None:
    try:
        put_file(path, text.encode(encoding))
    except OSError as error:
        raise cannot_write(path.parent, error) from error

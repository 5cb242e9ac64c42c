"""Repeated scar readings: numbered, checked against the runs, and used where a run's own scar is blank."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.codes import error, warning
from pinscar.campaign.frames import rows_of
from pinscar.problems import Problem

DIFFER = 0.05
"""Share by which the runs' scar and the readings' mean may differ without a warning."""

FILE = "readings.csv"


def number_readings(readings: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Give readings without a number one, and find numbers used twice.

    Parameters
    ----------
    readings : DataFrame
        Readings with ``run_id``, ``reader``, ``reading`` and ``row``.

    Returns
    -------
    tuple of DataFrame and list of Problem
        The readings, and what is wrong.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> readings = pd.DataFrame({"run_id": ["1", "1"], "reader": ["A", "A"], "reading": ["", ""],
    ...                          "row": [2, 3]})
    >>> number_readings(readings)[0]["reading"].tolist()
    ['1', '2']
    """
    counted = (readings.groupby(["run_id", "reader"]).cumcount() + 1).astype(str)
    readings = readings.assign(reading=readings["reading"].where(readings["reading"] != "", counted))
    twice = readings[readings.duplicated(["run_id", "reader", "reading"]) & (readings["run_id"] != "")]
    mend = "number the readings 1, 2, 3 in the column reading, or take one out"
    problems = []
    for one in rows_of(twice):
        message = f"{one['reader']} has a second reading {one['reading']} of run {one['run_id']}"
        problems.append(error("readings-twice", FILE, message, mend, row=one["row"], column="reading"))
    return readings, problems


def fill_scars(
    runs: pd.DataFrame, readings: pd.DataFrame, columns: dict[str, str], file: str
) -> tuple[pd.DataFrame, list[Problem]]:
    """Take a blank scar from the readings: the mean of the readers' means.

    Parameters
    ----------
    runs : DataFrame
        Runs with ``scar_length`` and ``scar_width`` [m].
    readings : DataFrame
        Readings with the same columns [m] and ``blind_code``; may be empty.
    columns : dict of str to str
        Headers of the runs table, for problems.
    file : str
        Name of the runs table.

    Returns
    -------
    tuple of DataFrame and list of Problem
        Runs with ``scar_from`` and ``width_from`` ("runs", "readings" or "") and ``read_by_code`` (whether
        the length is from readings that all have a blind code), and what is wrong.

    References
    ----------
    Own definition; the mean of means weighs every reader alike, whoever read oftener.

    Examples
    --------
    >>> runs = pd.DataFrame({"run_id": ["1"], "scar_length": [np.nan], "scar_width": [np.nan],
    ...                      "excluded": [""], "row": [2]})
    >>> readings = pd.DataFrame({"run_id": ["1"] * 3, "reader": ["A", "A", "B"],
    ...                          "scar_length": [0.002, 0.004, 0.005], "scar_width": [np.nan] * 3,
    ...                          "blind_code": ["K07", "K31", "M02"], "row": [2, 3, 4]})
    >>> runs, problems = fill_scars(runs, readings, {}, "runs.csv")
    >>> runs["scar_length"].tolist(), runs["scar_from"].tolist(), runs["width_from"].tolist()
    ([0.004], ['readings'], [''])
    >>> runs["read_by_code"].tolist()
    [True]
    """
    problems = unknown_runs(runs["run_id"].tolist(), readings)
    means = (
        readings.groupby(["run_id", "reader"])[["scar_length", "scar_width"]].mean().groupby("run_id").mean()
    )
    for name, origin in (("scar_length", "scar_from"), ("scar_width", "width_from")):
        own = runs[name].to_numpy(dtype=float)
        read = means[name].reindex(runs["run_id"]).to_numpy(dtype=float)
        problems += _differences(runs, own, read, columns.get(name, name), file)
        source = np.where(~np.isnan(own), "runs", np.where(~np.isnan(read), "readings", ""))
        runs = runs.assign(**{name: np.where(np.isnan(own), read, own)})
        runs[origin] = pd.Series(source.tolist(), dtype=object, index=runs.index)
    coded = (readings["blind_code"] != "").groupby(readings["run_id"]).all()
    by_code = runs["run_id"].map(coded.to_dict()).eq(True)
    runs = runs.assign(read_by_code=by_code & (runs["scar_from"] == "readings"))
    if "scar_length" in columns:
        problems += _blank_scars(runs, columns["scar_length"], file)
    return runs, problems


def unknown_runs(run_ids: Collection[str], readings: pd.DataFrame) -> list[Problem]:
    """Find readings of runs that there aren't.

    Parameters
    ----------
    run_ids : collection of str
        The runs there are.
    readings : DataFrame
        Readings with ``run_id`` and ``row``; a blank run_id is told elsewhere.

    Returns
    -------
    list of Problem
        One a reading.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> readings = pd.DataFrame({"run_id": ["1", "l"], "row": [2, 3]})
    >>> [(one.row, one.value, one.message) for one in unknown_runs(["1"], readings)]
    [(3, 'l', 'no run has this run_id')]
    """
    message, mend = "no run has this run_id", "correct the run_id, or take the row out"
    known = {"", *run_ids}
    return [
        error("readings-unknown-run", FILE, message, mend, row=row, column="run_id", value=run_id)
        for run_id, row in zip(readings["run_id"], readings["row"], strict=True)
        if run_id not in known
    ]


def _differences(
    runs: pd.DataFrame, own: NDArray[np.float64], read: NDArray[np.float64], column: str, file: str
) -> list[Problem]:
    found = []
    for run, mine, theirs in zip(rows_of(runs), own, read, strict=True):
        if abs(mine - theirs) > DIFFER * mine:
            shown, here = f"{theirs * 1e3:.4g} mm", f"{mine * 1e3:.4g} mm"
            message = f"the readings' mean {shown} is more than 5 % off the {here} here"
            mend = f"check run {run['run_id']} in both files; the value here is the one used"
            found.append(warning("readings-differ", file, message, mend, row=run["row"], column=column))
    return found


def _blank_scars(runs: pd.DataFrame, column: str, file: str) -> list[Problem]:
    mend = "fill it in, give its readings in readings.csv, or write the reason in the column excluded"
    blank = runs["row"][runs["scar_length"].isna() & (runs["excluded"] == "")]
    return [
        error("value-missing", file, "the scar length is blank", mend, row=row, column=column)
        for row in blank.tolist()
    ]

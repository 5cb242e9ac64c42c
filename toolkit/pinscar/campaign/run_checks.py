"""What a bench hand would notice in runs.csv and in the rig: values that are possible but hardly meant."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.codes import error, warning
from pinscar.campaign.frames import rows_of
from pinscar.campaign.model import Rig
from pinscar.errors import Problem
from pinscar.shown import to_shown
from pinscar.units import to_unit


def check_runs(runs: pd.DataFrame, headers: dict[str, str], file: str) -> list[Problem]:
    """Check the runs for what can't be, or hardly can be, true, whatever the rig.

    Examples
    --------
    >>> runs = pd.DataFrame({"run_id": ["a/b"], "excluded": [""], "row": [2], "quiet_time": [1.0],
    ...                      "duration": [2.0], "wear_stopped": [""], "peak_temperature": [np.nan],
    ...                      "ambient_temperature": [np.nan], "run_at": [pd.NaT], "run_day": [pd.NaT]})
    >>> [one.code for one in check_runs(runs, {}, "runs.csv")]
    ['run-id-characters']
    """
    found = [*_ids(runs, headers, file)]
    counted = runs[runs["excluded"] == ""]
    if runs.empty:
        return found
    if counted.empty:
        mend = "leave the column excluded blank for the runs to include"
        return [
            *found,
            error("runs-all-excluded", file, "every run is excluded, so nothing can be evaluated", mend),
        ]
    for run in rows_of(counted):
        found += [
            *_quiet(run, headers, file),
            *_faded(run, headers, file),
            *_temperatures(run, headers, file),
            *_days(run, headers, file),
        ]
    return found


LONGEST_ID = 150
"""Most characters of a run_id: files are named after it, and many systems end at 255 bytes a name."""


def _ids(runs: pd.DataFrame, headers: dict[str, str], file: str) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for run_id, row in zip(runs["run_id"], runs["row"], strict=True):
        place = {"row": int(row), "column": headers.get("run_id", "run_id"), "value": run_id}
        if not run_id:
            continue
        if run_id in first:
            mend = "give every run its own run_id"
            yield error("run-id-twice", file, f"row {first[run_id]} has this run_id too", mend, **place)
        first.setdefault(run_id, int(row))
        if re.search(r'[\x00-\x1f/\\:*?"<>|]', run_id) or run_id in {".", ".."}:
            mend = "use letters, digits, points, hyphens and underscores only"
            if re.match(r"\d{4}-\d{2}-\d{2}T", run_id):
                mend = (
                    "a spreadsheet took the run_id for a date: format the column as text and write it again"
                )
            yield error("run-id-characters", file, "a file cannot have this name", mend, **place)
        elif len(run_id) > LONGEST_ID:
            message = f"the run_id has more than {LONGEST_ID} characters"
            yield error("run-id-characters", file, message, "take a short one", **place)


def _quiet(run: dict[str, Any], headers: dict[str, str], file: str) -> Iterator[Problem]:
    quiet, duration, row = run["quiet_time"], run["duration"], run["row"]
    column = headers.get("quiet_time", "quiet_time")
    if quiet > duration:
        message = f"the noise stopped at {quiet:.4g} s and the run ended at {duration:.4g} s"
        yield error(
            "quiet-after-end", file, message, "correct one of the two, or their units", row=row, column=column
        )
    elif quiet <= 0.9 * duration and run["wear_stopped"] == "no":
        message = (
            f"the noise stopped at {quiet:.4g} s of {duration:.4g} s, but wear is said not to have stopped"
        )
        mend = "check both; the run counts as still wearing"
        yield warning("quiet-but-wearing", file, message, mend, row=row, column=column)


def _faded(run: dict[str, Any], headers: dict[str, str], file: str) -> Iterator[Problem]:
    """Check the two ends of a quiet time that is known as an interval."""
    after, before, row = (run.get(name, np.nan) for name in ("quiet_after", "quiet_before", "row"))
    if pd.isna(after) and pd.isna(before):
        return
    column = headers.get("quiet_after", "quiet_after")
    place = {"row": row, "column": headers.get("quiet_before", "quiet_before") if pd.isna(after) else column}
    if not pd.isna(run["quiet_time"]):
        message = f"quiet_time says {run['quiet_time']:.4g} s, and quiet_after or quiet_before an interval"
        yield error(
            "quiet-twice", file, message, "keep the time, or the interval, and clear the other", **place
        )
    elif pd.isna(after):
        message = "quiet_before stands alone, and says nothing of how late the noise stopped"
        yield error("quiet-interval", file, message, "give quiet_after too: 0 if nothing is known", **place)
    elif before <= after:
        message = f"quiet_after is {after:.4g} s and quiet_before is {before:.4g} s"
        yield error("quiet-interval", file, message, "check that the two are not swapped", **place)
    elif after > run["duration"] or before > run["duration"]:
        message = f"the noise faded until {np.nanmax([after, before]):.4g} s and the run ended at "
        message += f"{run['duration']:.4g} s"
        yield error("quiet-after-end", file, message, "correct one of the two, or their units", **place)


def _temperatures(run: dict[str, Any], headers: dict[str, str], file: str) -> Iterator[Problem]:
    if run["peak_temperature"] < run["ambient_temperature"]:
        message = "the peak temperature is below the ambient temperature"
        column = headers.get("peak_temperature", "peak_temperature")
        row = run["row"]
        yield warning(
            "temperature-order", file, message, "check that the two are not swapped", row=row, column=column
        )


def _days(run: dict[str, Any], headers: dict[str, str], file: str) -> Iterator[Problem]:
    day, at = run["run_day"], run["run_at"]
    if not pd.isna(day) and not pd.isna(at) and day.date() != at.date():
        message = f"run_day is {day.date()} and run_at is {at.date()}"
        mend = "correct one of the two, or leave run_day out"
        column = headers.get("run_day", "run_day")
        yield error("run-day-conflict", file, message, mend, row=run["row"], column=column)


def check_scars(runs: pd.DataFrame, rig: Rig, headers: dict[str, str], file: str) -> list[Problem]:
    """Check that the scars are such as the rig's bodies can have.

    Examples
    --------
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 mm",
    ...                           "ring_diameter": "40 mm"})
    >>> runs = pd.DataFrame({"scar_length": [0.05], "scar_width": [0.004], "excluded": [""], "row": [2]})
    >>> [one.code for one in check_scars(runs, rig, {}, "runs.csv")]
    ['scar-too-large']
    """
    counted = runs[runs["excluded"] == ""]
    found = []
    for name, body, end in _largest(rig):
        message, mend = (
            f"the scar would be larger than the {body}",
            "correct the value, or the unit in the header",
        )
        column = headers.get(name, name)
        for run in rows_of(counted[counted[name] >= end]):
            shown = f"{to_shown(run[name], 'mm'):.6g} mm"
            found.append(
                error("scar-too-large", file, message, mend, row=run["row"], column=column, value=shown)
            )
    return found + _swapped(counted, rig, headers, file)


def leave_out_scars(
    runs: pd.DataFrame, rig: Rig, headers: dict[str, str], file: str
) -> tuple[pd.DataFrame, list[Problem]]:
    """Blank scars of excluded runs that no body of the rig can have, and warn of each."""
    found = []
    runs = runs.copy()
    for name, body, end in _largest(rig):
        wrong = (runs["excluded"] != "") & (runs[name] >= end)
        message = f"the scar would be larger than the {body}, and in this excluded run it is left out"
        mend = "correct the value, or the unit in the header"
        for run in rows_of(runs[wrong]):
            place = {
                "row": run["row"],
                "column": headers.get(name, name),
                "value": f"{to_shown(run[name], 'mm'):.6g} mm",
            }
            found.append(warning("scar-too-large", file, message, mend, **place))
        runs.loc[wrong, name] = np.nan
    return runs, found


def _largest(rig: Rig) -> list[tuple[str, str, float]]:
    pin = np.inf if rig.pin_diameter is None else rig.pin_diameter
    if rig.geometry == "ball-on-disc":
        return [("scar_length", "ball", pin), ("scar_width", "ball", pin)]
    if rig.geometry == "block-on-ring":
        return [("scar_length", "ring", rig.ring_diameter)]
    return [("scar_length", "ring", rig.ring_diameter), ("scar_width", "pin", pin)]


def _swapped(runs: pd.DataFrame, rig: Rig, headers: dict[str, str], file: str) -> list[Problem]:
    if (
        rig.geometry != "crossed-cylinders"
        or rig.pin_diameter is None
        or rig.ring_diameter < 1.2 * rig.pin_diameter
    ):
        return []
    wide = runs[runs["scar_width"] > 1.05 * runs["scar_length"]]
    message = "the scar is wider than long, and on this rig the length along the pin is the larger one"
    mend = "check that length and width are not swapped"
    column = headers.get("scar_width", "scar_width")
    return [warning("scar-swapped", file, message, mend, row=int(row), column=column) for row in wide["row"]]


_USUAL: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "pin_diameter": (1e-3, 0.1, "mm"),
        "ring_diameter": (5e-3, 0.5, "mm"),
        "ring_width": (1e-3, 0.2, "mm"),
        "ring_speed": (0.1, 1050.0, "rpm"),
        "lever_ratio": (0.5, 100.0, "1"),
        "hanger_mass": (0.0, 50.0, "kg"),
        "reading_uncertainty": (1e-7, 1e-3, "mm"),
        "reading_resolution": (1e-7, 1e-3, "mm"),
        "balance_resolution": (1e-10, 1e-3, "mg"),
        "fling_card": (0.02, 0.6, "mm"),
        "pin.elastic_modulus": (5e8, 1.2e12, "GPa"),
        "ring.elastic_modulus": (5e8, 1.2e12, "GPa"),
        "pin.hardness": (1e7, 1e11, "GPa"),
        "ring.hardness": (1e7, 1e11, "GPa"),
        "pin.roughness_rq": (1e-9, 2e-5, "um"),
        "ring.roughness_rq": (1e-9, 2e-5, "um"),
    }
)  # low and high end [SI] and the unit to show; common practice


def check_rig(rig: Rig) -> list[Problem]:
    """Warn of values outside the range that benches have.

    Examples
    --------
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 m",
    ...                           "ring_diameter": "40 mm"})
    >>> [one.column for one in check_rig(rig)]
    ['rig.pin_diameter']
    """
    found = []
    for key, (low, high, unit) in _USUAL.items():
        section, _, name = key.rpartition(".")
        value = getattr(getattr(rig, section) if section else rig, name)
        odd = [one for one in (value if isinstance(value, tuple) else (value,)) if one is not None]
        odd = [one for one in odd if not low <= one <= high]
        if odd:
            shown, least, most = (
                f"{float(one):.6g} {unit}" if unit != "1" else f"{one:.6g}"
                for one in to_unit((odd[0], low, high), unit)
            )
            message = f"this would be unusual: {name} mostly lies between {least} and {most}"
            found.append(
                warning(
                    "toml-value-unusual",
                    "campaign.toml",
                    message,
                    "check the value and its unit",
                    column=f"rig.{key}",
                    value=shown,
                )
            )
    return found


def check_fling_card(rig: Rig | None, evidence: Collection[str]) -> list[Problem]:
    """Warn of fling cards whose size is not given.

    Examples
    --------
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 mm",
    ...                           "ring_diameter": "40 mm"})
    >>> [one.column for one in check_fling_card(rig, ["fling/run-01.jpg"])]
    ['rig.fling_card']
    """
    cards = [name for name in evidence if name.startswith("fling/")]
    if rig is None or rig.fling_card is not None or not cards:
        return []
    message = "the size of the fling cards is not given, so that they cannot be read"
    mend = 'add a line such as fling_card = "150 mm x 100 mm"'
    return [warning("fling-card-size-missing", "campaign.toml", message, mend, column="rig.fling_card")]

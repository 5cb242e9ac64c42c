"""The scar to expect of each oil at another load or duration, by the wear-arrest model fitted to its runs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from pinscar.arguments import si_values
from pinscar.contact.arrest_fit import ArrestFit, ScarPrediction, fit_interrupted_runs, predict_scar
from pinscar.contact.geometry import CrossedCylinders
from pinscar.decision.evaluate import rig_geometry
from pinscar.decision.record import Analysis
from pinscar.decision.runs import by_lubricant
from pinscar.desk.table import Table, as_table
from pinscar.errors import UsageError
from pinscar.page.markup import Markup, method_note, table
from pinscar.shown import to_shown
from pinscar.wording import sentence, significant, with_interval


def predictions_table(analysis: Analysis, duration: Any, load: Any, lubricants: Sequence[str]) -> Table:
    """Predict each oil's scar at a duration and a load, from its included runs at one load each."""
    known = list(dict.fromkeys(analysis.included["lubricant"]))
    for name in lubricants:
        if name not in known:
            raise UsageError(f"no included run of an oil {name!r}; there are {', '.join(known)}")
    try:
        time = float(si_values("duration", duration, "time"))
        force = float(si_values("load", load, "force"))
    except ValueError as failure:
        raise UsageError(str(failure)) from None
    if not (time > 0 and force > 0):
        raise UsageError(f"duration and load must be above zero; got {duration} and {load}")
    pair = rig_geometry(analysis.campaign.file.rig)
    if not isinstance(pair, CrossedCylinders):
        return as_table([], [], "Not computed: the wear-arrest model is for a pin across an unworn ring.")
    runs = analysis.included
    stepped = np.array(["load-steps" in flags for flags in runs["flags"]], dtype=bool)
    usable = runs[~stepped & runs[["scar_length", "duration", "load", "sliding_speed"]].notna().all(axis=1)]
    records = [
        _record(lubricant, group, pair, analysis.confidence, time, force)
        for lubricant, group in by_lubricant(usable)
        if not lubricants or lubricant in lubricants
    ]
    return as_table(
        records, _parts(records, time, force, analysis.confidence), "No run at one load has a scar."
    )


def _record(
    lubricant: str, runs: pd.DataFrame, pair: CrossedCylinders, confidence: float, time: float, force: float
) -> dict[str, Any]:
    names = ("duration", "scar_length", "load", "sliding_speed")
    times, lengths, loads, speeds = (runs[name].to_numpy(dtype=float) for name in names)
    try:
        fit = fit_interrupted_runs(times, lengths, loads, speeds, pair, confidence)
        found = predict_scar(fit, time, force, float(np.median(speeds)))
    except ValueError as failure:
        return {"lubricant": lubricant, "n": len(runs), "note": f"not computed: {failure}"}
    return {"lubricant": lubricant, "n": len(runs)} | _numbers(fit, found)


def _numbers(fit: ArrestFit, found: ScarPrediction) -> dict[str, Any]:
    """Give a fit and its prediction in shown units; None where the runs do not determine a number."""
    lengths = ("scar_length", "low", "high", "single_low", "single_high")
    pressures = ("film_pressure", "film_low", "film_high")
    return (
        {f"{name}_mm": _in_unit(getattr(found, name), "mm") for name in lengths}
        | {f"{name}_MPa": _in_unit(getattr(fit, name), "MPa") for name in pressures}
        | {"method": found.method}
        | {"note": "; ".join(note for note in (found.note, fit.note) if note)}
    )


def _in_unit(value: float | None, unit: str) -> float | None:
    return None if value is None else to_shown(value, unit)


def _parts(records: list[dict[str, Any]], time: float, force: float, confidence: float) -> list[Markup]:
    rows = [
        [
            one["lubricant"],
            str(one["n"]),
            _shown(one, "scar_length_mm", "low_mm", "high_mm"),
            _range(one.get("single_low_mm"), one.get("single_high_mm")),
            _shown(one, "film_pressure_MPa", "film_low_MPa", "film_high_MPa"),
            sentence(one["note"]),
        ]
        for one in records
    ]
    heads: list[str | tuple[str, str]] = [
        "Oil",
        "Runs",
        ("Expected scar length", "mm"),
        ("One new scar", "mm"),
        ("Film pressure", "MPa"),
        "Note",
    ]
    methods = dict.fromkeys(one["method"] for one in records if "method" in one)
    title = f"Scar to expect after {significant(time)} s at {significant(force)} N"
    shown = table(heads, rows, caption=title, number_columns=(1, 2, 3, 4))
    return [
        shown,
        method_note(
            f"Intervals of {100 * confidence:g} %. Method: {'; '.join(methods)}. Model fitted to each oil's "
            "scars by least squares on the log scale. Assumed: one wear coefficient and one film pressure at "
            "every load and on every day. The interval covers the scatter of the runs, not the error of the "
            "model."
        ),
    ]


def _shown(one: dict[str, Any], value: str, low: str, high: str) -> str:
    if one.get(value) is not None:
        return with_interval(one[value], one.get(low), one.get(high))
    if one.get(high) is not None:
        return f"at most {significant(one[high])}"
    return "not determined"


def _range(low: float | None, high: float | None) -> str:
    return "no interval" if low is None or high is None else f"{significant(low)} to {significant(high)}"

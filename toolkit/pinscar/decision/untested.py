"""What a campaign does not tell: oils and loads without runs, things not measured, and what a bench can't."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from pinscar.decision.record import Analysis
from pinscar.decision.runs import by_cell
from pinscar.wording import counted, listing, load_text

MEASURED = {
    "wear_stopped": "whether wear had stopped",
    "quiet_time": "when the rubbing noise stopped",
    "temperature_rise": "temperature",
    "fling_mass": "fling",
    "drips": "drips",
    "smoke": "smoke",
}
"""What a run can record beside its scar, in words."""

BEYOND = "A bench test says nothing about service life, ageing, corrosion, seals, paint or food contact."


def untested(analysis: Analysis) -> tuple[str, ...]:
    """List what the runs did not test."""
    return (*_cells(analysis), *_conditions(analysis), *_named_columns(analysis), BEYOND)


def _cells(analysis: Analysis) -> Iterator[str]:
    runs = analysis.included
    levels = sorted(float(level) for level in runs["load_level"].dropna().unique())
    have = {(name, level) for level, name, _ in by_cell(runs)}
    declared = [one.id for one in analysis.campaign.file.lubricants]
    names = list(dict.fromkeys([*declared, *runs["lubricant"]]))
    absent = [name for name in names if not any((name, level) in have for level in levels)]
    if absent:
        yield f"There is no included run of {listing(absent)}."
    for level in levels:
        missing = [name for name in names if name not in absent and (name, level) not in have]
        if missing:
            yield f"{listing(missing)} did not run at {load_text(level)}."


def _conditions(analysis: Analysis) -> Iterator[str]:
    runs = analysis.included
    loads = listing([load_text(level) for level in sorted(runs["load_level"].dropna().unique())])
    low, high = float(runs["duration"].min()), float(runs["duration"].max())
    times = f"{low:.4g} s" if high - low <= 0.02 * high else f"{low:.4g} to {high:.4g} s"
    yield f"Tested at {loads} only, for {times} per run, on this one rig."
    if analysis.campaign.file.service is None:
        yield "The duty in service is not stated, so bench and service were not set side by side."


def _named_columns(analysis: Analysis) -> Iterator[str]:
    runs = analysis.included
    nowhere, partly = [], []
    for column, words in MEASURED.items():
        known = _known(runs, column)
        if known is None or not known.any():
            nowhere.append(words)
        elif not known.all():
            partly.append(f"{words} ({counted(int((~known).sum()), 'run')})")
    if nowhere:
        yield f"Not recorded in any run: {listing(nowhere)}."
    if partly:
        yield f"Not recorded in some runs: {listing(partly)}."


def _known(runs: pd.DataFrame, column: str) -> pd.Series | None:
    """Tell in which runs a thing was recorded; fling may be weighed or read from a card."""
    columns = [one for one in (column, "fling_area" if column == "fling_mass" else "") if one in runs]
    if not columns:
        return None
    known = [runs[one].notna() & (runs[one].astype(str) != "") for one in columns]
    return known[0] | known[-1]

"""The table of every run: what was read and computed, and remarks by letters that its note explains."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign_report.results import NOT_MEASURED
from pinscar.decision.evaluate import FLAGS
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, all_rows, table
from pinscar.shown import to_shown
from pinscar.wording import fixed, listing, sentence, significant

NOISE = "yes (noise)"
"""That wear had stopped, where nobody noted it and the noise tells it."""

RUN_ROWS = 300
"""Longest table of runs on a page; the rest stays in the attached data."""
OF_A_KIND = RUN_ROWS // 4
"""Most excluded, flagged and extreme runs that it shows, of each kind, so that all kinds have room."""

FLAG_LETTERS = dict(zip(FLAGS, "abcdefghijklmnop", strict=False))


def runs_table(analysis: Analysis, *, turned: bool = True) -> Markup:
    """Tabulate every run, excluded ones too."""
    runs = analysis.runs
    shown_runs, chosen = runs_that_matter(runs)
    records = shown_runs.to_dict("records")
    rows = [_run_row(run) for run in records]
    classes = [_kind(run) for run in records]
    used = {flag for flags in shown_runs["flags"] for flag in flags}
    legend = [f"({FLAG_LETTERS[flag]}) {text}" for flag, text in FLAGS.items() if flag in used]
    parts = [sentence("; ".join(legend))] if legend else []
    if any(runs["width_is_implied"]):
        parts.append("* Not measured.")
    if any(row[10] == NOISE for row in rows):
        parts.append("Yes (noise): not noted, judged by the noise, which stopped well before the end.")
    if len(runs) > RUN_ROWS:
        parts.append(f"The table shows {len(shown_runs)} of {len(runs)} runs: {chosen}.")
    parts += [f"{run['run_id']} excluded: {run['excluded']}." for run in records if run["excluded"]]
    parts.append("Excluded runs are used nowhere. All data are attached to the PDF.")
    return table(
        [
            "Run",
            "Day",
            "Oil",
            ("Load", "N"),
            ("Time", "s"),
            ("Length", "mm"),
            ("Width", "mm"),
            ("Area", "mm²"),
            ("Pressure", "MPa"),
            ("Volume", "mm³"),
            "Wear stopped",
            "Remarks",
        ],
        rows,
        beside=_all(runs) if len(runs) > len(shown_runs) else "",
        caption=Markup('Every run<span class="file-order">, in the order of the file</span>'),
        key="runs",
        number_columns=range(3, 10),
        row_classes=classes,
        note=" ".join(parts),
        long=True,
        landscape=turned,
        sortable=True,
    )


def _kind(run: Mapping[Any, Any]) -> str:
    return "excluded" if run["excluded"] else "flagged" if run["flags"] else ""


def _all(runs: pd.DataFrame) -> Markup:
    records = runs.to_dict("records")
    rows = [_run_row(run) for run in records]
    return all_rows(rows, [_kind(run) for run in records], number_columns=range(3, 10), names=(0, 2))


def runs_that_matter(runs: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Choose the runs that a page has room for, in the order of the file, and say how they were chosen."""
    if len(runs) <= RUN_ROWS:
        return runs, "all"
    flagged = runs["flags"].map(bool)
    by_cell = runs[runs["excluded"] == ""].groupby(["lubricant", "load_level"], sort=False)["scar_pressure"]
    ends = pd.Index(pd.concat([by_cell.idxmin(), by_cell.idxmax()]).dropna()).unique()
    kinds = {
        "excluded": runs.index[runs["excluded"] != ""],
        "flagged": runs.index[flagged],
        "with the least and the greatest pressure of each oil and load": ends,
    }
    picked: set[Any] = set()
    said = []
    for name, found in kinds.items():
        if len(found):
            picked |= set(found[:OF_A_KIND])
            count = f"the first {OF_A_KIND} of {len(found)}" if len(found) > OF_A_KIND else "all"
            said.append(f"{count} {name}")
    others = runs.index[~runs.index.isin(list(picked))]
    step = math.ceil(len(others) / (RUN_ROWS - len(picked)))
    picked |= set(others[::step])
    return runs[runs.index.isin(list(picked))], listing([*said, f"one in every {step} of the others"])


def _run_row(run: Mapping[Any, Any]) -> list[str]:
    letters = "".join(FLAG_LETTERS[flag] for flag in run["flags"])
    remarks = ["excluded" if run["excluded"] else "", f"({', '.join(letters)})" if letters else ""]
    return [
        str(run["run_id"]),
        str(run["run_day"] or "not noted"),
        str(run["lubricant"]),
        _number(run["load"], "N", 0),
        _number(run["duration"], "s", 0),
        _number(run["scar_length"], "mm", 2),
        _number(run["scar_width_used"], "mm", 2) + ("*" if run["width_is_implied"] else ""),
        _number(run["scar_area"], "mm²", 2),
        _number(run["scar_pressure"], "MPa", 1),
        significant(to_shown(run["wear_volume"], "mm³")),
        _stopped(run),
        " ".join(filter(None, remarks)) or "none",
    ]


def _stopped(run: Mapping[Any, Any]) -> str:
    if run["wear_stopped"] is True and run["declared_stopped"] is None:
        return NOISE
    return {True: "yes", False: "no", None: "not judged"}[run["wear_stopped"]]


def _number(value: object, unit: str, decimals: int) -> str:
    number = float(str(value))
    return NOT_MEASURED if not np.isfinite(number) else fixed(to_shown(number, unit), decimals)

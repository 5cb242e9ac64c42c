"""The table of every run, excluded and flagged ones visibly so."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pinscar.decision.analysis import Analysis
from pinscar.decision.evaluate import FLAGS
from pinscar.decision.wording import (
    fixed,
    sentence,
    significant,
)
from pinscar.report.markup import Markup, table

RUN_ROWS = 300
"""Longest table of runs on a page; the rest stays in the attached data."""

FLAG_LETTERS = dict(zip(FLAGS, "abcdefghijklmnop", strict=False))
NOT_MEASURED = "not measured"


def runs_table(analysis: Analysis) -> Markup:
    """Tabulate every run, excluded ones too.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup
        The table, capped at `RUN_ROWS` rows.
    """
    runs = analysis.runs
    shown_runs = runs.head(RUN_ROWS)
    records = shown_runs.to_dict("records")
    rows = [_run_row(run) for run in records]
    classes = [
        "excluded" if run.excluded else "flagged" if run.flags else "" for run in shown_runs.itertuples()
    ]
    used = {flag for flags in shown_runs["flags"] for flag in flags}
    legend = [f"({FLAG_LETTERS[flag]}) {text}" for flag, text in FLAGS.items() if flag in used]
    parts = [sentence("; ".join(legend))] if legend else []
    if any(runs["width_is_implied"]):
        parts.append("* Not measured.")
    if len(runs) > RUN_ROWS:
        parts.append(f"The table shows the first {RUN_ROWS} of {len(runs)} runs.")
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
        caption=Markup('Every run<span class="file-order">, in the order of the file</span>'),
        key="runs",
        number_columns=range(3, 10),
        row_classes=classes,
        note=" ".join(parts),
        long=True,
        landscape=True,
        sortable=True,
    )


def _run_row(run: Mapping[Any, Any]) -> list[str]:
    letters = "".join(FLAG_LETTERS[flag] for flag in run["flags"])
    remarks = ["excluded" if run["excluded"] else "", f"({', '.join(letters)})" if letters else ""]
    return [
        str(run["run_id"]),
        str(run["run_day"] or "not noted"),
        str(run["lubricant"]),
        _number(run["load"], 1.0, 0),
        _number(run["duration"], 1.0, 0),
        _number(run["scar_length"], 1e3, 2),
        _number(run["scar_width_used"], 1e3, 2) + ("*" if run["width_is_implied"] else ""),
        _number(run["scar_area"], 1e6, 2),
        _number(run["scar_pressure"], 1e-6, 1),
        significant(run["wear_volume"] * 1e9),
        {True: "yes", False: "no", None: "not judged"}[run["wear_stopped"]],
        " ".join(filter(None, remarks)) or "none",
    ]


def _number(value: object, factor: float, decimals: int) -> str:
    number = float(str(value))
    return NOT_MEASURED if not np.isfinite(number) else fixed(number * factor, decimals)

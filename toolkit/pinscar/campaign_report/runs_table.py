"""The table of every run, and the section on what was counted, graded or put into words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from pinscar.campaign_report.results import NOT_MEASURED
from pinscar.decision.evaluate import FLAGS
from pinscar.decision.observations import GRADES, Observation
from pinscar.decision.record import Analysis
from pinscar.page.markup import all_rows, finding, table
from pinscar.shown import to_shown
from pinscar.wording import (
    counted,
    fixed,
    listing,
    load_text,
    p_value,
    percentage,
    sentence,
    significant,
    with_interval,
)

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


LABELS = {"drips": "Drips", "smoke": "Smoke"}


def observations_html(analysis: Analysis) -> Markup:
    """Show drips, smoke and words, each evaluated in its own way."""
    found = analysis.observations
    if not found:
        return Markup("<p>Drips and smoke were not recorded.</p>")
    parts: list[str] = []
    for own in _by_name(found):
        parts.append(finding(_sentence(analysis, own)))
        parts.append(_table(analysis, own))
    return Markup("\n").join(Markup(part) for part in parts)


def observation_sentences(analysis: Analysis) -> list[str]:
    """Say what was counted and graded, a sentence each."""
    return [
        sentence(_sentence(analysis, own))
        for own in _by_name(analysis.observations)
        if own[0].kind != "words"
    ]


def words_parts(analysis: Analysis) -> list[str]:
    """Show what was put into words, a table each."""
    parts: list[str] = []
    for own in _by_name([o for o in analysis.observations if o.kind == "words"]):
        parts += [finding(_sentence(analysis, own)), _table(analysis, own)]
    return parts


def _by_name(found: Sequence[Observation]) -> list[list[Observation]]:
    return [[o for o in found if o.name == name] for name in dict.fromkeys(o.name for o in found)]


def _label(o: Observation) -> str:
    return LABELS.get(o.name, o.name.replace("_", " ").capitalize())


def _sentence(analysis: Analysis, own: Sequence[Observation]) -> str:
    first, runs = own[0], sum(o.n for o in own)
    if first.kind == "count":
        total = sum(int(value) * k for o in own for value, k in o.classes.items())
        head = f"{_label(first)}: {total} in {counted(runs, 'run')}"
    elif first.kind == "order":
        least = GRADES[first.name][0]
        above = sum(k for o in own for entry, k in o.classes.items() if entry != least)
        head = f"{_label(first)}: seen in {above} of {counted(runs, 'run')}"
    else:
        return f"{_label(first)}: noted in {counted(runs, 'run')}; words have no order, so none is tested."
    level = 1.0 - analysis.confidence
    apart = [o for o in own if o.test is not None and o.test.p is not None and o.test.p < level]
    if not apart:
        return f"{head}; no oil differs clearly from {analysis.reference}."
    words = [
        f"{'more' if _more(o) else 'less'} with {o.lubricant} at {load_text(o.load_level)}" for o in apart
    ]
    return f"{head}; against {analysis.reference}, {listing(words)}."


def _more(o: Observation) -> bool:
    return o.test is not None and o.test.superiority > 0.5


def _table(analysis: Analysis, own: Sequence[Observation]) -> Markup:
    kind, sure = own[0].kind, percentage(analysis.confidence)
    entries = list(dict.fromkeys(entry for o in own for entry in o.classes))
    rows = [
        [
            f"{o.lubricant} at {load_text(o.load_level)}",
            str(o.n),
            *_numbers(o, entries),
            *_against(analysis, o),
        ]
        for o in own
    ]
    heads = _heads(own[0], entries)
    against = [] if kind == "words" else [f"Against {analysis.reference}"]
    return table(
        ["Oil and load", "Runs", *heads, *against],
        rows,
        caption=f"{_label(own[0])} of each oil and load",
        key=f"observed-{own[0].name.replace('_', '-').lower()}",
        number_columns=range(1, 2 + len(heads)),
        row_classes=["reference" if o.lubricant == analysis.reference else "" for o in own],
        note=_method(kind, sure, own, analysis.reference),
    )


def _heads(o: Observation, entries: Sequence[str]) -> list[str | tuple[str, str]]:
    words: list[str | tuple[str, str]] = [entry.capitalize() for entry in entries]
    if o.kind == "count":
        return [f"{_label(o)} in all", "Mean per run"]
    return [*words, (f"Runs with {o.name.replace('_', ' ')}", "%")] if o.kind == "order" else words


def _numbers(o: Observation, entries: Sequence[str]) -> list[str]:
    if o.kind == "count" and o.rate is not None:
        total = sum(int(value) * k for value, k in o.classes.items())
        return [str(total), with_interval(o.rate.estimate, o.rate.low, o.rate.high)]
    places = [str(o.classes.get(entry, 0)) for entry in entries]
    if o.rate is None:
        return places
    estimate, low, high = (f"{100.0 * value:.0f}" for value in (o.rate.estimate, o.rate.low, o.rate.high))
    return [*places, f"{estimate} ({low} to {high})"]


def _against(analysis: Analysis, o: Observation) -> list[str]:
    if o.kind == "words":
        return []
    if o.lubricant == analysis.reference:
        return ["The reference." if o.note is None else sentence(o.note)]
    if o.test is None:
        return [sentence(o.note or "not compared")]
    way = "more" if _more(o) else "less"
    share = o.test.superiority if _more(o) else 1.0 - o.test.superiority
    text = "as much" if o.test.superiority == 0.5 else f"{way} in {100.0 * share:.0f} % of pairs of runs"
    p = p_value(o.test.p, 1.0 - analysis.confidence)
    return [
        sentence("; ".join(part for part in (f"{text}, p {p if p[0] == '<' else f'= {p}'}", o.note) if part))
    ]


def _method(kind: str, sure: str, own: Sequence[Observation], reference: str) -> str | None:
    if kind == "words":
        return None
    interval = own[0].rate.method if own[0].rate is not None else ""
    tests = sorted({o.test.method for o in own if o.test is not None})
    test = (
        f" Against {reference}: {listing(tests)}, p adjusted over the oils of a load (Holm); equal runs "
        "count half in the share of pairs."
        if tests
        else ""
    )
    return f"{sure} intervals: {interval}.{test}"

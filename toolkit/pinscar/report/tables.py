"""The report's tables: built once from an analysis, shown alike on the page and in print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import pandas as pd

from pinscar.campaign.model import Lubricant
from pinscar.decision.analysis import Analysis
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.evaluate import FLAGS
from pinscar.decision.responses import Response
from pinscar.decision.results import conclusion
from pinscar.decision.summaries import Summary
from pinscar.decision.wording import (
    counted,
    date_range,
    fixed,
    listing,
    load_text,
    p_value,
    percentage,
    sentence,
    significant,
    with_interval,
)
from pinscar.report.interval_chart import shown, spread_of
from pinscar.report.markup import Markup, key_value, table, tag

RUN_ROWS = 300
"""Longest table of runs on a page; the rest stays in the attached data."""

FLAG_LETTERS = dict(zip(FLAGS, "abcdefghijklmnop", strict=False))
NOT_MEASURED = "not measured"


def criteria_table(analysis: Analysis) -> Markup:
    """Tabulate the release limits with their verdicts.

    Parameters
    ----------
    analysis : Analysis
        The evaluation; it has at least one criterion.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            result.criterion.id,
            tag(str(result.verdict)),
            result.requirement,
            sentence(result.because),
            _further(result.further_repeats, undecided=str(result.verdict) == "undecided"),
        ]
        for result in analysis.criteria
    ]
    return table(
        ["Limit", "Verdict", "Required", "Because", "Further runs a lubricant"],
        rows,
        caption="Release limits and verdicts",
        key="criteria",
        note=(
            "Met: the whole interval lies on the right side of the limit. Not met: the whole interval "
            "lies on the "
            "wrong side. Undecided: the interval spans the limit, or there is none. Further runs: additional "
            "repeats of "
            "each lubricant concerned that would settle the limit with a chance of about 80 %, if estimate "
            "and spread "
            "stay as they are."
        ),
    )


def lubricants_table(analysis: Analysis) -> Markup:
    """Tabulate the lubricants with their properties and numbers of runs.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup
        The table.
    """
    file, included = analysis.campaign.file, analysis.included
    declared = {one.id: one for one in file.lubricants}
    levels = sorted(included["load_level"].dropna().unique())
    rows = []
    for name in dict.fromkeys(included["lubricant"]):
        own = included[included["lubricant"] == name]
        counts = [str(int((own["load_level"] == level).sum())) for level in levels]
        rows.append([name, file.role_of(name), *_properties(declared.get(name)), *counts])
    return table(
        [
            "Oil",
            "Role",
            ("Viscosity, 40 °C", "mm²/s"),
            ("Viscosity, 100 °C", "mm²/s"),
            ("Density, 15 °C", "kg/m³"),
            *[f"Runs at {load_text(level)}" for level in levels],
        ],
        rows,
        caption="Lubricants and repeats; excluded runs are not counted",
        key="lubricants",
        number_columns=range(2, 5 + len(levels)),
    )


def conditions(analysis: Analysis) -> Markup:
    """List how the runs were made.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup
        Names and values.
    """
    rig, runs = analysis.campaign.file.rig, analysis.included
    days = sorted({day for day in runs["run_day"].dropna() if day})
    items: dict[str, str] = {
        "Contact": _contact_words(analysis),
        "Load": f"{_levels(runs)}, by dead weights",
        "Duration": _spread_of_setting(runs["duration"], "s"),
        "Sliding speed": _spread_of_setting(runs["sliding_speed"], "m/s"),
        "Sliding distance": _spread_of_setting(runs["sliding_distance"], "m"),
        "Days": f"{counted(len(days), 'day')}, {date_range(days)}" if days else "not recorded",
        "Rings": _names(runs["ring_id"]),
        "Pins": _names(runs["pin_state"]),
        "Operators": _names(runs["operator"]),
        "Uncertainty of load": _uncertainty(rig.load_uncertainty, 100.0, "% (standard uncertainty)"),
        "Uncertainty of a reading": _uncertainty(rig.reading_uncertainty, 1e3, "mm (standard uncertainty)"),
    }
    return key_value(items)


def summary_table(analysis: Analysis, responses: Sequence[Response], *, caption: str, key: str) -> Markup:
    """Tabulate the estimates of some responses, a row an oil and load.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    responses : sequence of Response
        The responses, a column each.
    caption, key : str
        Caption and key of the table.

    Returns
    -------
    Markup
        The table.
    """
    by_cell = _by_cell(analysis, responses)
    rows, classes = [], []
    for (level, lubricant), found in by_cell.items():
        role = analysis.campaign.file.role_of(lubricant)
        sizes = max((summary.estimate.n for summary in found.values()), default=0)
        bounds = max((summary.estimate.n_censored for summary in found.values()), default=0)
        rows.append(
            [
                f"{lubricant} at {load_text(level)}",
                str(sizes),
                str(bounds) if any(s.response.censored_side for s in found.values()) else "–",
                *[_interval_cell(found.get(response.name)) for response in responses],
            ]
        )
        classes.append("reference" if role == "reference" else "")
    return table(
        ["Oil and load", "n", "Bounds", *[(response.label, response.shown_unit) for response in responses]],
        rows,
        caption=caption,
        key=key,
        number_columns=range(1, 3 + len(responses)),
        row_classes=classes,
        note=(
            f"Estimate with {percentage(analysis.confidence)} interval across repeats. n: runs. Bounds: runs that "
            "give only a "
            "bound, such as a film pressure while wear was still running."
        ),
    )


def comparison_table(analysis: Analysis, response: Response) -> Markup:
    """Tabulate every oil against the reference for one response.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    response : Response
        The response.

    Returns
    -------
    Markup
        The table.
    """
    found = [c for c in analysis.comparisons if c.response.name == response.name]
    rows = [
        [
            f"{c.result.subject} at {load_text(c.load_level)}",
            sentence(conclusion(c)),
            _ratio_cell(c),
            p_value(c.result.p_adjusted) if c.result.p_adjusted is not None else "not tested",
            f"{c.result.n} and {c.result.n_reference}",
        ]
        for c in found
    ]
    head = "Difference" if response.scale == "linear" else f"Ratio to {analysis.reference}"
    return table(
        ["Oil and load", "In words", head, "Adjusted p", "n"],
        rows,
        caption=f"{response.label} against {analysis.reference}",
        key=f"against-{response.name.replace('_', '-')}",
        number_columns=[2, 3],
        note=_methods(found),
    )


def contact_table(analysis: Analysis) -> Markup:
    """Tabulate the contact before and after wear, a row an oil and load.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup
        The table.
    """
    rows = []
    for (level, lubricant), group in _groups(analysis.included):
        pressures, depths = group["scar_pressure"] * 1e-6, group["scar_depth"] * 1e6
        hertz = group["hertz_peak_pressure"].median() * 1e-6
        rows.append(
            [
                f"{lubricant} at {load_text(level)}",
                significant(float(hertz)) if np.isfinite(hertz) else "not computed",
                _range_text(pressures),
                "–" if not np.isfinite(hertz) else significant(float(hertz / pressures.median()), 2),
                _range_text(depths),
            ]
        )
    return table(
        [
            "Oil and load",
            ("Initial peak pressure", "MPa"),
            ("Final scar pressure, median (range)", "MPa"),
            "Drop, times",
            ("Scar depth, median (range)", "µm"),
        ],
        rows,
        caption="The contact at the first touch and at the end of the run",
        key="contact",
        number_columns=[1, 2, 3, 4],
    )


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
    rows = [_run_row(run) for run in shown_runs.to_dict("records")]
    classes = [
        "excluded" if run.excluded else "flagged" if run.flags else "" for run in shown_runs.itertuples()
    ]
    used = {flag for flags in shown_runs["flags"] for flag in flags}
    legend = [f"({FLAG_LETTERS[flag]}) {text}" for flag, text in FLAGS.items() if flag in used]
    rest = (
        ""
        if len(runs) <= RUN_ROWS
        else (
            f" The table shows the first {RUN_ROWS} of {len(runs)} runs; the rest is in runs.csv and "
            "results.json, "
            "which are attached to the PDF."
        )
    )
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
        caption="Every run, in the order of the file",
        key="runs",
        number_columns=range(3, 10),
        row_classes=classes,
        note=sentence("; ".join(legend)) + rest if legend or rest else None,
        long=True,
        landscape=True,
    )


def findings_table(analysis: Analysis) -> Markup:
    """Tabulate the findings of the fairness audit.

    Parameters
    ----------
    analysis : Analysis
        The evaluation; it has at least one finding.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            tag(str(f.severity), str(f.severity).capitalize()),
            Markup("<strong>{}</strong> {}").format(f.message, f.effect),
            _run_list(f.runs),
        ]
        for f in analysis.findings
    ]
    return table(
        ["Weight", "What was found, and what it does to the conclusion", "Runs"],
        rows,
        caption="Fairness of the comparison",
        key="audit",
        row_heads=False,
        long=True,
    )


def problems_table(analysis: Analysis) -> Markup | None:
    """Tabulate the warnings that the check of the folder gave.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup or None
        The table; None where there were no warnings.
    """
    problems = analysis.campaign.problems
    if not problems:
        return None
    rows = [
        [
            p.file,
            str(p.row) if p.row is not None else "–",
            p.column or "–",
            p.value if p.value else "–",
            f"{sentence(p.message)[:-1]}; {p.mend}.",
        ]
        for p in problems
    ]
    return table(
        ["File", "Row", "Column", "Found", "Warning"],
        rows,
        caption="Warnings of the check",
        key="warnings",
        row_heads=False,
        long=True,
    )


def _by_cell(
    analysis: Analysis, responses: Sequence[Response]
) -> dict[tuple[float, str], dict[str, Summary]]:
    names = {response.name for response in responses}
    found: dict[tuple[float, str], dict[str, Summary]] = {}
    for summary in analysis.summaries:
        if summary.response.name in names:
            key = (summary.cell.load_level, summary.cell.lubricant)
            found.setdefault(key, {})[summary.response.name] = summary
    return dict(sorted(found.items(), key=lambda item: item[0][0]))


def _interval_cell(summary: Summary | None) -> str:
    if summary is None:
        return NOT_MEASURED
    estimate = summary.estimate
    numbers = [shown(summary.response, value) for value in (estimate.estimate, estimate.low, estimate.high)]
    if estimate.estimate is None:
        return f"≤ {significant(numbers[2])}" if numbers[2] is not None else f"≥ {significant(numbers[1])}"
    if estimate.n == 1:
        return f"{significant(numbers[0])} single run, no interval"
    return with_interval(*numbers)


def _ratio_cell(c: LoadComparison) -> str:
    if c.response.scale == "log":
        numbers = (c.result.ratio, c.result.low, c.result.high)
        return with_interval(*numbers) if any(n is not None for n in numbers) else "not computed"
    zero = shown(c.response, 0.0) or 0.0
    ends = [shown(c.response, value) for value in (c.result.difference, c.result.low, c.result.high)]
    return with_interval(*[None if end is None else end - zero for end in ends])


def _methods(found: Iterable[LoadComparison]) -> str:
    by_method: dict[str, list[str]] = {}
    for c in found:
        note = f" {sentence(c.result.note)}" if c.result.note else ""
        by_method.setdefault(sentence(c.result.method) + note, []).append(
            f"{c.result.subject} at {load_text(c.load_level)}"
        )
    if len(by_method) == 1:
        return f"Method: {next(iter(by_method))}"
    return " ".join(f"{listing(cells)}: {method}" for method, cells in by_method.items())


def _run_row(run: dict[str, object]) -> list[str]:
    letters = "".join(FLAG_LETTERS[flag] for flag in run["flags"])  # type: ignore[attr-defined]
    remarks = [
        f"excluded: {run['excluded']}" if run["excluded"] else "",
        f"({', '.join(letters)})" if letters else "",
    ]
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
        significant(float(str(run["wear_volume"])) * 1e9),
        {True: "yes", False: "no", None: "not judged"}[run["wear_stopped"]],  # type: ignore[index]
        " ".join(filter(None, remarks)) or "none",
    ]


def _number(value: object, factor: float, decimals: int) -> str:
    number = float(str(value))
    return NOT_MEASURED if not np.isfinite(number) else fixed(number * factor, decimals)


def _groups(runs: pd.DataFrame) -> Iterator[tuple[tuple[float, str], pd.DataFrame]]:
    order = {name: i for i, name in enumerate(dict.fromkeys(runs["lubricant"]))}
    grouped = {
        (float(level), str(lubricant)): group
        for (level, lubricant), group in runs.groupby(["load_level", "lubricant"], sort=False)
    }
    for key in sorted(grouped, key=lambda k: (k[0], order[k[1]])):
        yield key, grouped[key]


def _range_text(values: pd.Series) -> str:
    values = values.dropna()
    if values.empty:
        return NOT_MEASURED
    middle, low, high = float(values.median()), float(values.min()), float(values.max())
    return (
        f"{significant(middle)} ({significant(low)} to {significant(high)})"
        if len(values) > 1
        else significant(middle)
    )


def _properties(lubricant: Lubricant | None) -> list[str]:
    if lubricant is None:
        return ["not stated"] * 3
    values = (
        (lubricant.kinematic_viscosity_40, 1e6),
        (lubricant.kinematic_viscosity_100, 1e6),
        (lubricant.density_15, 1.0),
    )
    return ["not stated" if value is None else f"{value * factor:.4g}" for value, factor in values]


def _contact_words(analysis: Analysis) -> str:
    rig = analysis.campaign.file.rig
    parts = [rig.geometry.replace("-", " ")]
    if rig.pin_diameter is not None:
        parts.append(f"pin {rig.pin_diameter * 1e3:g} mm")
    parts.append(f"ring {rig.ring_diameter * 1e3:g} mm")
    if rig.geometry == "crossed-cylinders":
        parts.append(f"crossed at {np.degrees(rig.crossing_angle):g}°")
    return ", ".join(parts)


def _levels(runs: pd.DataFrame) -> str:
    return listing([load_text(level) for level in sorted(runs["load_level"].dropna().unique())])


def _spread_of_setting(values: pd.Series, unit: str) -> str:
    middle, low, high = values.median(), values.min(), values.max()
    text = f"{significant(float(middle))} {unit}"
    if high - low <= 0.005 * middle:
        return text
    return f"{text} (from {significant(float(low))} to {significant(float(high))} {unit})"


def _names(column: pd.Series) -> str:
    names = [str(name) for name in dict.fromkeys(column.fillna("")) if str(name)]
    return listing(sorted(names)) if names else "not recorded"


def _uncertainty(value: float | None, factor: float, words: str) -> str:
    return "not stated" if value is None else f"{value * factor:g} {words}"


def _further(repeats: int | None, *, undecided: bool) -> str:
    if not undecided:
        return "none needed"
    return "can't be estimated" if repeats is None else str(repeats)


def _run_list(runs: tuple[str, ...]) -> str:
    if not runs:
        return "all"
    return ", ".join(runs) if len(runs) <= 8 else f"{', '.join(runs[:8])} and {len(runs) - 8} more"


def spread_table(analysis: Analysis, response: Response, measured: dict[str, float]) -> Markup:
    """Tabulate the spread between runs beside the uncertainty of one measurement.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    response : Response
        The response.
    measured : dict of str to float
        Median relative standard uncertainty of a single run for each oil and load [%].

    Returns
    -------
    Markup
        The table.
    """
    rows = []
    for summary in (s for s in analysis.summaries if s.response.name == response.name):
        cell = f"{summary.cell.lubricant} at {load_text(summary.cell.load_level)}"
        spread = spread_of(summary)
        rows.append(
            [
                cell,
                "single run, no spread" if spread is None else significant(spread, 2),
                significant(measured[cell], 2) if cell in measured else "not stated",
            ]
        )
    return table(
        ["Oil and load", ("Between runs", "%"), ("Of one measurement", "%")],
        rows,
        caption=f"{response.label}: spread between runs beside measurement uncertainty",
        key="spread",
        number_columns=[1, 2],
    )

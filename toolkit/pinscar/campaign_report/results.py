"""Tables of results: estimates, comparisons with the reference, contact, spread, and every run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from pinscar.campaign_report.interval_chart import shown
from pinscar.decision.further import CONTENT, NextRuns
from pinscar.decision.judgements import LoadComparison, Summary, spread_of
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.surrounding_states import ContactState, Growth, Spread
from pinscar.decision.words import conclusion
from pinscar.page.markup import Markup, table
from pinscar.shown import to_shown
from pinscar.stats.estimates import Estimate
from pinscar.wording import (
    listing,
    load_text,
    p_value,
    percentage,
    sentence,
    significant,
    with_interval,
)

MAIN = ("film_pressure", "scar_area")


SCAR_NUMBERS = ("film_pressure", "scar_area", "scar_pressure")


WEAR_NUMBERS = ("wear_volume", "wear_coefficient")


NOT_MEASURED = "not measured"
WHOLE = 24
"""Rows that a table may have and still stay whole on a page."""
BOUNDS = (
    " Bounds: runs that ended while wear or noise continued, so they give only a bound; and flings read as 0."
)


def summary_table(
    analysis: Analysis,
    responses: Sequence[Response],
    *,
    caption: str,
    key: str,
    most: int | None = None,
) -> Markup:
    """Tabulate the estimates of some responses, one row per oil and load, all or the first so many."""
    cells = by_cell(analysis, responses)
    told = dict(list(cells.items())[:most])
    left = len(cells) - len(told)
    bounded = any(one.censored_side for one in responses)
    rows, classes = [], []
    for (level, lubricant), found in told.items():
        role = analysis.campaign.file.role_of(lubricant)
        sizes = {summary.estimate.n for summary in found.values()} - {0} or {0}
        bounds = max((summary.estimate.n_censored for summary in found.values()), default=0)
        rows.append(
            [
                f"{lubricant} at {load_text(level)}",
                str(max(sizes)) if len(sizes) == 1 else f"{min(sizes)} to {max(sizes)}",
                *([str(bounds) if any(s.response.censored_side for s in found.values()) else "–"] * bounded),
                *[interval_cell(found.get(response.name)) for response in responses],
            ]
        )
        classes.append("reference" if role == "reference" else "")
    return table(
        [
            "Oil and load",
            "n",
            *["Bounds"] * bounded,
            *[(response.label, response.shown_unit) for response in responses],
        ],
        rows,
        caption=caption,
        key=key,
        number_columns=range(1, 2 + bounded + len(responses)),
        row_classes=classes,
        note=f"Estimate with {percentage(analysis.confidence)} interval across repeats. n: runs."
        + BOUNDS * bounded
        + (f" {left} more rows stand in the standard report." if left else ""),
        long=len(rows) > WHOLE,
    )


def comparison_table(analysis: Analysis, response: Response) -> Markup:
    """Tabulate every oil against the reference for one response."""
    found = [c for c in analysis.comparisons if c.response.name == response.name]
    rows = [
        [
            f"{c.result.subject} at {load_text(c.load_level)}",
            sentence(conclusion(c)),
            _ratio_cell(c),
            _p_cell(c, analysis.confidence),
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


def comparison_matrix(
    analysis: Analysis, responses: Sequence[Response], *, counts: bool = False, told: bool = True
) -> Markup:
    """Tabulate every oil against the reference for several responses, a column each."""
    cells: dict[tuple[float, str], dict[str, LoadComparison]] = {}
    for c in analysis.comparisons:
        cells.setdefault((c.load_level, c.result.subject), {})[c.response.name] = c
    rows = [
        [
            f"{subject} at {load_text(level)}",
            *[_marked_ratio(found.get(response.name)) for response in responses],
            *([_counts([found[r.name] for r in responses if r.name in found])] if counts else []),
        ]
        for (level, subject), found in sorted(cells.items(), key=lambda item: item[0][0])
        if not counts or any(response.name in found for response in responses)
    ]
    return table(
        ["Oil and load", *[_matrix_head(response) for response in responses], *["n"] * counts],
        rows,
        caption=f"{listing([response.label for response in responses])} against {analysis.reference}",
        key=f"against-{responses[0].name.replace('_', '-')}",
        number_columns=range(1, 1 + len(responses)),
        note=_matrix_note(analysis, counts) if told else None,
    )


def contact_table(analysis: Analysis) -> Markup:
    """Tabulate the contact before and after wear, one row per oil and load."""
    states = analysis.context.contact
    return table(
        ["Oil and load", *CONTACT_HEADS],
        [[f"{one.lubricant} at {load_text(one.load_level)}", *contact_cells(one)] for one in states],
        caption=CONTACT,
        key="contact",
        number_columns=[1, 2, 3, 4],
    )


CONTACT = "The contact at the first touch and at the end of the run"
CONTACT_HEADS: tuple[str | tuple[str, str], ...] = (
    ("Initial peak pressure", "MPa"),
    ("Final scar pressure, median (range)", "MPa"),
    "Drop, times",
    ("Scar depth, median (range)", "µm"),
)


def contact_cells(state: ContactState) -> list[str]:
    """Write the contact of one oil and load, a text for each head."""
    hertz = state.hertz_peak_pressure
    return [
        significant(to_shown(hertz, "MPa")) if np.isfinite(hertz) else "not computed",
        _range_text(state.scar_pressure, "MPa"),
        "–" if not np.isfinite(hertz) else significant(state.drop, 2),
        _range_text(state.scar_depth, "µm"),
    ]


def growth_table(curves: Sequence[Growth]) -> Markup:
    """Tabulate what the quiet times tell of wear coefficient and film pressure."""
    rows = [
        [
            f"{c.lubricant} at {load_text(c.load_level)}",
            str(c.n),
            significant(c.quiet_time, 2),
            significant(to_shown(c.wear_coefficient, "10⁻⁶ mm³/(N m)"), 2),
            significant(to_shown(c.film_pressure, "MPa")),
        ]
        for c in curves
    ]
    return table(
        [
            "Oil and load",
            "Runs with a quiet time",
            ("Median quiet time", "s"),
            ("Wear coefficient while wearing", "10⁻⁶ mm³/(N m)"),
            ("Film pressure by the model", "MPa"),
        ],
        rows,
        caption="Wear coefficient and film pressure from one scar and its quiet time (medians over runs)",
        key="growth",
        number_columns=range(1, 5),
        note=(
            "From one scar and one time no interval can be given: no data are left to estimate the scatter."
        ),
    )


def spread_table(analysis: Analysis, response: Response, measured: dict[str, float]) -> Markup:
    """Tabulate the spread between runs beside the uncertainty of one measurement."""
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


def next_runs_table(found: Sequence[NextRuns], confidence: float) -> Markup:
    """Tabulate where the next run and most runs of each oil and load will lie, from at least one cell."""
    response = found[0].summary.response
    rows = [
        [
            f"{one.summary.cell.lubricant} at {load_text(one.summary.cell.load_level)}",
            str(one.summary.cell.values.size),
            _between(response, one.prediction),
            _between(response, one.tolerance),
            sentence(one.reason),
        ]
        for one in found
    ]
    most = percentage(CONTENT)
    return table(
        [
            "Oil and load",
            "n",
            ("The next run", response.shown_unit),
            (f"{most} of all runs", response.shown_unit),
            "Note",
        ],
        rows,
        caption=f"{response.label}: where the next run and most runs lie",
        key="next-runs",
        number_columns=(1, 2, 3),
        note=f"The next run: prediction interval, {percentage(confidence)}. {most} of all runs: tolerance "
        f"interval, with {percentage(confidence)} confidence. n: runs.",
    )


def _between(response: Response, found: Estimate | None) -> str:
    if found is None or found.low is None or found.high is None:
        return "–"
    low, high = (significant(shown(response, end)) for end in (found.low, found.high))
    return f"{low} to {high}"


def _matrix_note(analysis: Analysis, counts: bool) -> str:
    sure, level = percentage(analysis.confidence), f"{1.0 - analysis.confidence:.3g}"
    rest = "The method, adjusted p and n of each are in results.json."
    if counts:
        rest = "n: runs of the oil and of the reference. Each adjusted p is in results.json."
    return (
        f"Ratio to {analysis.reference} with {sure} interval, or the difference where one is named in the "
        f"head. * The interval leaves out equality, and adjusted p is below {level}. † Not like for like, by "
        f"the audit. {rest}"
    )


def _counts(found: Sequence[LoadComparison]) -> str:
    """Write the numbers of runs of an oil and of the reference, over the responses of a row."""
    both = [sorted({c.result.n for c in found}), sorted({c.result.n_reference for c in found})]
    return " and ".join(str(one[0]) if len(one) == 1 else f"{one[0]} to {one[-1]}" for one in both)


NO_LIMIT = "no limit from these data"


def _matrix_head(response: Response) -> str | tuple[str, str]:
    return (
        response.label if response.scale == "log" else (f"{response.label}, difference", response.shown_unit)
    )


def _marked_ratio(c: LoadComparison | None) -> str:
    if c is None:
        return NOT_MEASURED
    if c.unlike is not None:
        return "unlike, not tested"
    return _ratio_cell(c) + (" †" if c.blocked else " *" if c.separated else "")


def by_cell(analysis: Analysis, responses: Sequence[Response]) -> dict[tuple[float, str], dict[str, Summary]]:
    """Collect the estimates of some responses for each load and oil, the loads upwards."""
    names = {response.name for response in responses}
    found: dict[tuple[float, str], dict[str, Summary]] = {}
    for summary in analysis.summaries:
        if summary.response.name in names:
            key = (summary.cell.load_level, summary.cell.lubricant)
            found.setdefault(key, {})[summary.response.name] = summary
    return dict(sorted(found.items(), key=lambda item: item[0][0]))


def interval_cell(summary: Summary | None) -> str:
    """Write an estimate with its interval, or why there is none."""
    if summary is None:
        return NOT_MEASURED
    estimate = summary.estimate
    numbers = [shown(summary.response, value) for value in (estimate.estimate, estimate.low, estimate.high)]
    if estimate.estimate is None:
        return f"≤ {significant(numbers[2])}" if numbers[2] is not None else f"≥ {significant(numbers[1])}"
    if estimate.n == 1:
        return f"{significant(numbers[0])} single run, no interval"
    if estimate.low is None and estimate.high is None and not summary.response.is_count:
        return f"{significant(numbers[0])} {NO_LIMIT}"
    return with_interval(*numbers)


def _ratio_cell(c: LoadComparison) -> str:
    if c.response.scale == "log":
        numbers = (c.result.ratio, c.result.low, c.result.high)
        if c.unlike is None and c.result.ratio is not None and c.result.low is None and c.result.high is None:
            return f"{significant(c.result.ratio)} {NO_LIMIT}"
        return with_interval(*numbers, equal=1.0) if any(n is not None for n in numbers) else "not computed"
    zero = shown(c.response, 0.0) or 0.0
    ends = (shown(c.response, value) for value in (c.result.difference, c.result.low, c.result.high))
    value, low, high = (None if end is None else end - zero for end in ends)
    return with_interval(value, low, high, equal=0.0)


def _p_cell(c: LoadComparison, confidence: float) -> str:
    p = c.result.p_adjusted
    return "not tested" if p is None else p_value(p, 1.0 - confidence)


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


def _range_text(values: Spread, unit: str) -> str:
    if not values.n:
        return NOT_MEASURED
    ends = (values.median, values.low, values.high)
    middle, low, high = (significant(to_shown(value, unit)) for value in ends)
    return f"{middle} ({low} to {high})" if values.n > 1 else middle


def measured_of(analysis: Analysis, response: Response) -> dict[str, float]:
    """Give the uncertainty of one measurement of each oil and load in percent."""
    return {
        f"{name} at {load_text(level)}": 100.0 * value
        for (name, level), value in analysis.context.cell_uncertainty.get(response.name, {}).items()
    }


def first(analysis: Analysis, names: Sequence[str]) -> Response | None:
    """Give the first of some responses that the report has."""
    return next(iter(chosen(analysis, names)), None)


def chosen(analysis: Analysis, names: Sequence[str]) -> list[Response]:
    """Give those of some responses that the report has."""
    by_name = {response.name: response for response in analysis.responses}
    return [by_name[name] for name in names if name in by_name]

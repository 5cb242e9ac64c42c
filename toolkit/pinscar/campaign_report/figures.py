"""The report's figures: drawn for print and for a phone, with caption and text alternative.

The charts of ratios to the reference and of the contact pressure are drawn here too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pinscar.campaign_report import openers
from pinscar.campaign_report.growth_and_duty import LONGEST_LABEL, duty_chart, growth_chart
from pinscar.campaign_report.growth_and_duty import PANEL_MM as GROWTH_MM
from pinscar.campaign_report.interval_chart import (
    FRAME_MM,
    PANEL_MM,
    ROW_MM,
    Limit,
    beyond_axis,
    interval_chart,
)
from pinscar.decision.judgements import LoadComparison, Summary
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.surrounding_states import BenchDuty, Growth, JointDuty
from pinscar.page import style
from pinscar.page.outline import figure_for_both
from pinscar.page.style import MOST_DOTS, margin_note, name_rows, padded, row_name, set_log_axis, spread_over
from pinscar.shown import to_shown
from pinscar.wording import limit_number, load_text, percentage, with_interval, with_unit
from pinscar.wording import sentence as as_sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def ratio_chart(
    comparisons: Sequence[LoadComparison],
    roles: Mapping[str, str],
    reference: str,
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    row_mm: float = ROW_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the ratios of one response to the reference, one panel per load."""
    levels = sorted({c.load_level for c in comparisons})
    names, looks = list(roles), style.looks(roles)
    panels = [
        sorted(
            (c for c in comparisons if c.load_level == level),
            key=lambda c: names.index(c.result.subject),
            reverse=True,
        )
        for level in levels
    ]
    heights = [len(panel) * row_mm + PANEL_MM for panel in panels]
    ends = [
        end
        for c in comparisons
        for end in (c.result.low, c.result.high, c.result.ratio, 1.0)
        if end is not None
    ]
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        for one, level, panel in zip(axes, levels, panels, strict=True):
            _draw_ratios(one, panel, (roles, looks), wide=width_mm >= 120, tight=row_mm < ROW_MM)
            one.set_title(f"at {load_text(level)}")
            set_log_axis(one, *padded(ends))
        label = comparisons[0].response.label
        axes[-1].set_xlabel(f"{label} as a ratio to {reference}{style.LOG}")
    return style.figure_of(axes)


def _ratio(c: LoadComparison) -> float:
    return c.result.ratio or 0.0


def _draw_ratios(
    axes: Axes,
    panel: Sequence[LoadComparison],
    known: tuple[Mapping[str, str], Mapping[str, style.RoleLook]],
    *,
    wide: bool,
    tight: bool,
) -> None:
    roles, looks = known
    axes.axvline(1.0, color=style.ROLES["reference"].colour, linewidth=1.2)
    for row, c in enumerate(panel):
        look, result = looks[c.result.subject], c.result
        if result.low is not None and result.high is not None:
            axes.plot(
                [result.low, result.high], [row, row], color=look.colour, linewidth=4.0, solid_capstyle="butt"
            )
        filled = look.colour if result.low is not None else style.PAPER
        axes.plot(
            [_ratio(c)],
            [row],
            marker=look.marker,
            markersize=7.0,
            color=filled,
            markeredgecolor=style.PAPER if result.low is not None else look.colour,
            markeredgewidth=1.2,
        )
        numbers = (
            with_interval(result.ratio, result.low, result.high, equal=1.0)
            if c.unlike is None
            else "unlike, not tested"
        )
        runs = f"n = {result.n} and {result.n_reference}" if c.blocked is None else "not like for like"
        margin_note(
            axes,
            f"{numbers}{', ' if tight else chr(10)}{runs}" if wide else f"n = {result.n}",
            row,
            linespacing=1.15,
        )
    names = [c.result.subject for c in panel]
    name_rows(axes, [row_name(name, roles[name], wide=wide, tight=tight) for name in names])


CONTACT_ROW_MM = 6.0


def pressure_fall_chart(
    runs: pd.DataFrame,
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the fall of the contact pressure, one row per oil, one panel per load."""
    known = runs.dropna(subset=["scar_pressure", "load_level"])
    levels = sorted(known["load_level"].unique())
    heights = [
        known.loc[known["load_level"] == v, "lubricant"].nunique() * CONTACT_ROW_MM + PANEL_MM for v in levels
    ]
    pressures = to_shown(pd.concat([known["scar_pressure"], known["hertz_peak_pressure"].dropna()]), "MPa")
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        for one, level in zip(axes, levels, strict=True):
            _draw_contact(one, known[known["load_level"] == level], roles)
            one.set_title(f"at {load_text(float(level))}")
            set_log_axis(one, *padded([float(pressures.min()), float(pressures.max())]))
        axes[-1].set_xlabel(f"Contact pressure [MPa]{style.LOG}")
    return style.figure_of(axes)


def _draw_contact(axes: Axes, runs: pd.DataFrame, roles: Mapping[str, str]) -> None:
    looks, present = style.looks(roles), set(runs["lubricant"])
    order = [name for name in reversed(list(roles)) if name in present]
    for row, name in enumerate(order):
        own, look = runs[runs["lubricant"] == name], looks[name]
        start, final = (
            to_shown(float(own["hertz_peak_pressure"].median()), "MPa"),
            to_shown(own["scar_pressure"].to_numpy(), "MPa"),
        )
        if np.isfinite(start):
            axes.plot([float(np.median(final)), start], [row, row], color=look.tint, linewidth=2.5, zorder=1)
            axes.plot(
                [start], [row], marker="o", markersize=6.0, color=style.PAPER, markeredgecolor=look.colour
            )
        drawn = final[spread_over(final)]
        axes.plot(
            drawn,
            np.full(drawn.size, row),
            linestyle="none",
            marker=look.marker,
            markersize=3.6,
            color=look.colour,
        )
    name_rows(axes, [row_name(name, "", wide=False) for name in order])


FRONT_ROW_MM = 5.8
"""Height of a row there, so that the page holds text and chart."""
ROOMY_ROWS = 18
"""Rows of a chart from which they stand closer, so that a page holds it."""
PAGE_ROWS = 30
"""Rows of a chart that a page holds."""
CROWDED_ROW_MM = 5.0
"""The same, for more oils than that, and where a letterhead takes room."""
FRONT_ROWS = 8
"""Most rows of the chart on page one."""


def on_front(analysis: Analysis, response: Response) -> bool:
    """Say whether page one has room for all rows of a response's chart."""
    return len([s for s in analysis.summaries if s.response.name == response.name]) <= FRONT_ROWS


def front_rows(analysis: Analysis, response: Response) -> int:
    """Count the rows of the chart on page one."""
    found = [s for s in analysis.summaries if s.response.name == response.name]
    if on_front(analysis, response):
        return len(found)
    return sum(s.cell.load_level == _front_level(analysis, response) for s in found)


def all_on_front(analysis: Analysis, response: Response) -> bool:
    """Say whether the chart on page one leaves no row out: that of a single load shows every oil."""
    found = [s for s in analysis.summaries if s.response.name == response.name]
    return front_rows(analysis, response) == len(found)


def _front_level(analysis: Analysis, response: Response) -> float:
    """Choose the one load level that page one shows: one with a limit, else the lowest."""
    levels = [s.cell.load_level for s in analysis.summaries if s.response.name == response.name]
    limited = [limit.load_level for limit in limits_of(analysis, response)]
    return min(limited or levels)


def response_figures(analysis: Analysis, response: Response, *, key: str) -> list[str]:
    """Draw a response with every run: one figure, or one a load where a page is too short."""
    found = [s for s in analysis.summaries if s.response.name == response.name]
    levels = sorted({s.cell.load_level for s in found})
    if len(found) <= PAGE_ROWS:
        return [response_figure(analysis, response, key=key)]
    return [
        response_figure(analysis, response, key=f"{key}-{place}", level=level)
        for place, level in enumerate(levels, 1)
    ]


def response_figure(
    analysis: Analysis, response: Response, *, key: str, front: bool = False, level: float | None = None
) -> str:
    """Draw the estimates of a response with every run, or at one load; on page one what it has room for."""
    found = [
        s
        for s in analysis.summaries
        if s.response.name == response.name and level in (None, s.cell.load_level)
    ]
    limits = [one for one in limits_of(analysis, response) if level in (None, one.load_level)]
    if front and not on_front(analysis, response):
        level = _front_level(analysis, response)
        found = [s for s in found if s.cell.load_level == level]
        limits = [limit for limit in limits if limit.load_level == level]
    row_mm = FRONT_ROW_MM if front or len(found) > ROOMY_ROWS else ROW_MM
    headed = analysis.campaign.file.report is not None  # a letterhead stands above, too
    row_mm = CROWDED_ROW_MM if front and (headed or len(found) > FRONT_ROWS) else row_mm
    return figure_for_both(
        lambda width: interval_chart(response, found, analysis.roles, limits, width_mm=width, row_mm=row_mm),
        made_from=("interval_chart", response, found, analysis.roles, limits, row_mm),
        alt=openers.response_levels(analysis, response),
        caption=_interval_caption(analysis, response, found, limits),
        key=key,
    )


def ratio_figure(analysis: Analysis, response: Response, *, key: str, row_mm: float = ROW_MM) -> str:
    """Draw every oil's ratio to the reference."""
    found = [
        c for c in analysis.comparisons if c.response.name == response.name and c.result.ratio is not None
    ]
    return figure_for_both(
        lambda width: ratio_chart(found, analysis.roles, analysis.reference, width_mm=width, row_mm=row_mm),
        made_from=("ratio_chart", found, analysis.roles, analysis.reference, row_mm),
        alt=openers.against_reference(analysis),
        caption=(
            f"{response.label} as a ratio to {analysis.reference}, with {percentage(analysis.confidence)} "
            "intervals. A bar that "
            f"excludes 1 shows a difference. n: runs of the oil and of {analysis.reference}."
        ),
        key=key,
    )


def contact_figure(analysis: Analysis, *, key: str) -> str:
    """Draw the fall of the contact pressure from first touch to final scar."""
    groups = analysis.included.groupby(["lubricant", "load_level"])
    thinned = f" {as_sentence(_thinned())}" if groups.size().max() > MOST_DOTS else ""
    return figure_for_both(
        lambda width: pressure_fall_chart(analysis.included, analysis.roles, width_mm=width),
        alt=openers.contact(analysis),
        caption=(
            "Peak pressure of the elastic contact before wear (open ring) and mean pressure of the final "
            f"scar of every run (dots), logarithmic scale.{thinned}"
        ),
        key=key,
    )


def growth_figure(
    analysis: Analysis,
    curves: Sequence[Growth],
    *,
    sentence: str,
    key: str,
    panel_mm: float = GROWTH_MM,
) -> str:
    """Draw how the scars grew, from the quiet times."""
    long = [one.lubricant for one in curves if len(one.lubricant) > LONGEST_LABEL]
    numbered = " A number is an oil's place in the table of lubricants." if long else ""
    thinned = f" {as_sentence(_thinned())}" if any(len(c.end_length) > MOST_DOTS for c in curves) else ""
    return figure_for_both(
        lambda width: growth_chart(curves, analysis.roles, width_mm=width, panel_mm=panel_mm),
        made_from=("growth_chart", curves, analysis.roles, panel_mm),
        alt=sentence,
        caption=(
            "Scar length against time by the wear-arrest model, through the median quiet time (open "
            "mark) and the final scars (filled marks: every run); each oil has its own line and mark. "
            "Between its ends a curve is the model's, not measured."
            f"{numbered}{thinned}"
        ),
        key=key,
    )


def duty_figure(joint: JointDuty, bench: Sequence[BenchDuty], *, sentence: str, key: str) -> str:
    """Draw bench and chain joint as points of pressure and sliding speed."""
    return figure_for_both(
        lambda width: duty_chart(joint, bench, width_mm=width),
        made_from=("duty_chart", joint, bench),
        alt=sentence,
        caption=(
            "Range of the final scar pressures and sliding speed of the bench, beside the mean pressure and "
            "sliding speed of the chain joint. Thin lines: equal pressure times speed."
        ),
        key=key,
    )


def limits_of(analysis: Analysis, response: Response) -> list[Limit]:
    """Collect the release limits that a chart of a response marks."""
    limits = []
    for result in analysis.criteria:
        criterion = result.criterion
        if criterion.response != response.name or criterion.is_relative:
            continue
        levels = {s.cell.load_level for s in analysis.summaries if s.response.name == response.name}
        for level in levels:
            if criterion.load is None or abs(criterion.load - level) <= 0.005 * level:
                value = result.limit * response.shown_factor
                bound = with_unit(limit_number(value), response.shown_unit)
                label = f"{criterion.lubricant} {criterion.rule} {bound}"
                limits.append(Limit(level, value, label))
    return limits


def _thinned() -> str:
    """Say that not all dots are drawn."""
    return f"of an oil with more than {MOST_DOTS} runs, {MOST_DOTS} dots from the least to the greatest"


def _interval_caption(
    analysis: Analysis, response: Response, found: Sequence[Summary], limits: Sequence[Limit]
) -> str:
    bars = any(s.estimate.low is not None and s.estimate.high is not None for s in found)
    bar = f" and {percentage(analysis.confidence)} interval (bar)" if bars else ""
    parts = [f"{response.label} of each oil: estimate{bar}, every run (dots below)"]
    if beyond_axis(response, found, limits):
        parts.append("a bar with a tip goes on beyond the axis")
    if any(len(s.cell.values) > MOST_DOTS for s in found):
        parts.append(_thinned())
    if any(
        s.cell.lubricant == analysis.reference and None not in (s.estimate.low, s.estimate.high)
        for s in found
    ):
        parts.append(f"the band is the interval of {analysis.reference}")
    if response.censored_side and any(s.estimate.n_censored for s in found):
        parts.append("an open arrow is a run that gives only a bound and points to where its true value lies")
    if any(s.estimate.estimate is None for s in found):
        parts.append("a dashed line is a bound on the median, where every run is a bound")
    if limits:
        noun = (
            "a release limit"
            if len({(one.load_level, one.value) for one in limits}) == 1
            else "release limits"
        )
        parts.append(f"dashed upright: {noun}")
    return "; ".join(parts) + "."

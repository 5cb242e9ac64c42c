"""The chart of a response: one line per oil, its interval as a bar, every run as a dot."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.decision.judgements import Summary
from pinscar.decision.responses import Response, in_unit
from pinscar.page import style
from pinscar.page.style import margin_note, name_rows, padded, row_name, set_log_axis, spread_over
from pinscar.units import to_unit
from pinscar.wording import limit_number, load_text, with_interval

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_MM = 8.5
WIDE_MM = 120.0
HEAD_MM = 3.4
"""Height of a line that says what a dashed line is."""
WIDE_LINE, NARROW_LINE = 80, 40
"""Signs in such a line, on paper and on a phone."""
MOST_LINES = 2
FRAME_MM = 13.0
PANEL_MM = 7.0


@dataclass(frozen=True, slots=True)
class Limit:
    """A release limit to draw into a chart.

    Attributes
    ----------
    load_level : float
        Load level that it belongs to [N].
    value : float
        The limit in the unit shown.
    label : str
        What it asks of which oil; the line itself carries the number alone.
    """

    load_level: float
    value: float
    label: str


def interval_chart(
    response: Response,
    summaries: Sequence[Summary],
    roles: Mapping[str, str],
    limits: Sequence[Limit] = (),
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    numbers: bool = True,
    row_mm: float = ROW_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the estimates of a response, one panel per load, oils in the order of the roles, first on top."""
    levels = sorted({summary.cell.load_level for summary in summaries})
    panels = [_ordered(roles, [s for s in summaries if s.cell.load_level == level]) for level in levels]
    looks, wide = style.looks(roles), width_mm >= WIDE_MM
    heads = {
        level: _limit_lines([one for one in limits if one.load_level == level], wide) for level in levels
    }
    heights = [
        len(panel) * row_mm + PANEL_MM + HEAD_MM * len(heads[level])
        for level, panel in zip(levels, panels, strict=True)
    ]
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        low, high = _range(response, summaries, limits)
        for one, level, panel in zip(axes, levels, panels, strict=True):
            if response.scale == "log":
                set_log_axis(one, low, high)
            else:
                one.set_xlim(low, high)
            marks = [limit for limit in limits if limit.load_level == level]
            _draw_panel(
                one, response, panel, (roles, looks), wide=wide, numbers=numbers, tight=row_mm < ROW_MM
            )
            lifted = _draw_limits(one, marks, heads[level], wide=wide)
            one.set_title(f"at {load_text(level)}", pad=4.0 + lifted)
        unit = f" [{response.shown_unit}]" if response.shown_unit not in ("", "1") else ""
        axes[-1].set_xlabel(f"{response.label}{unit}{style.LOG if response.scale == 'log' else ''}")
    return style.figure_of(axes)


def shown(response: Response, value: float | None) -> float | None:
    """Turn an SI value into the unit that is printed."""
    converted = in_unit(response, value)
    return None if converted is None else converted * response.shown_factor


def _ordered(roles: Mapping[str, str], panel: list[Summary]) -> list[Summary]:
    # Rows count upwards, so that the first oil comes last.
    names = list(roles)
    return sorted(panel, key=lambda summary: names.index(summary.cell.lubricant), reverse=True)


def _limit_lines(limits: Sequence[Limit], wide: bool) -> list[str]:
    """Say above a panel what its dashed lines are, in lines that fit."""
    if not limits:
        return []
    labels = list(dict.fromkeys(limit.label for limit in limits))
    told = f"dashed: {'; '.join(labels)}"
    if len(told) > MOST_LINES * (WIDE_LINE if wide else NARROW_LINE):
        told = f"dashed: {len(labels)} release limits, by the value above each line"
    return textwrap.wrap(told, WIDE_LINE if wide else NARROW_LINE)


def _draw_limits(axes: Axes, limits: Sequence[Limit], lines: Sequence[str], *, wide: bool) -> float:
    """Draw the limits with their numbers, and what they ask for above; return the room taken [pt]."""
    size = style.TEXT_SIZE - 1.0
    step, apart = size + 1.5, 0.06 if wide else 0.13
    last: list[float] = []
    for value in sorted({limit.value for limit in limits}):
        axes.axvline(value, color=style.LIMIT, linewidth=1.0, linestyle=(0, (4, 2)))
        # Where two numbers would touch, the second goes a line up.
        place = float(axes.transAxes.inverted().transform(axes.transData.transform((value, 0.0)))[0])
        row = next((k for k, taken in enumerate(last) if place - taken >= apart), len(last))
        last[row : row + 1] = [place]
        _above(axes, limit_number(value), (value, "data"), 2.0 + row * step, ha="center", size=size)
    floor = 2.0 + len(last) * step
    for number, line in enumerate(reversed(lines)):
        _above(axes, line, (0.0, "axes fraction"), floor + number * step, ha="left", size=size)
    return len(last) * step + len(lines) * step


def _above(axes: Axes, text: str, x: tuple[float, str], rise: float, *, ha: str, size: float) -> None:
    told = axes.annotate(
        text,
        (x[0], 1.0),
        (0, rise),
        xycoords=(x[1], "axes fraction"),
        textcoords="offset points",
        ha=ha,
        va="bottom",
        fontsize=size,
        color=style.LIMIT,
        annotation_clip=False,
    )
    # The title above has made the room; a long line must not squeeze the axes.
    told.set_in_layout(False)


def _range(response: Response, summaries: Sequence[Summary], limits: Sequence[Limit]) -> tuple[float, float]:
    runs = _numbers(response, [value for summary in summaries for value in summary.cell.values]).tolist()
    ends = [shown(response, end) for s in summaries for end in (s.estimate.low, s.estimate.high)]
    values = [*(limit.value for limit in limits), *runs, *(end for end in ends if end is not None)]
    if response.scale == "linear":
        room = 0.06 * (max(values) - min(values) or 1.0)
        return min(values) - room, max(values) + room
    # An interval that reaches far beyond every run must not squeeze the runs into a corner.
    floor, ceiling = min(runs) / 3.0, max(runs) * 3.0
    return padded([min(max(value, floor), ceiling) for value in values])


def beyond_axis(response: Response, summaries: Sequence[Summary], limits: Sequence[Limit]) -> bool:
    """Tell whether an interval goes on beyond the axis of its chart."""
    low, high = _range(response, summaries, limits)
    intervals = [(shown(response, s.estimate.low), shown(response, s.estimate.high)) for s in summaries]
    return any(
        below is not None and above is not None and not low <= below <= above <= high
        for below, above in intervals
    )


def _numbers(response: Response, values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(to_unit(values, response.unit) * response.shown_factor, dtype=np.float64)


def _draw_panel(
    axes: Axes,
    response: Response,
    panel: list[Summary],
    known: tuple[Mapping[str, str], Mapping[str, style.RoleLook]],
    *,
    wide: bool,
    numbers: bool,
    tight: bool,
) -> None:
    roles, looks = known
    for row, summary in enumerate(panel):
        name = summary.cell.lubricant
        if roles[name] == "reference":
            _draw_band(axes, response, summary)
        _draw_row(axes, response, row, summary, looks[name])
        estimate = summary.estimate
        count = f"n = {estimate.n}" + (
            f", {estimate.n_censored} bound{'s' * (estimate.n_censored > 1)}" if estimate.n_censored else ""
        )
        interval = with_interval(
            *(shown(response, v) for v in (estimate.estimate, estimate.low, estimate.high))
        )
        told = f"{interval}{', ' if tight else chr(10)}{count}" if numbers else count
        margin_note(axes, told if wide else f"n = {estimate.n}", row, color=style.INK, linespacing=1.15)
    names = [summary.cell.lubricant for summary in panel]
    name_rows(axes, [row_name(name, roles[name], wide=wide, tight=tight) for name in names])


def _draw_band(axes: Axes, response: Response, summary: Summary) -> None:
    low, high = shown(response, summary.estimate.low), shown(response, summary.estimate.high)
    if low is not None and high is not None:
        axes.axvspan(low, high, color=style.ROLES["reference"].tint, linewidth=0, zorder=0)


def _draw_row(axes: Axes, response: Response, row: int, summary: Summary, look: style.RoleLook) -> None:
    estimate = summary.estimate
    value, low, high = (shown(response, v) for v in (estimate.estimate, estimate.low, estimate.high))
    y = row + 0.17
    if low is not None and high is not None:
        axes.plot(
            [low, high], [y, y], color=look.colour, linewidth=4.0, alpha=1.0, solid_capstyle="butt", zorder=3
        )
        _draw_tips(axes, low, high, y, look.colour)
    elif value is None:
        _draw_bound(axes, high, low, y, look.colour)
    if value is not None:
        axes.plot(
            [value],
            [y],
            marker=look.marker,
            markersize=7.0,
            color=look.colour,
            markeredgecolor=style.PAPER,
            markeredgewidth=1.2,
            zorder=4,
        )
    _draw_runs(axes, response, row, summary, look.colour)


def _draw_tips(axes: Axes, low: float, high: float, y: float, colour: str) -> None:
    """Give a bar that goes on beyond the axis a tip there (marks 4 and 5 of matplotlib)."""
    left, right = axes.get_xlim()
    for outside, end, mark in ((low < left, left, 4), (high > right, right, 5)):
        if outside:
            axes.plot([end], [y], marker=mark, markersize=8.0, color=colour, clip_on=False, zorder=3)


def _draw_bound(axes: Axes, high: float | None, low: float | None, y: float, colour: str) -> None:
    end, away = (high, -1) if high is not None else (low, 1)
    if end is None:
        return
    axes.plot([end, end], [y - 0.16, y + 0.16], color=colour, linewidth=2.0, zorder=4)
    axes.annotate(
        "",
        xy=(end, y),
        xytext=(away * 46, 0),
        textcoords="offset points",
        zorder=3,
        arrowprops={
            "arrowstyle": "-",
            "linestyle": (0, (3, 2)),
            "color": colour,
            "shrinkA": 0,
            "shrinkB": 0,
        },
    )


def _draw_runs(axes: Axes, response: Response, row: int, summary: Summary, colour: str) -> None:
    y = row - 0.27
    away = 8 if response.censored_side == "right" else -8
    values, bounds = np.asarray(summary.cell.values), np.asarray(summary.cell.censored, dtype=bool)
    chosen = spread_over(values)
    places = _numbers(response, values[chosen])
    seen, bound = places[~bounds[chosen]], places[bounds[chosen]]
    if seen.size:
        dots: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 3.4}
        axes.plot(seen, np.full(seen.size, y), color=colour, zorder=5, **dots)
    for x in bound:
        axes.annotate(
            "",
            xy=(x, y),
            xytext=(away, 0),
            textcoords="offset points",
            zorder=5,
            arrowprops={
                "arrowstyle": "<|-,head_length=0.35,head_width=0.18",
                "edgecolor": colour,
                "facecolor": style.PAPER,
                "linewidth": 0.9,
                "shrinkA": 0,
                "shrinkB": 0,
                "mutation_scale": 10,
            },
        )
    if bound.size:
        ends: dict[str, Any] = {"linestyle": "none", "marker": "|", "markersize": 5.0, "markeredgewidth": 1.0}
        axes.plot(bound, np.full(bound.size, y), color=colour, zorder=5, **ends)

"""The chart of a response: one line per oil, its interval as a bar, every run as a dot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.decision.responses import Response, in_unit
from pinscar.decision.summaries import Summary
from pinscar.page import style
from pinscar.page.charts import margin_note, name_rows
from pinscar.page.style import padded, set_log_axis
from pinscar.units import to_unit
from pinscar.wording import load_text, with_interval

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_MM = 8.5
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
        What stands at the line.
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
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the estimates of a response, one panel per load, oils ordered by estimate."""
    levels = sorted({summary.cell.load_level for summary in summaries})
    panels = [_ordered(response, [s for s in summaries if s.cell.load_level == level]) for level in levels]
    heights = [len(panel) * ROW_MM + PANEL_MM for panel in panels]
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        low, high = _range(response, summaries, limits)
        for one, level, panel in zip(axes, levels, panels, strict=True):
            marks = [limit for limit in limits if limit.load_level == level]
            _draw_panel(one, response, panel, roles, marks, wide=width_mm >= 120, numbers=numbers)
            one.set_title(f"at {load_text(level)}")
            if response.scale == "log":
                set_log_axis(one, low, high)
            else:
                one.set_xlim(low, high)
        axes[-1].set_xlabel(f"{response.label} [{response.shown_unit}]")
    return style.figure_of(axes)


def shown(response: Response, value: float | None) -> float | None:
    """Turn an SI value into the unit that is printed."""
    converted = in_unit(response, value)
    return None if converted is None else converted * response.shown_factor


def _ordered(response: Response, panel: list[Summary]) -> list[Summary]:
    # The best stands at the top, so that a reader finds it without a legend.
    def place(summary: Summary) -> float:
        estimate = summary.estimate
        value = estimate.estimate if estimate.estimate is not None else estimate.high or estimate.low
        return value if value is not None else 0.0

    return sorted(panel, key=place, reverse=response.better == "lower")


def _range(response: Response, summaries: Sequence[Summary], limits: Sequence[Limit]) -> tuple[float, float]:
    runs = [_number(response, value) for summary in summaries for value in summary.cell.values]
    ends = [shown(response, end) for s in summaries for end in (s.estimate.low, s.estimate.high)]
    values = [*(limit.value for limit in limits), *runs, *(end for end in ends if end is not None)]
    if response.scale == "linear":
        room = 0.06 * (max(values) - min(values) or 1.0)
        return min(values) - room, max(values) + room
    # An interval that reaches far beyond every run must not squeeze the runs into a corner.
    floor, ceiling = min(runs) / 3.0, max(runs) * 3.0
    return padded([min(max(value, floor), ceiling) for value in values])


def _number(response: Response, value: float) -> float:
    return float(to_unit(float(value), response.unit)) * response.shown_factor


def _draw_panel(
    axes: Axes,
    response: Response,
    panel: list[Summary],
    roles: Mapping[str, str],
    limits: list[Limit],
    *,
    wide: bool,
    numbers: bool,
) -> None:
    for row, summary in enumerate(panel):
        role = roles[summary.cell.lubricant]
        if role == "reference":
            _draw_band(axes, response, summary)
        _draw_row(axes, response, row, summary, role)
        estimate = summary.estimate
        count = f"n = {estimate.n}" + (
            f", {estimate.n_censored} bound{'s' * (estimate.n_censored > 1)}" if estimate.n_censored else ""
        )
        interval = with_interval(
            *(shown(response, v) for v in (estimate.estimate, estimate.low, estimate.high))
        )
        told = f"{interval}\n{count}" if numbers else count
        margin_note(axes, told if wide else f"n = {estimate.n}", row, color=style.INK, linespacing=1.15)
    for limit in limits:
        axes.axvline(limit.value, color=style.LIMIT, linewidth=1.0, linestyle=(0, (4, 2)))
        axes.annotate(
            limit.label,
            (limit.value, 1.0),
            (0, 2),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=style.TEXT_SIZE - 1.0,
            color=style.LIMIT,
        )
    names = [summary.cell.lubricant for summary in panel]
    name_rows(axes, [f"{name}\n{roles[name]}" if wide else name for name in names])


def _draw_band(axes: Axes, response: Response, summary: Summary) -> None:
    low, high = shown(response, summary.estimate.low), shown(response, summary.estimate.high)
    if low is not None and high is not None:
        axes.axvspan(low, high, color=style.ROLES["reference"].tint, linewidth=0, zorder=0)


def _draw_row(axes: Axes, response: Response, row: int, summary: Summary, role: str) -> None:
    look, estimate = style.ROLES[role], summary.estimate
    value, low, high = (shown(response, v) for v in (estimate.estimate, estimate.low, estimate.high))
    y = row + 0.12
    if low is not None and high is not None:
        axes.plot(
            [low, high], [y, y], color=look.colour, linewidth=4.0, alpha=1.0, solid_capstyle="butt", zorder=3
        )
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
    y = row - 0.24
    away = 8 if response.censored_side == "right" else -8
    for value, bound in zip(summary.cell.values, summary.cell.censored, strict=True):
        x = _number(response, value)
        if not bound:
            axes.plot([x], [y], marker="o", markersize=3.4, color=colour, zorder=5)
            continue
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
        axes.plot([x], [y], marker="|", markersize=5.0, color=colour, markeredgewidth=1.0, zorder=5)

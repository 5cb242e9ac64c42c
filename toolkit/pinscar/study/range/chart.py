"""The chart of a product range: ratios to the reference, best at the top."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from pinscar.campaign_report.interval_chart import FRAME_MM, PANEL_MM, ROW_MM
from pinscar.page import style
from pinscar.page.style import margin_note, name_rows, padded, set_log_axis
from pinscar.study.range.study import RangeLevel, RangeLine, RangeStudy
from pinscar.wording import with_interval

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE_MM = 120.0


def range_chart(study: RangeStudy, level: RangeLevel, *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw the range of one load."""
    lines = list(reversed(level.lines))
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(len(lines) * ROW_MM + PANEL_MM + FRAME_MM, width_mm=width_mm)
        axes = figure.subplots()
        low, high = _ends(lines)
        axes.axvline(1.0, color=style.ROLES["reference"].colour, linewidth=1.2, zorder=1)
        for row, line in enumerate(lines):
            _draw_line(axes, row, line, low, high)
            _note(axes, row, line, wide=wide)
        names = [line.ranked.lubricant for line in lines]
        labels = [f"{name}\n{line.role}" if wide else name for name, line in zip(names, lines, strict=True)]
        name_rows(axes, labels)
        set_log_axis(axes, low, high)
        axes.set_xlabel(f"{study.response.label} as a ratio to {study.reference}{style.LOG}")
    return figure


def _ends(lines: Sequence[RangeLine]) -> tuple[float, float]:
    """End the axis by what was seen: an interval that rests on few campaigns may reach far beyond."""
    seen = [end for line in lines for end in (line.low, line.high) if end is not None]
    seen += [math.exp(ratio.log_ratio) for line in lines for ratio in line.ratios]
    low, high = padded([*seen, 1.0])
    return low / 1.15, high * 1.15


def _draw_line(axes: Axes, row: int, line: RangeLine, low: float, high: float) -> None:
    look, one = style.ROLES[line.role], line.ranked
    if line.estimate is None or line.low is None or line.high is None:
        axes.plot([1.0], [row], marker=look.marker, markersize=7.0, color=look.colour, zorder=4)
        return
    if one.low is not None and one.high is not None and one.combination is not None:
        room = (high / low) ** 0.012
        ends = (max(one.low, low * room), min(one.high, high / room))
        axes.plot(ends, [row, row], color=look.colour, linewidth=1.0, zorder=2)
        for end, limit, mark in ((one.low, ends[0], 8), (one.high, ends[1], 9)):
            # An end within the axis gets a stroke, one beyond it an arrowhead (matplotlib's marks 8 and 9).
            inside = low * room <= end <= high / room
            axes.plot(
                [limit],
                [row],
                marker="|" if inside else mark,
                markersize=7.0 if inside else 4.0,
                color=look.colour,
                clip_on=False,
                zorder=2,
            )
    axes.plot(
        [line.low, line.high], [row, row], color=look.colour, linewidth=4.5, solid_capstyle="butt", zorder=3
    )
    axes.plot(
        [line.estimate],
        [row],
        marker=look.marker,
        markersize=7.0,
        color=look.colour,
        markeredgecolor=style.PAPER,
        markeredgewidth=1.2,
        zorder=4,
    )
    if len(line.ratios) > 1:
        seen = [math.exp(ratio.log_ratio) for ratio in line.ratios]
        axes.plot(seen, [row - 0.28] * len(seen), "o", markersize=3.4, color=look.colour, zorder=4)


def _note(axes: Axes, row: int, line: RangeLine, *, wide: bool) -> None:
    n = len(line.ratios)
    if line.estimate is None:
        text = "1, by definition" if wide else ""
    elif wide:
        where = f"{line.n} runs, {n} campaigns" if n > 1 else f"{line.n} runs, 1 campaign"
        text = f"{with_interval(line.estimate, line.low, line.high)}\n{where}"
    else:
        text = f"n = {line.n}"
    margin_note(axes, text, row, 8, linespacing=1.15)

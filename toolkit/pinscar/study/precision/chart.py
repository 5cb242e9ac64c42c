"""Charts of a precision study: every result by group, and the consistency statistics h and k."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pinscar.page import style
from pinscar.page.style import margin_note, name_rows
from pinscar.study.precision.study import StudyMaterial, flags
from pinscar.wording import significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_MM = 5.6
FRAME_MM = 15.0
WIDE_MM = 120.0
SHADES = ("#0b62a4", "#8fb8dc", "#3f454b", "#b3bac1", "#0a3a63", "#cfd9e3")


def results_chart(materials: Sequence[StudyMaterial], *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw every result, one row per group, one panel per material, with the limits r and R as lengths."""
    columns = min(2 if width_mm >= WIDE_MM else 1, len(materials))
    rows = math.ceil(len(materials) / columns)
    groups = list(dict.fromkeys(name for material in materials for name in material.values))
    with style.report_style():
        height = rows * ((len(groups) + 2) * ROW_MM + FRAME_MM)
        figure = style.new_figure(height, width_mm=width_mm)
        grid = figure.subplots(rows, columns, squeeze=False, sharey=True)
        for axes, material in zip(grid.flat, materials, strict=False):
            _draw_results(axes, material, groups)
            axes.set_title(material.name)
            axes.set_xlabel(f"{material.response.label} [{material.response.shown_unit}]")
        for axes in grid.flat[len(materials) :]:
            axes.set_visible(False)
    return figure


def _draw_results(axes: Axes, material: StudyMaterial, groups: Sequence[str]) -> None:
    factor = material.response.shown_factor
    found = material.precision
    flagged = {flag.group for flag in flags(material)}
    mean = found.general_mean * factor
    axes.axvline(mean, color=style.RULE, linewidth=1.0, zorder=0)
    for row, name in enumerate(groups):
        values = material.values.get(name, np.array([])) * factor
        look = style.ROLES["benchmark" if name in flagged else "candidate"]
        axes.plot(values, np.full(values.size, row), look.marker, markersize=4.2, color=look.colour, zorder=3)
        if values.size:
            centre = float(np.mean(values))
            axes.plot([centre, centre], [row - 0.34, row + 0.34], color=look.colour, linewidth=1.6, zorder=4)
        if name in flagged:
            margin_note(axes, "flagged", row, 3, fontsize=style.TEXT_SIZE - 1.0, color=style.INK)
    lengths = (found.repeatability_limit * factor, found.reproducibility_limit * factor)
    for row, length in enumerate(lengths, start=len(groups)):
        axes.plot(
            [mean - length / 2.0, mean + length / 2.0],
            [row, row],
            color=style.INK,
            linewidth=1.2,
            marker="|",
            markersize=7.0,
        )
    axes.axhline(len(groups) - 0.5, color=style.RULE, linewidth=0.6)
    name_rows(axes, [*groups, "length r", "length R"], downwards=True)


def consistency_chart(
    materials: Sequence[StudyMaterial], *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw h and k of every group, a bar a material, with their critical values."""
    groups = list(dict.fromkeys(name for material in materials for name in material.values))
    with style.report_style():
        figure = style.new_figure(104.0 + 4.0 * len(materials) * (width_mm < WIDE_MM), width_mm=width_mm)
        upper, lower = figure.subplots(2, 1, sharex=True)
        for axes, statistic in ((upper, "h"), (lower, "k")):
            _draw_statistic(axes, materials, groups, statistic, wide=width_mm >= WIDE_MM)
        upper.set_title("h: how far the group's mean lies from the mean of all groups")
        lower.set_title("k: how much the group scatters against all groups together")
        lower.set_xticks(range(len(groups)), groups)
        if len(materials) > 1:
            handles, labels = upper.get_legend_handles_labels()
            columns = min(len(materials), 4 if width_mm >= WIDE_MM else 2)
            figure.legend(handles, labels, loc="outside lower left", ncols=columns)
        if width_mm < WIDE_MM:
            upper.set_title("h: group mean from mean of all")
            lower.set_title("k: scatter against all groups")
    return figure


def _draw_statistic(
    axes: Axes, materials: Sequence[StudyMaterial], groups: Sequence[str], statistic: str, *, wide: bool
) -> None:
    width = 0.8 / len(materials)
    for index, material in enumerate(materials):
        places = [groups.index(cell.laboratory) for cell in material.precision.cells]
        x = np.array(places) + (index - (len(materials) - 1) / 2.0) * width
        values = [getattr(cell, statistic) for cell in material.precision.cells]
        heights = [np.nan if value is None else value for value in values]
        colour = SHADES[index % len(SHADES)]
        axes.bar(x, heights, 0.86 * width, color=colour, label=material.name, linewidth=0)
        for cell, left, value in zip(material.precision.cells, x, values, strict=True):
            if statistic in cell.flagged and value is not None:
                _label_flag(axes, float(left), float(value), wide=wide)
    _draw_critical(axes, materials, groups, statistic, width)
    axes.axhline(0.0, color=style.MUTED, linewidth=0.6)
    axes.set_xlim(-0.6, len(groups) - 0.4)
    axes.margins(y=0.16)
    axes.set_ylabel(statistic)
    axes.tick_params(axis="x", length=0)


def _label_flag(axes: Axes, x: float, value: float, *, wide: bool) -> None:
    up = value >= 0.0
    axes.annotate(
        f"{significant(value)} ▲" if wide else "▲",
        (x, value),
        (0, 2 if up else -2),
        textcoords="offset points",
        ha="center",
        va="bottom" if up else "top",
        fontsize=style.TEXT_SIZE - 1.0,
        color=style.INK,
    )


def _draw_critical(
    axes: Axes, materials: Sequence[StudyMaterial], groups: Sequence[str], statistic: str, width: float
) -> None:
    """One line where all cells share a critical value, else a tick at each bar."""
    attribute = f"{statistic}_critical"
    cells = [
        (i, cell, getattr(cell, attribute)) for i, m in enumerate(materials) for cell in m.precision.cells
    ]
    known = {round(value, 6) for _, _, value in cells if value is not None}
    signs = (1.0, -1.0) if statistic == "h" else (1.0,)
    if len(known) == 1:
        value = known.pop()
        for sign in signs:
            axes.axhline(sign * value, color=style.LIMIT, linewidth=1.0, linestyle=(0, (4, 2)))
        look = {"fontsize": style.TEXT_SIZE - 1.0, "color": style.LIMIT}
        margin_note(axes, f"critical\n{significant(value)}", value, 4, **look)
        return
    for index, cell, value in cells:
        if value is not None:
            x = groups.index(cell.laboratory) + (index - (len(materials) - 1) / 2.0) * width
            for sign in signs:
                axes.plot(
                    [x - width / 2, x + width / 2], [sign * value] * 2, color=style.LIMIT, linewidth=1.2
                )

"""Charts of a reading study: every reading against its scar's mean, and the sources of reading error."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pinscar.page import style
from pinscar.page.style import margin_note, name_rows
from pinscar.study.page import sd_with_interval
from pinscar.study.reading.study import ScarReadings, deviation_text
from pinscar.wording import significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE_MM = 120.0
PANEL_MM = 52.0
MANY_SCARS = 24
LONGEST = 5.0
"""Longest interval that is drawn whole, as a multiple of the largest estimate."""

SHORT = {
    "repeats": "repeats",
    "reader": "readers",
    "interaction": "reader by scar",
    "reading": "total reading",
}


def deviations_chart(study: ScarReadings, *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw every reading less its scar's mean over all readers, one panel per reader, small scars first."""
    readers = study.layout.readers
    columns = min(3 if width_mm >= WIDE_MM else 1, len(readers))
    rows = math.ceil(len(readers) / columns)
    order = np.argsort(study.layout.values.mean(axis=(0, 2)), kind="stable")
    with style.report_style():
        figure = style.new_figure(rows * PANEL_MM + 8.0, width_mm=width_mm)
        grid = figure.subplots(rows, columns, squeeze=False, sharey=True, sharex=True)
        for axes, reader, own in zip(grid.flat, readers, study.deviations, strict=False):
            _draw_reader(axes, own[order])
            _label_mean(axes, deviation_text(study, float(own.mean())))
            axes.set_title(reader)
        for axes in grid.flat[len(readers) :]:
            axes.set_visible(False)
        names = [study.layout.scars[index] for index in order]
        if len(names) <= MANY_SCARS:
            grid[-1, 0].set_xticks(range(len(names)), names)
            for axes in grid[-1, :]:
                axes.tick_params(axis="x", rotation=90)
        figure.supxlabel("Scar, from small to large", fontsize=style.TEXT_SIZE)
        figure.supylabel(f"Reading less mean of the scar [{study.axis.shown_unit}]", fontsize=style.TEXT_SIZE)
    return figure


def _draw_reader(axes: Axes, own: NDArray[np.float64]) -> None:
    look = style.ROLES["candidate"]
    scars, repeats = own.shape
    axes.axhline(0.0, color=style.MUTED, linewidth=0.6)
    mean = float(own.mean())
    axes.axhline(mean, color=style.LIMIT, linewidth=1.2, linestyle=(0, (4, 2)))
    places = np.repeat(np.arange(scars), repeats)
    axes.plot(places, own.ravel(), "o", markersize=3.0, color=style.PAPER, markeredgecolor=look.colour)
    axes.plot(np.arange(scars), own.mean(axis=1), color=look.colour, linewidth=1.2)
    axes.grid(axis="y", which="major")


def _label_mean(axes: Axes, text: str) -> None:
    axes.annotate(
        f"mean {text}",
        (1.0, 1.0),
        (-1, 3),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="right",
        va="bottom",
        fontsize=style.TEXT_SIZE - 0.5,
        color=style.LIMIT,
    )


def components_chart(study: ScarReadings, *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw the standard deviation of every source of reading error with its interval."""
    found = [one for one in study.study.components if one.source in SHORT]
    look = style.ROLES["candidate"]
    # An interval for two or three readers can reach far out and squeeze all else into a corner.
    cap = LONGEST * max(math.sqrt(one.variance) for one in found)
    with style.report_style():
        figure = style.new_figure(len(found) * 8.0 + 14.0, width_mm=width_mm)
        axes = figure.subplots()
        for row, one in enumerate(found):
            value, low, high = (math.sqrt(v) for v in (one.variance, one.low, one.high))
            end = min(high, cap)
            axes.plot([low, end], [row, row], color=look.colour, linewidth=3.0, solid_capstyle="butt")
            if high > cap:
                axes.plot([cap], [row], ">", markersize=6.0, color=look.colour, clip_on=False)
            axes.plot(
                [value], [row], look.marker, markersize=7.0, color=look.colour, markeredgecolor=style.PAPER
            )
            told = sd_with_interval(value, low, high) if width_mm >= WIDE_MM else significant(value)
            margin_note(axes, told, row)
        name_rows(axes, [SHORT[one.source] for one in found], downwards=True)
        axes.set_xlim(0.0, min(cap, 1.05 * max(math.sqrt(one.high) for one in found)) or 1.0)
        axes.set_xlabel(f"Standard deviation [{study.axis.shown_unit}]")
    return figure

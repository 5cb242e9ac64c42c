"""Control charts drawn: single values with moving ranges, and the moving average."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.rig_control import ControlChart, RigControlStudy
from pinscar.page import style
from pinscar.page.style import log_ticks, margin_note, padded
from pinscar.stats.control import seen
from pinscar.study.rig.words import rules_at, shown_value
from pinscar.wording import significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE_MM = 120.0
FLAG = "benchmark"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LINE = (0, (4, 2))


def individuals_figure(
    study: RigControlStudy, chart: ControlChart, *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the values in order of time with their limits, and the differences of neighbours below."""
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(96.0 if wide else 104.0, width_mm=width_mm)
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(2.1, 1.0))
        limits, factor = chart.control.individuals, study.response.shown_factor
        values = chart.points["value"].to_numpy(dtype=float) * factor
        _shade(upper, chart, wide=wide)
        ends = [shown_value(study, end) * factor for end in (limits.lower, limits.centre, limits.upper)]
        names = ("lower", "centre", "upper")
        _limit_lines(upper, ends, names, wide=wide)
        upper.plot(np.arange(values.size), values, color=style.RULE, linewidth=0.8, zorder=2)
        _points(upper, chart, values)
        _scale(upper, study, [*values, *ends])
        upper.tick_params(axis="x", length=0)
        upper.set_ylabel(f"{study.response.label} [{study.response.shown_unit}]{_log(study)}")
        _moving_ranges(lower, study, chart, wide=wide)
        _dates(lower, chart, wide=wide)
    return figure


def average_figure(
    study: RigControlStudy, chart: ControlChart, *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the exponentially weighted moving average with its limits."""
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(62.0, width_mm=width_mm)
        axes = figure.subplots()
        average, factor = chart.control.ewma, study.response.shown_factor

        def shown(values: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.array([shown_value(study, value) * factor for value in values])

        places, line = np.arange(average.averages.size), shown(average.averages)
        lower, upper = shown(average.lower), shown(average.upper)
        centre = shown_value(study, average.centre) * factor
        _shade(axes, chart, wide=wide, label=False)
        axes.plot(places, lower, color=style.LIMIT, linewidth=0.9, linestyle=LINE, drawstyle="steps-mid")
        axes.plot(places, upper, color=style.LIMIT, linewidth=0.9, linestyle=LINE, drawstyle="steps-mid")
        axes.axhline(centre, color=style.MUTED, linewidth=0.8)
        ends = (float(lower[-1]), centre, float(upper[-1]))
        _line_labels(axes, ends, ("lower", "centre", "upper"), wide=wide)
        look, flag = style.ROLES["reference"], style.ROLES[FLAG]
        axes.plot(places, line, color=look.colour, linewidth=1.4, zorder=3)
        axes.plot(
            places[average.beyond],
            line[average.beyond],
            flag.marker,
            color=flag.colour,
            markersize=5,
            zorder=4,
        )
        _scale(axes, study, [*line, *lower, *upper])
        axes.set_ylabel(f"Moving average [{study.response.shown_unit}]{_log(study)}")
        _dates(axes, chart, wide=wide)
    return figure


def _points(axes: Axes, chart: ControlChart, values: NDArray[np.float64]) -> None:
    places = np.arange(values.size)
    flagged = np.array([bool(rules_at(chart, int(place))) for place in places])
    for chosen, name in ((~flagged, "reference"), (flagged, FLAG)):
        look = style.ROLES[name]
        axes.plot(places[chosen], values[chosen], look.marker, color=look.colour, markersize=4.6, zorder=4)


def _shade(axes: Axes, chart: ControlChart, *, wide: bool, label: bool = True) -> None:
    for period in chart.periods:
        first, last = period.found.first - 0.5, period.found.last + 0.5
        axes.axvspan(first, last, color=style.ROLES[FLAG].tint, linewidth=0, zorder=0)
        if label and wide:  # a phone has no room for words; the table of periods has them
            axes.annotate(
                textwrap.fill(seen(period.found.rules[:1])[0], 16),
                ((first + last) / 2.0, 1.0),
                (0, 2),
                xycoords=("data", "axes fraction"),
                textcoords="offset points",
                ha="center",
                va="bottom",
                fontsize=style.TEXT_SIZE - 1.0,
                annotation_clip=False,
            )
    if chart.n_baseline < len(chart.points):
        axes.axvline(chart.n_baseline - 0.5, color=style.INK, linewidth=0.8, linestyle=(0, (1, 1.5)))
        if label:
            axes.annotate(
                "limits rest on these",
                (chart.n_baseline - 0.5, 0.0),
                (-3, 3),
                xycoords=("data", "axes fraction"),
                textcoords="offset points",
                ha="right",
                fontsize=style.TEXT_SIZE - 1.0,
                color=style.MUTED,
            )


def _limit_lines(axes: Axes, ends: Sequence[float], names: Sequence[str], *, wide: bool) -> None:
    for value, name in zip(ends, names, strict=True):
        middle = name == "centre"
        axes.axhline(
            value,
            color=style.MUTED if middle else style.LIMIT,
            linewidth=0.9,
            linestyle="-" if middle else LINE,
            zorder=1,
        )
    _line_labels(axes, ends, names, wide=wide)


def _line_labels(axes: Axes, ends: Sequence[float], names: Sequence[str], *, wide: bool) -> None:
    for value, name in zip(ends, names, strict=True):
        colour = style.MUTED if name == "centre" else style.LIMIT
        text = f"{name} {significant(value)}" if wide else significant(value)
        margin_note(axes, text, value, 4, fontsize=style.TEXT_SIZE - 1.0, color=colour)


def _moving_ranges(axes: Axes, study: RigControlStudy, chart: ControlChart, *, wide: bool) -> None:
    limits, logarithmic = chart.control.individuals, study.response.scale == "log"
    factor = study.response.shown_factor

    def shown(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return 100.0 * np.expm1(values) if logarithmic else values * factor

    ranges = shown(limits.moving_ranges)
    upper = float(shown(np.array([limits.moving_range_upper]))[0])
    places = np.arange(1, ranges.size + 1)
    look = style.ROLES["reference"]
    axes.plot(places, ranges, color=style.RULE, linewidth=0.8)
    # A range beyond its limit is no signal: the rules look at the values, so it gets no mark of its own.
    axes.plot(places, ranges, look.marker, color=look.colour, markersize=3.4)
    axes.axhline(upper, color=style.LIMIT, linewidth=0.9, linestyle=LINE)
    text = f"upper {significant(upper, 2)}" if wide else significant(upper, 2)
    margin_note(axes, text, upper, 4, fontsize=style.TEXT_SIZE - 1.0, color=style.LIMIT)
    axes.set_ylim(0.0, 1.12 * max(float(ranges.max()), upper))
    unit = "%" if logarithmic else study.response.shown_unit
    axes.set_ylabel(f"Moving range\n[{unit}]")


def _scale(axes: Axes, study: RigControlStudy, values: Sequence[float]) -> None:
    from matplotlib.ticker import MaxNLocator

    if study.response.scale == "linear":
        axes.margins(y=0.1)
        return
    low, high = padded(list(values), 0.08)
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    # Over less than a factor of three, even steps read better than the round numbers of a log axis.
    steps = MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(low, high)
    even = [float(tick) for tick in steps if low <= tick <= high]
    ticks = even if high < 3.0 * low else log_ticks(low, high)
    axes.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_yticks([], minor=True)


def _log(study: RigControlStudy) -> str:
    return "" if study.response.scale == "linear" else "\nlogarithmic"


def _dates(axes: Axes, chart: ControlChart, *, wide: bool) -> None:
    """Name the days under the points, which stand evenly: a check is an hour and a pause a month."""
    days = list(chart.points["day"])
    starts = [place for place, day in enumerate(days) if place == 0 or days[place - 1] != day]
    for start in starts[1:]:
        axes.axvline(start - 0.5, color=style.RULE, linewidth=0.4, zorder=0)
    ends = [*starts[1:], len(days)]
    middles = [(start + end - 1) / 2.0 for start, end in zip(starts, ends, strict=True)]
    # Days have unlike numbers of points, so labels are left out by their distance, not by their number.
    apart, kept = len(days) / (13.0 if wide else 5.5), [0]
    for number, middle in enumerate(middles):
        if middle - middles[kept[-1]] >= apart:
            kept.append(number)
    labels, before = [], ""
    for number in kept:
        year, month, day = (int(part) for part in days[starts[number]].split("-"))
        labels.append(f"{day} {MONTHS[month - 1]}" + (f"\n{year}" if str(year) != before else ""))
        before = str(year)
    axes.set_xticks([middles[number] for number in kept], labels)
    axes.tick_params(axis="x", length=0)
    axes.set_xlim(-0.8, len(days) - 0.2)

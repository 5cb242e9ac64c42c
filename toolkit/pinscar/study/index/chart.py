"""The film pressure of each oil over time, a panel for each oil and load."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from matplotlib.dates import AutoDateLocator, DateFormatter

from pinscar.page.style import PRINT_WIDTH_MM, ROLES, log_ticks, new_figure, padded, report_style
from pinscar.study.index.reports import Film, Report
from pinscar.wording import load_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SAME_LOAD = 0.005
"""Loads of one panel differ by no more than this share, as runs of one load level do."""

PANEL_MM, FRAME_MM = 36.0, 10.0
"""Height of a row of panels, and of the axis below all."""

COLUMNS, MOST = 3, 24
"""Panels beside each other on paper, and most panels; the table has all."""

LOWEST = 4.0
"""Lower limits are drawn down to the lowest estimate over this."""


@dataclass(frozen=True, slots=True)
class Point:
    """The film pressure of an oil in one campaign.

    Attributes
    ----------
    day : datetime.date
        Day in the middle of its runs.
    film : Film
        What was found.
    """

    day: date
    film: Film


def points_by_load(reports: Sequence[Report]) -> dict[float, list[Point]]:
    """Gather what the reports say of film pressure by load, in the order of time."""
    points: list[Point] = []
    for report in reports:
        days = _days(report.days)
        if days:
            points += [
                Point(days[len(days) // 2], film)
                for film in report.films
                if film.estimate is not None or film.high is not None
            ]
    found: dict[float, list[Point]] = {}
    for point in sorted(points, key=lambda one: (one.film.load, one.day, one.film.oil)):
        load = next((one for one in found if abs(point.film.load / one - 1.0) <= SAME_LOAD), point.film.load)
        found.setdefault(load, []).append(point)
    return {load: sorted(some, key=lambda one: one.day) for load, some in found.items()}


def _days(texts: Sequence[str]) -> list[date]:
    found = []
    for text in texts:
        try:
            found.append(date.fromisoformat(text))
        except ValueError:
            continue  # a results.json of a stranger
    return sorted(found)


Panel = tuple[float, str]
"""What one panel shows: a load and an oil."""


def panels_of(by_load: Mapping[float, Sequence[Point]]) -> list[Panel]:
    """Choose the panels: the load with the most points first, at each the oils seen most often first."""
    counts = {load: Counter(one.film.oil for one in points) for load, points in by_load.items()}
    return [
        (load, oil)
        for load in sorted(counts, key=lambda one: (-sum(counts[one].values()), one))
        for oil in sorted(counts[load], key=lambda one: (-counts[load][one], one))
    ][:MOST]


def draw(by_load: Mapping[float, Sequence[Point]], width_mm: float = PRINT_WIDTH_MM) -> Figure:
    """Draw a panel for each oil and load, the reference as a grey line behind; bounds as open marks."""
    panels = panels_of(by_load)
    columns = min(COLUMNS if width_mm >= PRINT_WIDTH_MM else 1, len(panels))
    rows = math.ceil(len(panels) / columns)
    with report_style():
        figure = new_figure(PANEL_MM * rows + FRAME_MM, width_mm=width_mm)
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        for axes, (load, oil) in zip(grid.flat, panels, strict=False):
            _panel(axes, oil, by_load[load])
            axes.set_title(f"{oil}, {load_text(load)}", loc="left")
        for axes in grid.flat[len(panels) :]:
            axes.set_axis_off()
        for axes in grid.flat[max(0, len(panels) - columns) : len(panels)]:
            axes.tick_params(labelbottom=True)  # the lowest of its column
        for axes in grid[:, 0]:
            axes.set_ylabel("Film pressure, MPa")
        _scale(grid[0, 0], [one for load, _ in panels for one in by_load[load]])
        for axes in grid.flat:
            axes.xaxis.set_major_locator(AutoDateLocator(minticks=2, maxticks=4))  # type: ignore[no-untyped-call]
            axes.xaxis.set_major_formatter(DateFormatter("%b %Y"))  # type: ignore[no-untyped-call]
    return figure


def _panel(axes: Axes, oil: str, points: Sequence[Point]) -> None:
    """Draw an oil in the colour of its role, before the reference of the same load."""
    behind = [one for one in points if one.film.role == "reference" and one.film.oil != oil]
    grey = ROLES["reference"]
    for name in dict.fromkeys(one.film.oil for one in behind):
        line = [one for one in behind if one.film.oil == name and one.film.estimate is not None]
        axes.plot(*_line(line), color=grey.tint, lw=3, zorder=1)
    own = [one for one in points if one.film.oil == oil]
    look = ROLES.get(own[0].film.role, ROLES["candidate"])
    axes.plot(
        *_line([one for one in own if one.film.estimate is not None]),
        color=look.colour, marker=look.marker, lw=1, ms=4.5,
    )  # fmt: skip
    for one in own:
        _interval(axes, one, look.colour)
    axes.grid(axis="y", which="major")


def _line(points: Sequence[Point]) -> tuple[Any, list[float]]:
    return [one.day for one in points], [one.film.estimate or 0.0 for one in points]


def _scale(axes: Axes, points: Sequence[Point]) -> None:
    """Make the upright axis of all panels logarithmic, since oils are compared by ratios."""
    ends = [(one.film.low, one.film.estimate, one.film.high) for one in points]
    best = min(one.film.estimate or one.film.high or 1.0 for one in points)
    # A lower limit next to nothing says that it is not known; it would squeeze all else together.
    low, high = padded([end for three in ends for end in three if end is not None and end > best / LOWEST])
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    ticks = log_ticks(low, high)
    axes.set_yticks(ticks, [f"{tick:.6g}" for tick in ticks])
    axes.set_yticks([], minor=True)


def _interval(axes: Axes, one: Point, colour: str) -> None:
    film, day = one.film, [one.day]
    if film.estimate is None:
        axes.plot(day, [film.high or 1.0], marker="v", mfc="none", mec=colour, ls="none", ms=6)  # type: ignore[arg-type]  # matplotlib takes dates
    elif film.low is not None and film.high is not None:
        axes.vlines(day, max(film.low, 1e-6), film.high, color=colour, lw=2)  # type: ignore[arg-type]  # as above

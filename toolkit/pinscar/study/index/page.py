"""One page over many reports: verdicts, limits, film pressures over time, and what is stale."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from markupsafe import Markup
from matplotlib.dates import AutoDateLocator, DateFormatter
from nbformat import v4

from pinscar.errors import UsageError
from pinscar.page import markup
from pinscar.page.outline import figure_for_both
from pinscar.page.page import notebook_to_html
from pinscar.page.style import PRINT_WIDTH_MM, ROLES, log_ticks, new_figure, padded, report_style
from pinscar.press.files import cannot_write, put_file
from pinscar.study.index.reports import Film, Report, find_reports, read_report
from pinscar.wording import counted, date_range, listing, load_text, with_interval, with_unit

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


NAME = "reports.html"
"""The page, in the working folder unless another place is named."""

HEAD = "Reports at a glance"
"""Its title, by which an earlier one is known and replaced."""

ORDER = ("met", "not met", "undecided")
PAGE = "report.html"


def write_index(folders: Sequence[Path], out: Path) -> list[Report]:
    """Write the page over the reports in and below folders."""
    if out.exists() and not _is_ours(out):
        raise UsageError(f"{out} is there and is no page of this kind; name another with --out")
    reports = [read_report(place) for place in find_reports(folders)]
    html = index_html(reports, out.resolve().parent)
    try:
        put_file(out, html.encode())
    except OSError as error:
        raise cannot_write(out.parent, error) from error
    return reports


def _is_ours(path: Path) -> bool:
    if not path.is_file() or path.is_symlink():
        return False
    with path.open("rb") as stream:
        return f"<title>{HEAD}".encode() in stream.read(4096)


def index_html(reports: Sequence[Report], place: Path) -> str:
    """Lay the page out, with links that hold from the folder that it lies in."""
    cells = [_cell(_opening(reports), _reports(reports, place))]
    limits, films = _limits(reports, place), _films(reports, place)
    cells += [v4.new_markdown_cell("## Release limits"), _cell(limits)]
    cells += [v4.new_markdown_cell("## Film pressure over time"), _cell(*films)]
    for number, cell in enumerate(cells):
        cell["id"] = f"index-{number}"
    mark = "Invented data" if any(one.mark for one in reports) else ""
    notebook = v4.new_notebook(cells=cells)
    html = notebook_to_html(notebook, title=HEAD, campaign_id=counted(len(reports), "report"), mark=mark)
    return html.replace('<p class="eyebrow">Campaign ', '<p class="eyebrow">', 1)  # it is about many


def _cell(*parts: object) -> Any:
    outputs = [v4.new_output("display_data", data={"text/html": str(part)}) for part in parts]
    return v4.new_code_cell("", outputs=outputs)


def _opening(reports: Sequence[Report]) -> Markup:
    counts = Counter(one.overall for one in reports if not one.unread)
    said = [f"{counts[word]} {word}" for word in ORDER if counts[word]]
    none = sum(count for word, count in counts.items() if word not in ORDER)
    said += [f"{none} without release limits"] if none else []
    unread = sum(bool(one.unread) for one in reports)
    said += [f"{unread} that cannot be read"] if unread else []
    stale = sum(bool(one.stale) for one in reports)
    kept = "all agree with their data and this pinscar" if not stale else f"{counted(stale, 'report')} stale"
    return markup.finding(f"{counted(len(reports), 'report')}: {listing(said)}; {kept}.")


def _link(report: Report, place: Path) -> Markup:
    there = report.folder.resolve() / PAGE
    name = report.campaign or report.folder.name
    if report.unread or not there.is_file():
        return markup.escape(name)
    return Markup('<a href="{}">{}</a>').format(quote(Path(os.path.relpath(there, place)).as_posix()), name)


def _reports(reports: Sequence[Report], place: Path) -> Markup:
    rows = [
        [
            _link(one, place),
            _when(one),
            one.template.replace("_", " ") or "not known",
            _verdict(one),
            one.unread or one.stale or "agrees",
        ]
        for one in sorted(reports, key=lambda one: (one.days[-1:], one.campaign), reverse=True)
    ]
    return markup.table(
        ["Campaign", "Runs made", "Report", "Release limits", "Data, files and versions"],
        rows,
        caption="Every report, the newest runs first.",
        key="reports",
        long=True,
        sortable=True,
        note="The last column is what pinscar verify finds: it compares each report with its data, its files "
        "and the pinscar that made this page.",
    )


def _when(report: Report) -> str:
    try:
        return date_range(report.days) if report.days else "no dates"
    except ValueError:
        return "no dates"


def _verdict(report: Report) -> str:
    if not report.limits or report.overall not in ORDER:
        return "none"
    same = sum(one.verdict == report.overall for one in report.limits)
    return f"{report.overall} ({same} of {len(report.limits)})"


def _limits(reports: Sequence[Report], place: Path) -> Markup:
    rows = [
        [
            _link(report, place),
            one.requirement or "not said",
            one.verdict or "not said",
            with_unit(with_interval(one.estimate, one.low, one.high), one.unit),
        ]
        for report in reports
        for one in report.limits
    ]
    if not rows:
        return markup.paragraph("None of these reports has release limits.")
    caption = "Every release limit, and what was found, with the interval it was judged on."
    heads = ["Campaign", "Limit", "Verdict", "Found"]
    return markup.table(heads, rows, caption=caption, key="limits", long=True, sortable=True)


def _left_out(panels: Mapping[float, Sequence[Point]]) -> str:
    all_of_them = sum(len({one.film.oil for one in points}) for points in panels.values())
    more = all_of_them - len(panels_of(panels))
    return f" {counted(more, 'more pair')} of oil and load stand in the table only." if more else ""


def _films(reports: Sequence[Report], place: Path) -> list[object]:
    panels = points_by_load(reports)
    if not panels:
        return [markup.paragraph("No report has film pressures and the days of its runs.")]
    campaigns = len({one.day for points in panels.values() for one in points})
    oils = list(dict.fromkeys(one.film.oil for points in panels.values() for one in points))
    dates = counted(campaigns, "date")
    figure = figure_for_both(
        lambda width: draw(panels, width),
        alt=f"Film pressure of {listing(oils)} on {dates}; the table below has the numbers.",
        caption="Film pressure of each oil at the middle day of each campaign's runs, with the interval of "
        "its report; the grey line is the reference at that load. An open mark is a bound: wear was still "
        "running in all runs, and the film carries less." + _left_out(panels),
        key="film-over-time",
    )
    rows = [
        [
            film.oil,
            load_text(film.load),
            _when(report),
            _link(report, place),
            f"{film.runs}" + (f" ({film.censored} still wearing)" if film.censored else ""),
            with_interval(film.estimate, film.low, film.high),
        ]
        for report in reports
        for film in report.films
    ]
    table = markup.table(
        ["Oil", "Load", "Runs made", "Campaign", "Runs", ("Film pressure", "MPa")],
        sorted(rows, key=lambda row: (row[0], row[1])),
        caption="The film pressures of the chart. Campaigns are shown side by side and not compared.",
        key="films",
        long=True,
        sortable=True,
    )
    return [figure, table]

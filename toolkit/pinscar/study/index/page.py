"""One page over many reports: verdicts, limits, film pressures over time, and what is stale."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from nbformat import v4

from pinscar.errors import UsageError
from pinscar.page import markup
from pinscar.page.cell import figure_for_both
from pinscar.page.markup import Markup
from pinscar.page.page import notebook_to_html
from pinscar.press.files import cannot_write, put_file
from pinscar.study.index.chart import Point, draw, panels_of, points_by_load
from pinscar.study.index.reports import Report, find_reports, read_report
from pinscar.wording import counted, date_range, listing, load_text, with_interval, with_unit

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

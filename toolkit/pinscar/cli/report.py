"""The command that makes reports: of one campaign or many, here or on a cluster."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pinscar.cli import options
from pinscar.cli.endings import put_in_archive, tell
from pinscar.cli.options import AsJson, Root, examples, name_root
from pinscar.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pinscar.press.request import Outcome, Request

app = typer.Typer()

AT_A_TIME = 64
"""Most campaigns that wait for a place on a cluster at a time."""


@app.command(epilog=examples("report"))
def report(
    folders: Annotated[list[Path], typer.Argument(metavar="DIR...", help="Campaign folders.")],
    template: Annotated[
        str,
        typer.Option(
            "--template",
            "-t",
            metavar="NAME|PATH",
            help="Template to run.",
            autocompletion=options.templates,
        ),
    ] = "campaign_report",
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="Where to write, instead of DIR/report."),
    ] = None,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs",
            "-j",
            min=1,
            help="Cores to use: campaigns at a time, or the evidence of one. Usually all for evidence.",
        ),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster",
            metavar="ADDRESS",
            help="Make them on a running Dask cluster of your own, such as tcp://10.0.0.1:8786.",
        ),
    ] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF.")] = False,
    parameter: Annotated[
        list[str] | None,
        typer.Option(
            "--parameter",
            "-p",
            metavar="NAME=VALUE",
            help="Parameter of the template; repeatable.",
            autocompletion=options.parameters,
        ),
    ] = None,
    timeout: Annotated[float, typer.Option(min=1, help="Longest time for one cell, in seconds.")] = 600,
    named: Annotated[
        bool, typer.Option("--name", help="Call the PDF by campaign and template, not report.pdf.")
    ] = False,
    zipped: Annotated[
        bool, typer.Option("--zip", help="Put the report into one archive beside its folder, to mail.")
    ] = False,
    watch: Annotated[
        bool, typer.Option("--watch", help="Make it again whenever a file changes, until Ctrl-C.")
    ] = False,
    no_cache: Annotated[
        bool, typer.Option("--no-cache", help="Read and compute all anew, and keep nothing of it.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Make the report of each campaign folder."""
    from pinscar import shipped, terminal
    from pinscar.page import pdf
    from pinscar.press import progress, request
    from pinscar.press import request as parameters
    from pinscar.press.template import read_template

    name_root(root)
    chosen = read_template(shipped.find_template(template))
    given = parameters.parse_assignments(parameter or [], chosen.declared)
    requests = request.make_requests(
        folders, chosen, given, out=out, pdf=not no_pdf, timeout=timeout, named=named, keep=not no_cache
    )
    if cluster and (watch or jobs):
        raise UsageError("--cluster uses all its workers, once; leave out --jobs and --watch")
    if not (no_pdf or cluster):
        pdf.require_pango()
    if watch:
        if as_json:
            raise UsageError("--watch goes on until it is stopped, so it has no --json at its end")
        _watch(requests, folders, chosen.modules, jobs, quiet=quiet)
    outcomes: list[Outcome] = []
    worst = _make(
        requests, chosen.modules, jobs, cluster, outcomes, quiet=quiet, errors_only=as_json or quiet
    )
    archives = [put_in_archive(outcome, chosen.name) for outcome in outcomes if zipped and not outcome.status]
    if as_json:
        told = [outcome.as_dict() for outcome in outcomes]
        terminal.say_json({"status": worst, "reports": told, "archives": list(map(str, archives))})
    elif not quiet:
        for place in archives:
            terminal.say(f"to mail: {place}")
        if len(outcomes) > 1:
            terminal.say_lines(progress.table(outcomes))
    return worst


def _make(
    requests: list[Request],
    modules: Sequence[str],
    jobs: int | None,
    cluster: str | None,
    outcomes: list[Outcome],
    *,
    quiet: bool,
    errors_only: bool,
) -> int:
    """Make the reports under one line of progress over all."""
    from pinscar import terminal
    from pinscar.press import build, progress

    tally = progress.Tally(len(requests))
    with terminal.busy(", ".join(str(one.folder) for one in requests), shown=not quiet) as show:

        def ended(outcome: Outcome) -> None:
            show(tally.ended(outcome))
            _tell(outcome, outcomes, errors_only)

        if cluster is None:
            return build.build_reports(
                requests, modules, jobs, ended, lambda one, step: show(tally.step(one, step))
            )
        from pinscar.press.cluster import Cluster

        away = Cluster(cluster, modules)
        try:
            return build.build_reports(
                requests, modules, AT_A_TIME, ended, lambda one, step: show(tally.step(one, step)), away
            )
        finally:
            for address, why in sorted(away.refused.items()):
                terminal.complain(f"worker {address} was not used: {why}", terminal.YELLOW)


def _watch(
    requests: list[Request], folders: list[Path], modules: Sequence[str], jobs: int | None, *, quiet: bool
) -> None:
    from pinscar import terminal
    from pinscar.press import build, watch

    def make(changed: Sequence[str]) -> None:
        made: list[Outcome] = []
        build.build_reports(requests, modules, jobs, lambda one: _tell(one, made, True))
        for outcome in made:
            if not (outcome.status or quiet):
                terminal.say(watch.line_of(outcome, changed))

    watch.watch(watch.Watched(requests, folders), make)


def _tell(outcome: Outcome, outcomes: list[Outcome], errors_only: bool) -> None:
    outcomes.append(outcome)
    tell(outcome, errors_only=errors_only)


@app.command(epilog=examples("index"))
def index(
    folders: Annotated[
        list[Path], typer.Argument(metavar="DIR...", help="Reports, campaigns, or folders of campaigns.")
    ],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE", help="The page; usually reports.html.")
    ] = None,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Make one page over many reports: verdicts, limits, film pressures over time, what is stale."""
    from pinscar import terminal
    from pinscar.study.index import page
    from pinscar.wording import counted

    name_root(root)
    place = out or Path(page.NAME)
    with terminal.busy("reading reports", shown=not as_json):
        reports = page.write_index(folders, place)
    stale = sum(bool(one.stale or one.unread) for one in reports)
    if as_json:
        told = [
            {
                "report": str(one.folder),
                "overall": one.overall or None,
                "stale": one.stale,
                "unread": one.unread,
            }
            for one in reports
        ]
        terminal.say_json({"page": str(place), "reports": told})
    else:
        terminal.say(f"{place}: {counted(len(reports), 'report')}, {stale or 'none'} stale")
    return 0

"""The command: words in, one call into the report package, lines and an exit status out."""

from __future__ import annotations

import sys

if __name__ == "__main__":
    # ``python -m`` puts the working folder first, which may be a stranger's campaign.
    from pinscar import import_path

    sys.path[:] = import_path.trusted_path()

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pinscar.campaign.folder import ROOT
from pinscar.cli import new as cli_new
from pinscar.cli import pictures, plan_options
from pinscar.cli.endings import internal, wrong_usage
from pinscar.cli.new import examples
from pinscar.errors import InputError, PinscarError, UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pinscar.press.request import Outcome, Request
    from pinscar.press.verify import Difference

app = typer.Typer(
    name="pinscar",
    help="Evaluate pin-on-ring lubricant tests: from a campaign folder to a reproducible report.",
    rich_markup_mode=None,
    epilog="Exit status: 0 done, 1 the input has errors, 2 wrong usage, 3 verify or diff found a difference, "
    "4 the run failed, 130 or 143 interrupted.",
)
AsJson = Annotated[bool, typer.Option("--json", help="Print machine-readable output.")]
Folder = Annotated[Path, typer.Argument(metavar="DIR", help="Campaign folder.")]


def _name_root(root: Path | None) -> None:
    if root is not None:
        os.environ[ROOT] = str(root.resolve())


Root = Annotated[
    Path | None,
    typer.Option(
        "--root",
        metavar="DIR",
        help="A folder around the campaign that its links and paths may lead into; else they stay in it.",
    ),
]


def _version(wanted: bool) -> None:
    if wanted:
        from pinscar import __version__

        typer.echo(f"pinscar {__version__}")
        raise typer.Exit


@app.callback()
def start(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Evaluate pin-on-ring lubricant tests: from a campaign folder to a reproducible report."""


app.registered_commands += cli_new.app.registered_commands


@app.command(epilog=examples("check"))
def check(folder: Folder, root: Root = None, as_json: AsJson = False) -> int:
    """List every problem of a campaign folder."""
    from pinscar import terminal
    from pinscar.bench import check as checking
    from pinscar.campaign import to_fill
    from pinscar.problems import Severity

    _name_root(root)
    found = checking.check_folder(folder)
    if as_json:
        terminal.say_json(found.as_dict())
        return found.status
    for problem in found.lines:
        said = to_fill.label(problem)
        terminal.complain(f"{said}: {problem}", terminal.RED if said == Severity.ERROR else terminal.YELLOW)
    for name, unit in found.unknown_columns.items():
        kept = "text" if unit is None else f"unit {unit}, usable as a response"
        terminal.say(f"kept column {name} ({kept})")
    terminal.say(found.summary, "" if found.status else terminal.GREEN)
    return found.status


@app.command(epilog=examples("report"))
def report(
    folders: Annotated[list[Path], typer.Argument(metavar="DIR...", help="Campaign folders.")],
    template: Annotated[
        str, typer.Option("--template", "-t", metavar="NAME|PATH", help="Template to run.")
    ] = "campaign_report",
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="Where to write, instead of DIR/report."),
    ] = None,
    jobs: Annotated[int, typer.Option("--jobs", "-j", min=1, help="Campaigns done at a time.")] = 1,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF.")] = False,
    parameter: Annotated[
        list[str] | None,
        typer.Option(
            "--parameter", "-p", metavar="NAME=VALUE", help="Parameter of the template; repeatable."
        ),
    ] = None,
    timeout: Annotated[float, typer.Option(min=1, help="Longest time for one cell, in seconds.")] = 600,
    watch: Annotated[
        bool, typer.Option("--watch", help="Make it again whenever a file changes, until Ctrl-C.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Make the report of each campaign folder."""
    from pinscar import shipped, terminal
    from pinscar.page import pdf
    from pinscar.press import build, request
    from pinscar.press import request as parameters
    from pinscar.press.template import read_template

    _name_root(root)
    chosen = read_template(shipped.find_template(template))
    given = parameters.parse_assignments(parameter or [], chosen.declared)
    requests = request.make_requests(folders, chosen, given, out=out, pdf=not no_pdf, timeout=timeout)
    if not no_pdf:
        pdf.require_pango()
    if watch:
        if as_json:
            raise UsageError("--watch goes on until it is stopped, so it has no --json at its end")
        _watch(requests, folders, chosen.modules, jobs, quiet=quiet)
    outcomes: list[Outcome] = []
    with terminal.busy(f"{template} on {', '.join(map(str, folders))}", shown=not quiet) as show:
        worst = build.build_reports(
            requests,
            chosen.modules,
            jobs,
            lambda one: _tell(one, outcomes, as_json or quiet),
            lambda one, step: show(f"{one.folder}: {step['text']}"),
        )
    if as_json:
        terminal.say_json({"status": worst, "reports": [outcome.as_dict() for outcome in outcomes]})
    return worst


def _watch(
    requests: list[Request], folders: list[Path], modules: Sequence[str], jobs: int, *, quiet: bool
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
    from pinscar.cli.endings import tell

    outcomes.append(outcome)
    tell(outcome, errors_only=errors_only)


@app.command(epilog=examples("plan"))
def plan(
    folder: Folder,
    pilot: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Earlier campaign that tells the spread of repeats.")
    ] = None,
    log_sd: Annotated[
        float | None, typer.Option(help="Spread instead of a pilot: standard deviation of the logarithms.")
    ] = None,
    ratio: Annotated[float, typer.Option(help="Ratio to the reference that is to be shown.")] = 0.8,
    power: Annotated[float, typer.Option(help="Wanted chance of showing it.")] = 0.8,
    lubricants: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Oils, instead of those of campaign.toml.")
    ] = None,
    loads: Annotated[
        str | None, typer.Option(metavar='"450 N,..."', help="Loads, instead of those of the criteria.")
    ] = None,
    days: Annotated[int, typer.Option(help="Days that the runs are spread over.")] = 2,
    repeats: Annotated[
        int | None, typer.Option(help="Runs of each oil at each load, instead of those the power takes.")
    ] = None,
    censored: plan_options.Censored = None,
    duration: plan_options.Duration = None,
    seed: Annotated[int, typer.Option(help="Seed of the order and of the simulations.")] = 1,
    blends: plan_options.Blends = None,
    count: plan_options.Count = 3,
    aim: plan_options.Aim = "improvement",
    limit: plan_options.Limits = None,
    batch_size: plan_options.BatchSize = "500 g",
    balance: plan_options.Balance = "0.01 g",
    xlsx: Annotated[bool, typer.Option("--xlsx", help="Write the runs as a spreadsheet, runs.xlsx.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF.")] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Plan a campaign: repeats, order of the runs, a runs table to fill in and a run sheet in DIR/plan."""
    from pinscar import terminal
    from pinscar.bench import plan_command
    from pinscar.page import pdf

    _name_root(root)
    if not no_pdf:
        pdf.require_pango()
    given = {
        "pilot": pilot or (blends[-1] if blends and log_sd is None else None),
        "log_sd": log_sd,
        "ratio": ratio,
        "power": power,
        "lubricants": lubricants.split(",") if lubricants else None,
        "loads": loads.split(",") if loads else None,
        "days": days,
        "repeats": repeats,
        "censored": censored,
        "duration": duration,
        "seed": seed,
    }
    plan_options.write_blends(folder, blends, aim, count, limit, batch_size, balance, quiet=as_json)
    with terminal.busy(f"plan of {folder}"):
        outcome = plan_command.plan_campaign(folder, given, pdf=not no_pdf, xlsx=xlsx)
    _tell(outcome, [], as_json)
    if as_json:
        terminal.say_json({"status": outcome.status, "plan": outcome.as_dict()})
    elif not outcome.status:
        name = "runs.xlsx" if (folder / "runs.xlsx").exists() else "runs.csv"
        terminal.say(f"fill in {folder / name}, then: pinscar check {folder}")
    return outcome.status


@app.command(epilog=examples("gather"))
def gather(
    folder: Folder,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a runs_gathered.csv that is there.")
    ] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Fill blank cells of the runs table from sound, traces and pictures, into runs_gathered.csv."""
    from pinscar import terminal
    from pinscar.bench import gather as gathering

    _name_root(root)
    found = gathering.gather(folder, force=force)
    if as_json:
        terminal.say_json(found.as_dict())
        return 0
    for line in found.told():
        terminal.say(line)
    return 0


app.registered_commands += pictures.app.registered_commands


@app.command(epilog=examples("verify"))
def verify(
    folder: Annotated[Path, typer.Argument(metavar="DIR/report", help="Report folder.")],
    campaign: Annotated[
        Path | None,
        typer.Option("--campaign", metavar="DIR", help="Campaign folder, if not the one around it."),
    ] = None,
    rerun: Annotated[
        bool, typer.Option("--rerun", help="Make the report again and compare its bytes.")
    ] = False,
    template: Annotated[
        str | None,
        typer.Option(
            "--template",
            "-t",
            metavar="PATH",
            help="With --rerun: the notebook to run, where the report was made with one of your own.",
        ),
    ] = None,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Tell whether a report still agrees with its data and versions."""
    from pinscar import terminal
    from pinscar.press import verify as verifying

    _name_root(root)
    if template is not None and not rerun:
        raise UsageError("--template says what --rerun runs; give both")
    around = campaign or folder.resolve().parent
    differences = verifying.verify_report(folder, around)
    if rerun:
        differences += _rerun(folder, around, template, differences, quiet=as_json)
    status = 3 if differences else 0
    if as_json:
        found = [difference.as_dict() for difference in differences]
        terminal.say_json({"report": str(folder), "status": status, "differences": found})
        return status
    for difference in differences:
        terminal.complain(str(difference))
    if not differences:
        terminal.say(
            f"{folder}: data, files and versions agree{' and the same bytes came out again' if rerun else ''}"
        )
    return status


def _rerun(
    folder: Path, around: Path, template: str | None, known: list[Difference], *, quiet: bool
) -> list[Difference]:
    from pinscar import terminal
    from pinscar.press import verify as rerun

    try:
        chosen = rerun.template_to_rerun(folder, template)
    except UsageError as error:
        if not known:
            raise
        terminal.complain(str(error))
        return []
    if template is not None and not quiet:
        terminal.say(f"running {chosen}")
    return rerun.rerun_differences(folder, around, chosen)


@app.command(epilog=examples("diff"))
def diff(
    first: Annotated[Path, typer.Argument(metavar="A", help="Report folder.")],
    second: Annotated[Path, typer.Argument(metavar="B", help="Another.")],
    as_json: AsJson = False,
) -> int:
    """Tell what two reports differ in: data, numbers, verdicts, claims, audit."""
    from pinscar import terminal
    from pinscar.press import difference

    changes = difference.report_changes(first, second)
    status = 3 if changes else 0
    if as_json:
        found = [change.as_dict() for change in changes]
        terminal.say_json({"a": str(first), "b": str(second), "status": status, "changes": found})
        return status
    for line in difference.told(changes):
        terminal.say(line)
    if not changes:
        terminal.say(f"{first} and {second}: same data, numbers, verdicts, claims, audit and versions")
    return status


@app.command(epilog=examples("doctor"))
def doctor(as_json: AsJson = False) -> int:
    """Tell whether this machine has all that a report needs."""
    from pinscar import terminal
    from pinscar.bench import doctor as examining

    found = []
    for checked in examining.examine(Path.cwd()):
        found.append(checked)
        if not as_json:
            (terminal.say if checked.ok else terminal.complain)(
                str(checked), terminal.GREEN if checked.ok else terminal.RED
            )
    status = 0 if all(checked.ok for checked in found) else 4
    if as_json:
        terminal.say_json({"status": status, "checks": [checked.as_dict() for checked in found]})
    return status


def run(arguments: list[str]) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : list of str
        The words after the command's name.

    Returns
    -------
    int
        The exit status; every error has been told, a line each.
    """
    from pinscar import terminal
    from pinscar.cli import endings

    endings.raise_on_signals()
    named = os.environ.get(ROOT)
    try:
        status = app(args=arguments or ["--help"], prog_name="pinscar", standalone_mode=False)
    except endings.Interrupted as stop:
        terminal.complain("interrupted")
        return stop.exit_status
    except InputError as error:
        for problem in error.problems:
            terminal.complain(str(problem))
        return error.exit_status
    except PinscarError as error:
        terminal.complain(str(error))
        return error.exit_status
    except BrokenPipeError:
        # Whoever read our output has seen enough; Python must not fail on the rest when it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        return wrong_usage(error) if hasattr(error, "format_message") else internal(error)
    finally:
        os.environ.pop(ROOT, None)
        os.environ.update({} if named is None else {ROOT: named})
    return status if isinstance(status, int) else 0


def main() -> None:
    """Run the command with the words it was called with, and end with its status."""
    from pinscar.import_path import trusted_path

    sys.path[:] = trusted_path()
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()

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
from pinscar.cli import bench, pictures, sign
from pinscar.cli import new as cli_new
from pinscar.cli import report as cli_report
from pinscar.cli.endings import internal, open_streams, wrong_usage
from pinscar.cli.options import AsJson, Folder, Root, examples, name_root
from pinscar.errors import InputError, PinscarError, UsageError

if TYPE_CHECKING:
    from pinscar.press.verify import Difference

app = typer.Typer(
    name="pinscar",
    help="Evaluate pin-on-ring lubricant tests: from a campaign folder to a reproducible report.",
    rich_markup_mode=None,
    epilog="Exit status: 0 done, 1 the input has errors, 2 wrong usage, 3 verify or diff found a difference, "
    "4 the run failed, 130 or 143 interrupted.",
)


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
def check(
    folder: Folder,
    show: Annotated[
        bool, typer.Option("--show", help="Show how each column of the tables was read.")
    ] = False,
    every: Annotated[bool, typer.Option("--all", help="Show every line, not only the first 20.")] = False,
    issued: Annotated[
        bool, typer.Option("--report", help="List what is still missing for an issued test report.")
    ] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """List every problem of a campaign folder."""
    from pinscar import terminal
    from pinscar.bench import check as checking

    name_root(root)
    found = checking.check_folder(folder)
    if as_json:
        terminal.say_json(found.as_dict())
        return found.status
    if show:
        for line in checking.as_read(folder):
            terminal.say(line)
    checking.tell(found, folder, every=every)
    if issued:
        checking.tell_missing(found)
    return found.status


app.registered_commands += cli_report.app.registered_commands

app.registered_commands += bench.app.registered_commands + sign.app.registered_commands


@app.command(epilog=examples("gather"))
def gather(
    folder: Folder,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a runs_gathered.csv that is there.")
    ] = False,
    look: Annotated[
        bool, typer.Option("--look", help="Show what would be filled, and typed beside read; write nothing.")
    ] = False,
    review: Annotated[
        bool, typer.Option("--review", help="Make gather_review.html: all readings, the least sure first.")
    ] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Fill blank cells of the runs table from sound, traces and pictures, into runs_gathered.csv."""
    from pinscar import terminal
    from pinscar.bench import gather as gathering

    name_root(root)
    compare = look or review
    if as_json:
        terminal.say_json(gathering.gather(folder, force=force, compare=compare, write=not look).as_dict())
        return 0
    gathering.gather(
        folder,
        force=force,
        compare=compare,
        write=not look,
        told=lambda found: terminal.say_lines(found.told()),
    )
    if review:
        from pinscar.bench.review import review_readings

        path, count = review_readings(folder)
        terminal.say(f"{path}: {count} readings to look over")
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
    trust: Annotated[
        Path | None,
        typer.Option(
            "--trust", metavar="CA.pem", help="Certificates of those whose word on a signer counts."
        ),
    ] = None,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Tell whether a report still agrees with its data and versions, and who signed it."""
    from pinscar import terminal
    from pinscar.press import signed_files
    from pinscar.press import verify as verifying

    name_root(root)
    if template is not None and not rerun:
        raise UsageError("--template says what --rerun runs; give both")
    around = campaign or folder.resolve().parent
    differences = verifying.verify_report(folder, around)
    signed = signed_files.signatures_beside(folder, verifying.read_manifest(folder), trust)
    bad = [one for one in signed if not one.good]
    if rerun:
        differences += _rerun(folder, around, template, differences, quiet=as_json)
    status = 3 if differences or bad else 0
    if as_json:
        found = [difference.as_dict() for difference in differences]
        told = [{"file": one.file, "good": one.good, "message": one.said} for one in signed]
        terminal.say_json({"report": str(folder), "status": status, "differences": found, "signatures": told})
        return status
    for difference in differences:
        terminal.complain(str(difference))
    for one in signed:
        (terminal.say if one.good else terminal.complain)(str(one))
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
    """Run the command."""
    from pinscar import terminal
    from pinscar.cli import endings

    open_streams()
    endings.raise_on_signals()
    named = os.environ.get(ROOT)
    try:
        status = app(args=arguments or ["--help"], prog_name="pinscar", standalone_mode=False)
    except endings.Interrupted as stop:
        terminal.complain("interrupted")
        return stop.exit_status
    except InputError as error:
        from pinscar.errors import grouped, shortened

        for line in shortened([str(one) for one in grouped(error.problems)], "pinscar check DIR --all"):
            terminal.complain(line)
        return error.exit_status
    except PinscarError as error:
        terminal.complain(str(error))
        return error.exit_status
    except BrokenPipeError:
        # The program that reads our output has ended; Python must not fail on the rest when it ends.
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

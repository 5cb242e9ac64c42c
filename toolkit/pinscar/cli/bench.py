"""The commands before the runs: a plan with its options, and the run sheet for the bench."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from pinscar.cli.options import AsJson, Folder, Root, examples, name_root

Censored = Annotated[
    float | None, typer.Option(help="Share of the reference's runs still wearing at their end.")
]
Duration = Annotated[
    str | None, typer.Option(metavar='"60 s"', help="Duration of a run, instead of the pilot's.")
]
Blends = Annotated[
    list[Path] | None,
    typer.Option(
        metavar="DIR", help="Campaign whose formulation study proposes the oils of this one; repeatable."
    ),
]
Count = Annotated[int, typer.Option(min=1, help="With --blends: how many blends.")]
Aim = Annotated[str, typer.Option(metavar="improvement|D|I", help="With --blends: what they are chosen for.")]
Limits = Annotated[
    list[str] | None,
    typer.Option(metavar='"price at most 4 EUR/kg"', help="With --blends: a limit to keep; repeatable."),
]
BatchSize = Annotated[str, typer.Option(metavar='"500 g"', help="With --blends: mass of a batch.")]
Balance = Annotated[str, typer.Option(metavar='"0.01 g"', help="With --blends: step of the balance.")]


def write_blends(
    folder: Path,
    blends: Sequence[Path] | None,
    aim: str,
    count: int,
    limits: Sequence[str] | None,
    batch_size: str,
    balance: str,
    *,
    quiet: bool,
) -> None:
    """Write the blends to make next as a campaign, and tell what was written.

    Nothing without ``--blends``.
    """
    if not blends:
        return
    from pinscar import terminal
    from pinscar.study.formulation import next_campaign

    told = next_campaign.write_campaign(folder, blends, aim, count, limits or [], batch_size, balance)
    for line in () if quiet else told:
        terminal.say(line)


app = typer.Typer()


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
    censored: Censored = None,
    duration: Duration = None,
    seed: Annotated[int, typer.Option(help="Seed of the order and of the simulations.")] = 1,
    blends: Blends = None,
    count: Count = 3,
    aim: Aim = "improvement",
    limit: Limits = None,
    batch_size: BatchSize = "500 g",
    balance: Balance = "0.01 g",
    xlsx: Annotated[bool, typer.Option("--xlsx", help="Write the runs as a spreadsheet, runs.xlsx.")] = False,
    blind: Annotated[
        bool,
        typer.Option(
            "--blind", help="Bottle codes in place of the oils on the run sheet; key: blind_key.csv."
        ),
    ] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF.")] = False,
    root: Root = None,
    as_json: AsJson = False,
) -> int:
    """Plan a campaign: repeats, order of the runs, a runs table to fill in and a run sheet in DIR/plan."""
    from pinscar import terminal
    from pinscar.bench import plan_command
    from pinscar.cli.endings import tell
    from pinscar.page import pdf
    from pinscar.terminal import command

    name_root(root)
    if not no_pdf:
        pdf.require_pango()
    given = {
        "pilot": pilot or (blends[-1] if blends and log_sd is None else None),
        "log_sd": log_sd,
        "ratio": ratio,
        "power": power,
        "lubricants": plan_command.names_in(lubricants) if lubricants else None,
        "loads": plan_command.loads_in(loads) if loads else None,
        "days": days,
        "repeats": repeats,
        "censored": censored,
        "duration": plan_command.duration_in(duration) if duration else None,
        "seed": seed,
        "blind": blind or None,
    }
    write_blends(folder, blends, aim, count, limit, batch_size, balance, quiet=as_json)
    with terminal.busy(f"plan of {folder}"):
        outcome = plan_command.plan_campaign(folder, given, pdf=not no_pdf, xlsx=xlsx)
    tell(outcome, errors_only=as_json)
    if as_json:
        terminal.say_json({"status": outcome.status, "plan": outcome.as_dict()})
    elif not outcome.status:
        name = "runs.xlsx" if (folder / "runs.xlsx").exists() else "runs.csv"
        terminal.say(f"fill in {folder / name}, then: {command('pinscar', 'check', folder)}")
    return outcome.status


@app.command(epilog=examples("sheet"))
def sheet(
    folder: Folder,
    blind: Annotated[
        bool,
        typer.Option("--blind", help="Codes on the bottles in place of the oils; the key is blind_key.csv."),
    ] = False,
    seed: Annotated[int | None, typer.Option(min=0, help="Seed of new bottle codes.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF, only run_sheet.html.")] = False,
    as_json: AsJson = False,
) -> int:
    """Make the run sheet for the bench: one page a day, of the runs that are still to be made."""
    from pinscar import terminal
    from pinscar.bench import bench_sheet
    from pinscar.bench import bench_sheet as bench_files
    from pinscar.page import pdf

    if not no_pdf:
        pdf.require_pango()
    with terminal.busy(f"run sheet of {folder}"):
        made = bench_files.make_sheet(folder, blind=blind, pdf=not no_pdf, seed=seed)
    if as_json:
        terminal.say_json({"files": list(made.files), "runs": made.runs, "days": made.days})
        return 0
    terminal.say(f"{folder}: {', '.join(made.files)}")
    if blind:
        terminal.say(
            f"label the bottles by {bench_sheet.KEY}; keep it away from the bench until all scars are read"
        )
    return 0

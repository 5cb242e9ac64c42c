"""The command for the bench: the run sheet of a campaign."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pinscar.cli.new import examples

app = typer.Typer()


@app.command(epilog=examples("sheet"))
def sheet(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Campaign folder.")],
    blind: Annotated[
        bool,
        typer.Option("--blind", help="Codes on the bottles in place of the oils; the key is blind_key.csv."),
    ] = False,
    seed: Annotated[int | None, typer.Option(min=0, help="Seed of new bottle codes.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Make no PDF, only run_sheet.html.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print machine-readable output.")] = False,
) -> int:
    """Make the run sheet for the bench: one page a day, of the runs that are still to be made."""
    from pinscar import terminal
    from pinscar.bench import files as bench_files
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
            f"label the bottles by {bench_files.KEY}; keep it away from the bench until all scars are read"
        )
    return 0

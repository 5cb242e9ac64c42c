"""The command that makes a campaign folder: from a person's answers, from options, or as a starter."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pinscar.cli import options
from pinscar.cli.options import examples
from pinscar.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence


app = typer.Typer()


def _answer(metavar: str, told: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(metavar=metavar, help=told)
    return option


@app.command(epilog=examples("new"))
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make.")],
    demo: Annotated[
        str | None,
        typer.Option(
            "--demo",
            metavar="NAME",
            help="Copy a demo campaign, such as conveyor_07.",
            autocompletion=options.demos,
        ),
    ] = None,
    title: Annotated[str | None, _answer("TEXT", "Title of the campaign.")] = None,
    reference: Annotated[str | None, _answer("ID", "Oil that the others are compared with.")] = None,
    candidates: Annotated[str | None, _answer("A,B,...", "Oils that are tried.")] = None,
    benchmarks: Annotated[str | None, _answer("A,B,...", "Known oils, to place the others among.")] = None,
    question: Annotated[str | None, _answer("TEXT", "What is to be decided.")] = None,
    geometry: Annotated[
        str | None, _answer("NAME", "crossed-cylinders, ball-on-disc, block-on-ring or worn-ring.")
    ] = None,
    pin_diameter: Annotated[str | None, _answer('"12 mm"', "Diameter of the pin, or the ball.")] = None,
    ring_diameter: Annotated[str | None, _answer('"40 mm"', "That of the ring, or the wear track.")] = None,
    ring_width: Annotated[str | None, _answer('"8 mm"', "Width of the ring's face.")] = None,
    groove_depth: Annotated[str | None, _answer('"0.02 mm"', "Depth of a groove worn into the ring.")] = None,
    ring_speed: Annotated[str | None, _answer('"700 rpm"', "Speed of the ring, or the disc.")] = None,
    load: Annotated[
        str | None, _answer('"450 N,..."', "Loads; or, in kg, the weights hung on the lever.")
    ] = None,
    lever_ratio: Annotated[str | None, _answer("10", "Lever ratio: pin load divided by hung weight.")] = None,
    hanger_mass: Annotated[str | None, _answer('"0.8 kg"', "Mass of what the weights lie on.")] = None,
    duration: Annotated[str | None, _answer('"60 s"', "Duration of a run.")] = None,
    repeats: Annotated[str | None, _answer("4", "Runs of each oil at each load.")] = None,
    days: Annotated[str | None, _answer("2", "Days that they are spread over.")] = None,
    film_pressure: Annotated[
        str | None, _answer('"120 MPa"', "Release limit: film pressure of the candidates at least this.")
    ] = None,
    xlsx: Annotated[
        bool, typer.Option("--xlsx", help="Write the runs as a spreadsheet, runs.xlsx, with lists and hints.")
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", "-y", help="Ask nothing: use the defaults for what no option gives.")
    ] = False,
) -> int:
    """Make a campaign folder: in a terminal from a few questions; options answer questions in advance.

    Without a terminal, and with --yes, nothing is asked. Without any other option, that makes a starter
    with every column and example runs; reports on these are marked as example data.
    """
    answers = {
        "title": title,
        "reference": reference,
        "candidates": candidates,
        "benchmarks": benchmarks,
        "question": question,
        "geometry": geometry,
        "pin_diameter": pin_diameter,
        "ring_diameter": ring_diameter,
        "ring_width": ring_width,
        "groove_depth": groove_depth,
        "ring_speed": ring_speed,
        "load": load,
        "lever_ratio": lever_ratio,
        "hanger_mass": hanger_mass,
        "duration": duration,
        "repeats": repeats,
        "days": days,
        "film_pressure": film_pressure,
    }
    return _make(folder, demo, {key: text for key, text in answers.items() if text is not None}, xlsx, yes)


def _make(folder: Path, demo: str | None, given: dict[str, str], xlsx: bool, yes: bool) -> int:
    from pinscar import terminal
    from pinscar.bench import ask as starter_ask
    from pinscar.bench import prepare
    from pinscar.terminal import command

    prepare.refuse_folder(folder)
    if demo is not None and (given or xlsx):
        raise UsageError("--demo copies a campaign as it is, so the other options don't go with it")
    ask = demo is None and not yes and starter_ask.somebody_there()
    if ask or given or xlsx:
        return _prepare(folder, given, xlsx=xlsx, ask=ask)
    _tell(folder, prepare.new_campaign(folder, demo))
    if demo is None:
        terminal.say(f"put your own runs into runs.csv, then: {command('pinscar', 'check', folder)}")
    else:
        terminal.say(f"next: {command('pinscar', 'report', folder)}")
    return 0


def _prepare(folder: Path, given: dict[str, str], *, xlsx: bool, ask: bool) -> int:
    from pinscar import terminal
    from pinscar.bench import ask as starter_ask
    from pinscar.bench import prepare
    from pinscar.bench.questions import answers_of
    from pinscar.terminal import command

    title = prepare.title_for(folder)
    if ask:
        prepare.check_place(folder)
        answers, xlsx = starter_ask.ask_all(folder, title, given, prepare.summary, xlsx=xlsx)
        terminal.say("")
    else:
        answers = answers_of(title, given)
    prepared = prepare.prepare(folder, answers)
    _, runs = _tell(folder, prepare.write_campaign(folder, prepared, xlsx=xlsx))
    if not ask:
        terminal.say(prepared.told)
    terminal.say("next: put your own values where campaign.toml says example;")
    terminal.say(f"      make the runs in the order of {runs}, and fill in a row after each;")
    terminal.say(f"      see what is still to fill in: {command('pinscar', 'check', folder)}")
    return 0


def _tell(folder: Path, files: Sequence[str]) -> Sequence[str]:
    from pinscar import terminal

    terminal.say(f"{folder}: {', '.join(files)}")
    return files

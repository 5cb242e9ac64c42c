"""The command that makes a campaign folder: from a person's answers, from options, or as a starter.

The examples that ``--help`` shows under each command.
"""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated

import typer

from pinscar.cli import completion
from pinscar.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence


EXAMPLES = MappingProxyType(
    {
        "new": (
            "pinscar new my_campaign",
            "pinscar new my_campaign --xlsx",
            'pinscar new spring --candidates C-21,C-22 --load "450 N, 900 N" --yes',
            "pinscar new --demo conveyor_07 practice",
        ),
        "check": (
            "pinscar check my_campaign",
            "pinscar check my_campaign --show",
            "pinscar check my_campaign --all",
        ),
        "report": (
            "pinscar report my_campaign",
            "pinscar report my_campaign --no-pdf --watch",
            "pinscar report spring/* --jobs 2 --out reports",
            "pinscar report my_campaign -p confidence=0.9",
            "pinscar report rig/2025-* -t rig_control",
        ),
        "plan": (
            "pinscar plan next_campaign --pilot last_campaign",
            "pinscar plan next_campaign --log-sd 0.08 --ratio 0.85 --days 3",
            "pinscar plan next_campaign --log-sd 0.08 --xlsx",
            'pinscar plan next_blends --blends last_campaign --batch-size "500 g" --balance "0.01 g"',
        ),
        "sheet": ("pinscar sheet my_campaign", "pinscar sheet my_campaign --blind"),
        "gather": ("pinscar gather my_campaign", "pinscar gather my_campaign --force"),
        "scar": (
            "pinscar scar micrographs/c07-01.jpg --scale 18um/px",
            "pinscar scar scar.png --scale 2.5um/px --overlay outline.png",
            "pinscar scar scar.png --bar 0.5mm",
        ),
        "graticule": (
            "pinscar graticule lines.png --pitch 0.1mm",
            "pinscar graticule scar.png --bar 0.5mm",
        ),
        "fling": (
            'pinscar fling fling/c07-01.jpg --card "150mm x 100mm"',
            'pinscar fling card.jpg --card "6in x 4in" --overlay drops.png',
        ),
        "sign": (
            "pinscar sign my_record/report.pdf --key me.p12 --as author",
            "pinscar sign my_record --key ~/.ssh/id_ed25519 --detached",
        ),
        "verify": ("pinscar verify my_campaign/report", "pinscar verify my_campaign/report --rerun"),
        "diff": ("pinscar diff spring/report autumn/report",),
        "doctor": ("pinscar doctor", "pinscar doctor --json"),
    }
)
"""Command lines by command."""


def examples(command: str) -> str:
    r"""Return the end of a command's help.

    Parameters
    ----------
    command : str
        A key of `EXAMPLES`.

    Returns
    -------
    str
        One example a line; the first character keeps the lines from being filled.

    Examples
    --------
    >>> examples("graticule").splitlines()[1:]
    ['Examples:', '  pinscar graticule lines.png --pitch 0.1mm', '  pinscar graticule scar.png --bar 0.5mm']
    """
    return "\n".join(["\b", "Examples:", *(f"  {line}" for line in EXAMPLES[command])])


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
            autocompletion=completion.demos,
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
    from pinscar.shell_words import command

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
    from pinscar.shell_words import command

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

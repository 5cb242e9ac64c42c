"""The commands that read single pictures: a scar, a graticule, a fling card."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from pinscar.cli.options import examples

app = typer.Typer()
AsJson = Annotated[bool, typer.Option("--json", help="Print machine-readable output.")]


@app.command(epilog=examples("scar"))
def scar(
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="Micrograph: PNG, JPEG or TIFF, or a clip.")],
    scale: Annotated[
        str | None, typer.Option("--scale", metavar="SIZE", help="Size of a point, such as 2.5um/px.")
    ] = None,
    bar: Annotated[
        str | None,
        typer.Option("--bar", metavar="LENGTH", help="In place of --scale: the length of the bar on it."),
    ] = None,
    uncertainty: Annotated[
        str | None,
        typer.Option("--scale-uncertainty", metavar="SHARE", help="Standard uncertainty of --scale: 0.5%."),
    ] = None,
    drawn: Annotated[
        Path | None, typer.Option("--overlay", metavar="OUT.png", help="Save the picture with the outline.")
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TIME", help="Of a clip: the moment, such as 12.5s."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Measure a scar on a micrograph, the pin lying along the picture's x axis."""
    from pinscar import terminal
    from pinscar.seen import pictures

    moment = None if at is None else pictures.read_quantity(at, "time", "--at")
    one = pictures.scale_for_scar(image, scale, bar, uncertainty, moment)
    reading = pictures.scar_on_picture(image, one.size, drawn, one.relative_uncertainty, moment)
    if as_json:
        terminal.say_json(pictures.scar_as_dict(reading) | pictures.scale_as_dict(one))
        return 0
    _tell(image, [pictures.scar_line(reading)], one.warnings)
    return 0


@app.command(epilog=examples("graticule"))
def graticule(
    image: Annotated[
        Path, typer.Argument(metavar="IMAGE", help="Picture of a graticule, or with a scale bar.")
    ],
    pitch: Annotated[
        str | None, typer.Option("--pitch", metavar="LENGTH", help="Distance of lines, such as 0.1mm.")
    ] = None,
    bar: Annotated[
        str | None, typer.Option("--bar", metavar="LENGTH", help="Length of the scale bar, such as 0.5mm.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Read the scale of a microscope from a picture of a graticule, or from the bar burnt into a picture."""
    from pinscar import terminal
    from pinscar.seen import pictures

    pictures.require_one(pitch, bar, ("--pitch", "--bar"))
    if bar is not None:
        length = pictures.read_quantity(bar, "length", "--bar")
        of_bar = pictures.bar_on_picture(image, length)
        told, line = pictures.bar_as_dict(of_bar), pictures.bar_line(of_bar)
        warnings = of_bar.warnings
    else:
        distance = pictures.read_quantity(pitch or "", "length", "--pitch")
        found = pictures.graticule_on_picture(image, distance)
        told, line = pictures.graticule_as_dict(found), pictures.graticule_line(found)
        warnings = found.warnings
    if as_json:
        terminal.say_json(told)
        return 0
    _tell(image, [line], warnings)
    return 0


@app.command(epilog=examples("fling"))
def fling(
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="Photograph of a card: PNG, JPEG or TIFF.")],
    card: Annotated[
        str, typer.Option("--card", metavar="SIZE", help='Sides of the card, such as "150mm x 100mm".')
    ],
    drawn: Annotated[
        Path | None,
        typer.Option("--overlay", metavar="OUT.png", help="Save the card with its drops outlined."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Count and measure the drops on the white card behind the ring."""
    from pinscar import terminal
    from pinscar.seen import cards

    reading = cards.card_on_picture(image, cards.read_card_size(card), drawn)
    if as_json:
        terminal.say_json(cards.card_as_dict(reading))
        return 0
    _tell(image, cards.card_lines(reading), cards.card_warnings(reading))
    return 0


def _tell(image: Path, lines: Sequence[str], warnings: Sequence[str]) -> None:
    from pinscar import terminal

    for line in lines:
        terminal.say(f"{image}: {line}")
    for warning in warnings:
        terminal.complain(f"warning: {warning}", terminal.YELLOW)

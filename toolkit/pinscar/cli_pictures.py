"""The commands that read single pictures: a scar, a graticule, a fling card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pinscar.cli_examples import examples

app = typer.Typer()
AsJson = Annotated[bool, typer.Option("--json", help="Print machine-readable output.")]


@app.command(epilog=examples("scar"))
def scar(
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="Micrograph: PNG, JPEG or TIFF.")],
    scale: Annotated[str, typer.Option("--scale", metavar="SIZE", help="Size of a point, such as 2.5um/px.")],
    drawn: Annotated[
        Path | None, typer.Option("--overlay", metavar="OUT.png", help="Save the picture with the outline.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Measure a scar on a micrograph, the pin lying along the picture's x axis."""
    from pinscar.report import reading_image, terminal

    size = reading_image.read_quantity(scale, "image scale", "--scale")
    reading = reading_image.scar_on_picture(image, size, drawn)
    if as_json:
        terminal.say_json(reading_image.scar_as_dict(reading))
    else:
        terminal.say(f"{image}: {reading_image.scar_line(reading)}")
    return 0


@app.command(epilog=examples("graticule"))
def graticule(
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="Picture of a graticule.")],
    pitch: Annotated[
        str, typer.Option("--pitch", metavar="LENGTH", help="Distance of lines, such as 0.1mm.")
    ],
    as_json: AsJson = False,
) -> int:
    """Read the scale of a microscope from a picture of a graticule."""
    from pinscar.report import reading_image, terminal

    distance = reading_image.read_quantity(pitch, "length", "--pitch")
    found = reading_image.graticule_on_picture(image, distance)
    if as_json:
        terminal.say_json(reading_image.graticule_as_dict(found))
        return 0
    terminal.say(f"{image}: {reading_image.graticule_line(found)}")
    for warning in found.warnings:
        terminal.complain(f"warning: {warning}", terminal.YELLOW)
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
    from pinscar.report import reading_card, terminal

    reading = reading_card.card_on_picture(image, reading_card.read_card_size(card), drawn)
    if as_json:
        terminal.say_json(reading_card.card_as_dict(reading))
        return 0
    for line in reading_card.card_lines(reading):
        terminal.say(f"{image}: {line}")
    for warning in reading_card.card_warnings(reading):
        terminal.complain(f"warning: {warning}", terminal.YELLOW)
    return 0

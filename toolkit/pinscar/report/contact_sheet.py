"""A contact sheet: small pictures side by side in one figure, each with its name."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pinscar.report.markup import Markup, caption_html

COLUMNS = 3
CELL = (400, 300)
"""Room for a picture [points]; the page shows it at half the size."""
STRIP = 30
"""Height of the strip with its name [points]."""
NAME_SIZE = 20
QUALITY = 80
"""Of the JPEG, from 1 to 95."""


@dataclass(frozen=True, slots=True)
class Named:
    """A picture and its name.

    Parameters
    ----------
    name : str
        What stands beside it.
    picture : array, shape (rows, columns, 3)
        The picture.
    """

    name: str
    picture: NDArray[np.uint8]


class Pictured(Protocol):
    """A run with its picture: what a sheet shows of it."""

    @property
    def run_id(self) -> str:
        """The run."""

    @property
    def why_not(self) -> str:
        """Why its reading was refused; empty where it was not."""

    @property
    def picture(self) -> NDArray[np.uint8] | None:
        """The picture with what was read, if it is to be shown."""


def contact_sheet(
    pictures: Sequence[Named], *, alt: str, label: str, caption: str, key: str, names_above: bool = False
) -> str:
    """Put pictures on a sheet.

    Parameters
    ----------
    pictures : sequence of Named
        At least one.
    alt : str
        What the sheet shows, as a sentence.
    label : str
        Name of the sheet for a screen reader.
    caption : str
        Caption.
    key : str
        Name for references.
    names_above : bool
        Whether names stand above their pictures, and not under them.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    sheet = _drawn(pictures, names_above)
    stream = io.BytesIO()
    sheet.save(stream, "JPEG", quality=QUALITY, optimize=True)
    source = base64.b64encode(stream.getvalue()).decode("ascii")
    image = Markup('<img alt="{}" width="{}" height="{}" src="{}">').format(
        alt, sheet.width // 2, sheet.height // 2, f"data:image/jpeg;base64,{source}"
    )
    told = caption_html("figure", caption, key=key)
    return (
        f'<figure class="figure"{told.attribute}><div class="card" role="group" tabindex="0" '
        f'aria-label="{label}">{image}</div><figcaption>{told.html}</figcaption></figure>'
    )


def named_pictures(seen: Iterable[Pictured]) -> list[Named]:
    """Take the pictures to show, each under its run's name, and whether its reading was refused.

    Parameters
    ----------
    seen : iterable of Pictured
        The runs with pictures.

    Returns
    -------
    list of Named
        Those that have a picture to show.
    """
    return [
        Named(one.run_id if not one.why_not else f"{one.run_id}: not accepted", one.picture)
        for one in seen
        if one.picture is not None
    ]


def caption_with_rest(caption: str, left: int) -> str:
    """End a sheet's caption, with how many pictures are not on it.

    Parameters
    ----------
    caption : str
        Without full stop.
    left : int
        Pictures that are in the table only.

    Returns
    -------
    str
        With full stop.

    Examples
    --------
    >>> caption_with_rest("Scars as read", 0), caption_with_rest("Scars as read", 2)
    ('Scars as read.', 'Scars as read; 2 more are in the table only.')
    """
    return f"{caption}; {left} more are in the table only." if left else f"{caption}."


def _drawn(pictures: Sequence[Named], names_above: bool) -> Image.Image:
    columns = min(COLUMNS, len(pictures))
    rows = -(-len(pictures) // COLUMNS)
    sheet = Image.new("RGB", (columns * CELL[0], rows * (CELL[1] + STRIP)), "white")
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(size=NAME_SIZE)
    for number, one in enumerate(pictures):
        x, y = number % COLUMNS * CELL[0], number // COLUMNS * (CELL[1] + STRIP)
        picture = Image.fromarray(one.picture)
        picture.thumbnail((CELL[0] - 8, CELL[1]), Image.Resampling.LANCZOS)
        sheet.paste(picture, (x + 4, y + STRIP if names_above else y))
        beside = y if names_above else y + picture.height
        draw.text((x + 6, beside + 3), one.name, fill="black", font=font)
    return sheet

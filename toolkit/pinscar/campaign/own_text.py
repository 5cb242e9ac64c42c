"""The person's own text and pictures: ``notes.md``, and those in ``pictures/`` that a line of it shows."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign.codes import Place, error, nearest, too_large, warning
from pinscar.campaign.folder import NOTES, PICTURE_KINDS, PICTURES, named_logo, own_pictures
from pinscar.campaign.tables import read_text
from pinscar.errors import Problem, visible

if TYPE_CHECKING:
    from PIL import Image


POINTS = 50_000_000
"""Most points of a picture that is read."""
WIDEST = 1400
"""Points of the longer side as printed: about 210 an inch over the width of the text."""


class PictureError(ValueError):
    """A picture that cannot be printed: the message says why in one plain clause."""


def picture_fault(path: Path) -> str | None:
    """Say why a picture cannot be printed, as far as its head tells."""
    try:
        _opened(path).close()
    except PictureError as wrong:
        return str(wrong)
    return None


def printed_picture(path: Path) -> tuple[str, bytes, tuple[int, int]]:
    """Give media type, bytes and size in points of a picture as printed, without what else its file holds."""
    from PIL import Image, ImageOps

    with _opened(path) as picture:
        is_photo = picture.format == "JPEG"
        try:
            upright = ImageOps.exif_transpose(picture).convert("RGBA")
        except Exception:  # the library raises a dozen kinds on damaged pictures
            raise PictureError("the picture is damaged") from None
    plain = Image.new("RGB", upright.size, "white")
    plain.paste(upright, mask=upright.getchannel("A"))
    plain.thumbnail((WIDEST, WIDEST))
    written = io.BytesIO()
    if is_photo:
        plain.save(written, "JPEG", quality=85)
    else:
        plain.save(written, "PNG", optimize=True)
    return ("image/jpeg" if is_photo else "image/png"), written.getvalue(), plain.size


def _opened(path: Path) -> Image.Image:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(path, formats=("PNG", "JPEG"))
    except Exception:  # the library raises a dozen kinds on damaged pictures
        raise PictureError("this can't be read as a PNG or JPEG picture") from None
    if picture.width * picture.height > POINTS:
        size = f"{picture.width} x {picture.height}"
        picture.close()
        raise PictureError(f"the picture has {size} points, and at most {POINTS:,} are read")
    return picture


MOST_PICTURES = 24
"""Most pictures that are printed."""
LONGEST_LINE = 4_000
"""Most letters of a line: readers of Markdown take time with the square of some."""

SHOWN = re.compile(r"!\[(?P<caption>[^\]\n]*)\]\((?P<name>pictures/[^()\n]+)\)")
"""A line that shows a picture with its caption."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture that the text shows.

    Attributes
    ----------
    name : str
        Its path from the campaign folder on.
    caption : str
        Its caption.
    row : int
        The line of notes.md.
    """

    name: str
    caption: str
    row: int


def shown_pictures(text: str) -> list[Shown]:
    r"""List the pictures that a text shows: each stands on a line of its own.

    Examples
    --------
    >>> shown_pictures("Ring B.\n\n![The ring after run 12](pictures/ring.jpg)")
    [Shown(name='pictures/ring.jpg', caption='The ring after run 12', row=3)]
    """
    return [
        Shown(match["name"].strip(), " ".join(match["caption"].split()), row)
        for row, line in enumerate(text.splitlines(), start=1)
        if (match := SHOWN.fullmatch(line.strip()))
    ]


def read_notes(folder: Path) -> tuple[str, list[Problem]]:
    """Read the person's own text; blank where there is none."""
    path = folder / NOTES
    if not path.is_file():
        return "", []
    large = too_large(path, NOTES)
    if large:
        return "", large
    text, found = read_text(path, NOTES)
    long = next(
        (row for row, line in enumerate((text or "").splitlines(), 1) if len(line) > LONGEST_LINE), None
    )
    if long is not None:
        message = f"the line has more than {LONGEST_LINE:,} letters"
        return "", [error("notes-unreadable", NOTES, message, "break it into paragraphs", row=long)]
    return visible(text or ""), found


def check_notes(folder: Path) -> list[Problem]:
    """Check the person's own text and its pictures."""
    text, found = read_notes(folder)
    there = own_pictures(folder)
    shown = shown_pictures(text)
    return [*found, *_shown_problems(folder, shown, there), *_unplaced(shown, there, folder)]


def _shown_problems(folder: Path, shown: list[Shown], there: list[str]) -> Iterator[Problem]:
    seen: set[str] = set()
    for one in shown:
        place: Place = {"row": one.row, "value": one.name}
        if one.name not in there:
            near = nearest(one.name, there, 0.8)
            mend = f"write {near}" if near else f"put it into {PICTURES}/, or take the line out"
            yield error("picture-unplaced", NOTES, "there is no such picture", mend, **place)
        elif one.name in seen:
            mend = "keep one of the lines"
            yield error("picture-unplaced", NOTES, "the picture is shown twice", mend, **place)
        elif not one.caption:
            mend = f"write it between the brackets: ![what it shows]({one.name})"
            yield error("picture-unplaced", NOTES, "the picture has no caption", mend, **place)
        else:
            yield from _faults(folder, one, place)
        seen.add(one.name)
    if len(shown) > MOST_PICTURES:
        message = f"{len(shown)} pictures are shown, and at most {MOST_PICTURES} are printed"
        yield error("picture-unplaced", NOTES, message, "keep those that a reader needs")


def _faults(folder: Path, one: Shown, place: Place) -> Iterator[Problem]:
    large = too_large(folder / one.name, one.name)
    fault = None if large else picture_fault(folder / one.name)
    yield from large
    if fault is not None:
        yield error("picture-unusable", NOTES, fault, "save it again, smaller, as PNG or JPEG", **place)


def _unplaced(shown: list[Shown], there: list[str], folder: Path) -> Iterator[Problem]:
    names = {named_logo(folder), *(one.name for one in shown)}
    for name in there:
        if name not in names:
            mend = f"write a line such as ![what it shows]({name}) into {NOTES}, or take it out"
            message = "no line of notes.md shows this picture, so it is not printed"
            yield warning("picture-unplaced", name, message, mend)
    place = folder / PICTURES
    for path in sorted(place.iterdir()) if place.is_dir() else []:
        plain = not path.name.startswith((".", "~")) and path.name != "Thumbs.db"
        if plain and path.suffix.lower() not in PICTURE_KINDS:
            message = "pinscar does not read this kind of file here"
            yield warning("picture-unplaced", f"{PICTURES}/{path.name}", message, "save it as PNG or JPEG")

"""A picture of the person's own: read, turned upright, made small enough to print, written anew."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

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

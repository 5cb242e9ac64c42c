"""Pictures on disk: read one, and the error that names it."""

from __future__ import annotations

import contextlib
import logging
import struct
import warnings
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from pinscar.campaign.bounds import too_large
from pinscar.decision.media import CLIPS, sharpest
from pinscar.errors import InputError
from pinscar.problems import Problem, Severity

FORMATS = ("PNG", "JPEG", "TIFF")
"""What is read, whatever a file's ending says: some other kinds of picture are programs."""

POINTS = 24_000_000
"""Most points of a picture that is measured, such as 6000 x 4000."""

MOST_OF_16_BITS, OPAQUE = 65_535, 255

SUBFILE_TYPE, PAGES = 254, 20
"""TIFF tag whose lowest bit marks a smaller copy of another page (TIFF 6.0, section 8); pages looked at."""

CARD_POINTS = 50_000_000
"""Most points of a photograph of a fling card, which takes less memory to read."""


def read_picture(path: Path, most: int = POINTS, at: float | None = None) -> NDArray[np.generic]:
    """Read a picture, turned upright as its camera says; of a clip the sharpest one near a moment [s]."""
    if path.suffix.lower() in CLIPS:
        return _of_clip(path, at)
    try:
        large = too_large(path, str(path))
        if large:
            raise InputError(large)
        with _without_remarks(), Image.open(path, formats=FORMATS) as picture:
            if picture.width * picture.height > most:
                raise _too_many_points(path, picture, most)
            _one_page(path, picture)
            upright = _opaque(path, ImageOps.exif_transpose(picture))
            if upright.mode in ("P", "CMYK", "YCbCr", "1", "LAB", "HSV"):
                upright = upright.convert("RGB")
            pixels: NDArray[np.generic] = np.asarray(upright)
    except FileNotFoundError:
        raise wrong_picture(path, "picture-missing", "there is no such picture", "check the name") from None
    except IsADirectoryError:
        raise wrong_picture(
            path,
            "picture-missing",
            "this is a folder",
            "name one picture; pinscar gather reads whole folders",
        ) from None
    except UNREADABLE:
        mend = "save it again as PNG, JPEG or TIFF"
        raise wrong_picture(path, "picture-unreadable", "this can't be read as a picture", mend) from None
    pixels = pixels.astype(pixels.dtype.newbyteorder("="), copy=False)
    if pixels.dtype == np.int32 and int(pixels.min()) >= 0 and int(pixels.max()) <= MOST_OF_16_BITS:
        # Pillow gives some 16-bit greys as 32-bit numbers.
        pixels = pixels.astype(np.uint16)
    if pixels.dtype not in (np.uint8, np.uint16):
        mend = "save it with 8 or 16 bits per channel"
        raise wrong_picture(
            path, "picture-unreadable", f"its pixel format is not supported, {pixels.dtype}", mend
        )
    return pixels


def _one_page(path: Path, picture: Image.Image) -> None:
    """Refuse a file of several pictures: which of them is the scar, nobody can tell."""
    pages = getattr(picture, "n_frames", 1)
    if pages == 1 or picture.format not in ("TIFF", "PNG"):
        return  # the further pictures of a telephone's JPEG are previews of the first
    shown = []
    for page in range(min(pages, PAGES)):
        picture.seek(page)
        tags = getattr(picture, "tag_v2", {})
        if not int(tags.get(SUBFILE_TYPE, 0)) & 1:
            shown.append(page)
    picture.seek(0)
    if shown != [0]:
        message = f"the file holds {pages} pictures"
        raise wrong_picture(path, "picture-unreadable", message, "save the one to be measured by itself")


def _opaque(path: Path, picture: Image.Image) -> Image.Image:
    """Take off a transparency that hides nothing, and refuse one that does."""
    if picture.mode == "P" and "transparency" in picture.info:
        picture = picture.convert("RGBA")
    if picture.mode not in ("LA", "RGBA", "PA", "La", "RGBa"):
        return picture
    if picture.getchannel(picture.mode[-1]).getextrema()[0] != OPAQUE:
        message = "parts of the picture are transparent, and what they hide may be no picture"
        raise wrong_picture(path, "picture-unreadable", message, "save it without transparency")
    return picture.convert("L" if picture.mode[0] == "L" else "RGB")


def _of_clip(path: Path, at: float | None) -> NDArray[np.generic]:
    try:
        return sharpest(path, at)
    except FileNotFoundError:
        raise wrong_picture(path, "picture-missing", "there is no such clip", "check the name") from None
    except ValueError as error:
        mend = "name a moment within it, or save one picture of it as PNG"
        raise wrong_picture(path, "picture-unreadable", str(error), mend) from None


UNREADABLE = (
    UnidentifiedImageError,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
    OSError,
    ValueError,
    SyntaxError,
    struct.error,
    zlib.error,
    MemoryError,
    OverflowError,
    TypeError,
    KeyError,
)
"""What the library raises on damaged pictures."""


def _too_many_points(path: Path, picture: Image.Image, most: int) -> InputError:
    message = f"the picture has {picture.width} x {picture.height} points, and at most {most:,} are read"
    return wrong_picture(path, "picture-too-large", message, "cut it to what is measured, or save it smaller")


@contextlib.contextmanager
def _without_remarks() -> Iterator[None]:
    """Keep the library from printing what it thinks of a damaged picture beside our one line."""
    log = logging.getLogger("PIL")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            yield
    finally:
        log.setLevel(level)


def wrong_picture(path: Path, code: str, message: str, mend: str) -> InputError:
    """Build the error that names a picture."""
    return InputError(
        [Problem(code=code, severity=Severity.ERROR, file=str(path), message=message, mend=mend)]
    )

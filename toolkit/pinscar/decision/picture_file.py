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
            upright = ImageOps.exif_transpose(picture)
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
    if pixels.dtype == np.int32:
        # Pillow gives some 16-bit greys as 32-bit numbers.
        pixels = np.clip(pixels, 0, 65535).astype(np.uint16)
    if pixels.dtype not in (np.uint8, np.uint16):
        mend = "save it with 8 or 16 bits per channel"
        raise wrong_picture(
            path, "picture-unreadable", f"its pixel format is not supported, {pixels.dtype}", mend
        )
    return pixels


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
    return InputError([Problem(code, Severity.ERROR, str(path), message, mend)])

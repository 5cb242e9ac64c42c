"""Pictures on disk: read one, and the error that names it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from pinscar.errors import InputError
from pinscar.problems import Problem, Severity


def read_picture(path: Path) -> NDArray[np.generic]:
    """Read a picture, turned upright as its camera says.

    Parameters
    ----------
    path : pathlib.Path
        PNG, JPEG or TIFF.

    Returns
    -------
    array
        Rows, columns and maybe channels, whole numbers over the range of their type.

    Raises
    ------
    InputError
        If there is no such file, or it can't be read as a picture.
    """
    try:
        with Image.open(path) as picture:
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
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError):
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


def wrong_picture(path: Path, code: str, message: str, mend: str) -> InputError:
    """Build the error that names a picture.

    Parameters
    ----------
    path : pathlib.Path
        The picture.
    code, message, mend : str
        Its stable code, what is wrong and how to mend it.

    Returns
    -------
    InputError
        The error, to be raised.
    """
    return InputError([Problem(code, Severity.ERROR, str(path), message, mend)])

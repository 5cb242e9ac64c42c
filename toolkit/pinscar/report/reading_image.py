"""Micrographs from disk: read one, measure the scar on it, tell the result."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from pinscar.errors import InputError, RunError, UsageError
from pinscar.evidence.scar_image import ScarReading, measure_scar
from pinscar.problems import Problem, Severity
from pinscar.report.overlay import overlay
from pinscar.units import UnitError, parse_quantity


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
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError):
        mend = "save it again as PNG, JPEG or TIFF"
        raise wrong_picture(path, "picture-unreadable", "this can't be read as a picture", mend) from None
    if pixels.dtype == np.int32:
        # Pillow gives some 16-bit greys as 32-bit numbers.
        pixels = np.clip(pixels, 0, 65535).astype(np.uint16)
    if pixels.dtype not in (np.uint8, np.uint16):
        mend = "save it with 8 or 16 bits a channel"
        raise wrong_picture(
            path, "picture-unreadable", f"its points are of an odd kind, {pixels.dtype}", mend
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


def read_quantity(text: str, dimension: str, option: str) -> float:
    """Read a positive quantity from the command line.

    Parameters
    ----------
    text : str
        Such as ``2.5um/px``.
    dimension : str
        Kind of quantity.
    option : str
        Name of the option, for the message.

    Returns
    -------
    float
        The number in SI.

    Raises
    ------
    UsageError
        If it can't be read, or isn't positive.

    Examples
    --------
    >>> round(read_quantity("2.5um/px", "image scale", "--scale"), 12)
    2.5e-06
    """
    try:
        value = parse_quantity(text, dimension)
    except UnitError as error:
        raise UsageError(f"{option} {text}: {error}") from None
    if not (value > 0 and np.isfinite(value)):
        raise UsageError(f"{option} {text}: it must be positive")
    return value


def scar_on_picture(
    path: Path, scale: float, drawn: Path | None = None, scale_uncertainty: float = 0.0
) -> ScarReading:
    """Measure the scar on a picture; save the picture with what was found, if wished.

    Parameters
    ----------
    path : pathlib.Path
        The picture.
    scale : float
        Size of one point [m].
    drawn : pathlib.Path, optional
        Where the overlay goes.
    scale_uncertainty : float, optional
        Relative standard uncertainty of the scale [1].

    Returns
    -------
    ScarReading
        The reading.

    Raises
    ------
    InputError
        If the picture can't be read or measured.
    RunError
        If the overlay can't be written.
    """
    pixels = read_picture(path)
    try:
        reading = measure_scar(pixels, scale, scale_uncertainty)
    except ValueError as error:
        raise wrong_picture(path, "picture-unfit", str(error), "take a picture of the whole scar") from None
    if drawn is not None:
        try:
            Image.fromarray(overlay(pixels, reading, scale)).save(drawn)
        except (OSError, ValueError) as error:
            raise RunError(f"{drawn}: the overlay can't be written: {error}") from None
    return reading


def scar_as_dict(reading: ScarReading) -> dict[str, Any]:
    """Give a reading as plain JSON types; a refused one has null for every number but its score.

    Parameters
    ----------
    reading : ScarReading
        The reading.

    Returns
    -------
    dict
        What ``pinscar scar --json`` prints.
    """
    return {
        "accepted": reading.accepted,
        "score": round(reading.score, 3),
        "scar_length_mm": rounded(reading.length, 1e3, 4),
        "scar_width_mm": rounded(reading.width, 1e3, 4),
        "area_mm2": rounded(reading.area, 1e6, 4),
        "ellipse_area_mm2": rounded(reading.ellipse_area, 1e6, 4),
        "angle_deg": rounded(reading.angle, 180 / np.pi, 2),
        "length_u_mm": rounded(reading.length_uncertainty, 1e3, 4),
        "width_u_mm": rounded(reading.width_uncertainty, 1e3, 4),
        "area_u_mm2": rounded(reading.area_uncertainty, 1e6, 4),
        "roughness_um": rounded(reading.roughness, 1e6, 2),
        "reason": reading.reason or None,
    }


def rounded(value: float | None, factor: float, digits: int) -> float | None:
    """Turn a number to another unit and round it.

    Parameters
    ----------
    value : float or None
        The number.
    factor : float
        What one is in the other unit.
    digits : int
        Decimals to keep.

    Returns
    -------
    float or None
        The rounded number; None for None.

    Examples
    --------
    >>> rounded(0.0021234, 1e3, 3)
    2.123
    """
    return None if value is None else round(value * factor, digits)


def scar_line(reading: ScarReading) -> str:
    """Tell a reading in a line.

    Parameters
    ----------
    reading : ScarReading
        The reading.

    Returns
    -------
    str
        Axes, area and angle, or why there are none.
    """
    told = scar_as_dict(reading)
    if not reading.accepted:
        return f"not accepted (score {reading.score:.2f}): {reading.reason}"
    return (
        f"length {told['scar_length_mm']:.3f} mm (u {told['length_u_mm']:.3f}), "
        f"width {told['scar_width_mm']:.3f} mm (u {told['width_u_mm']:.3f}), "
        f"area {told['area_mm2']:.3f} mm², angle {told['angle_deg']:.1f}°, score {reading.score:.2f}"
    )

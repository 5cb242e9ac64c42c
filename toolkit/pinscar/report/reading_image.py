"""Scars on micrographs: measure one, tell the result; and the words and numbers of all such commands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from pinscar.errors import UsageError
from pinscar.evidence.scar_image import ScarReading, measure_scar
from pinscar.report.overlay import overlay
from pinscar.report.picture_file import read_picture, refuse_overlay, save_overlay, wrong_picture
from pinscar.units import UnitError, parse_quantity


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
    UsageError
        If the overlay would replace the picture, or can't be a picture.
    RunError
        If the overlay can't be written.
    """
    refuse_overlay(path, drawn)
    pixels = read_picture(path)
    try:
        reading = measure_scar(pixels, scale, scale_uncertainty)
    except ValueError as error:
        raise wrong_picture(path, "picture-unfit", str(error), "take a picture of the whole scar") from None
    if drawn is not None:
        save_overlay(drawn, overlay(pixels, reading, scale))
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

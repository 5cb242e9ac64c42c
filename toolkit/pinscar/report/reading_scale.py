"""The scale of a picture: as typed, from a graticule, or from the bar burnt into it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pinscar.errors import UsageError
from pinscar.evidence.graticule import GraticuleReading, read_graticule
from pinscar.evidence.scale_bar import ScaleBarReading, read_scale_bar
from pinscar.report.picture_file import read_picture, wrong_picture
from pinscar.report.reading_image import read_quantity, rounded
from pinscar.units import UnitError, parse_quantity


@dataclass(frozen=True, slots=True)
class PictureScale:
    """The scale of a picture, and where it comes from.

    Parameters
    ----------
    size : float
        Size of one point [m].
    relative_uncertainty : float
        Its standard uncertainty [1].
    source : {"typed", "scale bar"}
        Where it comes from.
    warnings : tuple of str
        What to look at, in words.
    """

    size: float
    relative_uncertainty: float
    source: str
    warnings: tuple[str, ...] = ()


def require_one(first: str | None, second: str | None, options: tuple[str, str]) -> None:
    """Refuse two options of which exactly one belongs in a command.

    Parameters
    ----------
    first, second : str or None
        What was given for each.
    options : tuple of str
        Their names, for the message.

    Raises
    ------
    UsageError
        If both or none are given.

    Examples
    --------
    >>> require_one("0.5mm", None, ("--bar", "--pitch"))
    """
    if (first is None) == (second is None):
        told = "both are" if first is not None else "neither is"
        raise UsageError(f"give exactly one of {options[0]} and {options[1]}; {told} given")


def scale_for_scar(
    path: Path, scale: str | None, bar: str | None, uncertainty: str | None = None
) -> PictureScale:
    """Take the scale of a micrograph from the words of the command.

    Parameters
    ----------
    path : pathlib.Path
        The micrograph.
    scale : str or None
        Size of one point, such as ``2.5um/px``.
    bar : str or None
        Length of the bar burnt into it, such as ``0.5mm``.
    uncertainty : str or None, optional
        Relative standard uncertainty of `scale`, such as ``0.5 %``.

    Returns
    -------
    PictureScale
        The scale.

    Raises
    ------
    UsageError
        If not exactly one of scale and bar is given, or words can't be read.
    InputError
        If the picture can't be read, or shows no bar.
    """
    require_one(scale, bar, ("--scale", "--bar"))
    if bar is not None:
        if uncertainty is not None:
            raise UsageError("--scale-uncertainty goes with --scale; the bar brings its own")
        found = bar_on_picture(path, read_quantity(bar, "length", "--bar"))
        return PictureScale(found.scale, found.relative_uncertainty, "scale bar", found.warnings)
    size = read_quantity(scale or "", "image scale", "--scale")
    return PictureScale(size, 0.0 if uncertainty is None else _share(uncertainty), "typed")


def _share(text: str) -> float:
    try:
        value = parse_quantity(text, "pure number")
    except UnitError as error:
        raise UsageError(f"--scale-uncertainty {text}: {error}") from None
    if value > 0.1 and text.strip()[-1] in ".0123456789":
        raise UsageError(
            f"--scale-uncertainty {text}: without a sign that is {100 * value:g} %; "
            f"write {value:g} % or {100 * value:g} %"
        )
    if not 0 <= value < 1:
        raise UsageError(f"--scale-uncertainty {text}: it must be a share from 0 to 100 %, such as 0.5 %")
    return value


def scale_as_dict(scale: PictureScale) -> dict[str, Any]:
    """Give a scale as plain JSON types.

    Parameters
    ----------
    scale : PictureScale
        The scale.

    Returns
    -------
    dict
        What ``pinscar scar --json`` prints beside the reading.
    """
    # Nobody stated that of a typed scale: it is not known, and not 0.
    known = scale.size * scale.relative_uncertainty if scale.relative_uncertainty else None
    return {
        "scale_um_per_px": rounded(scale.size, 1e6, 6),
        "scale_u_um_per_px": rounded(known, 1e6, 6),
        "scale_from": scale.source,
        "scale_warnings": list(scale.warnings),
    }


def bar_on_picture(path: Path, length: float) -> ScaleBarReading:
    """Read the scale from the bar burnt into a picture.

    Parameters
    ----------
    path : pathlib.Path
        The picture.
    length : float
        What the bar stands for [m].

    Returns
    -------
    ScaleBarReading
        The scale with its uncertainty and warnings.

    Raises
    ------
    InputError
        If the picture can't be read, or not exactly one bar is seen.
    """
    try:
        return read_scale_bar(read_picture(path), length)
    except ValueError as error:
        mend = "give the scale as a number, or cut the picture so that one whole bar is on it"
        raise wrong_picture(path, "scale-bar-unread", str(error), mend) from None


def bar_as_dict(reading: ScaleBarReading) -> dict[str, Any]:
    """Give a scale read from a bar as plain JSON types.

    Parameters
    ----------
    reading : ScaleBarReading
        The reading.

    Returns
    -------
    dict
        What ``pinscar graticule --bar ... --json`` prints.
    """
    return {
        "scale_um_per_px": rounded(reading.scale, 1e6, 6),
        "scale_u_um_per_px": rounded(reading.scale * reading.relative_uncertainty, 1e6, 6),
        "bar_px": rounded(reading.points, 1.0, 3),
        "ends_px": [[round(float(value), 2) for value in end] for end in reading.ends],
        "angle_deg": rounded(reading.angle, 180 / np.pi, 2),
        "end_ticks_px": rounded(reading.ticks, 1.0, 1),
        "warnings": list(reading.warnings),
    }


def bar_line(reading: ScaleBarReading) -> str:
    """Tell a scale read from a bar in a line.

    Parameters
    ----------
    reading : ScaleBarReading
        The reading.

    Returns
    -------
    str
        Scale, uncertainty, and where the bar lies.
    """
    um = reading.scale * 1e6
    (x, y), (other_x, other_y) = reading.ends
    return (
        f"scale {um:.4g} um/px (u {um * reading.relative_uncertainty:.2g}, from placing both ends) from a "
        f"bar of {reading.points:.1f} points, from column {x:.1f}, row {y:.1f} to column {other_x:.1f}, "
        f"row {other_y:.1f}"
    )


def graticule_on_picture(path: Path, pitch: float) -> GraticuleReading:
    """Read the scale from a picture of a graticule.

    Parameters
    ----------
    path : pathlib.Path
        The picture.
    pitch : float
        Distance of its lines [m].

    Returns
    -------
    GraticuleReading
        The scale with its uncertainty and warnings.

    Raises
    ------
    InputError
        If the picture can't be read, or no regular lines are found on it.
    """
    try:
        return read_graticule(read_picture(path), pitch)
    except ValueError as error:
        mend = "take a sharp picture of five lines or more that fill it"
        raise wrong_picture(path, "picture-unfit", str(error), mend) from None


def graticule_as_dict(reading: GraticuleReading) -> dict[str, Any]:
    """Give a scale as plain JSON types.

    Parameters
    ----------
    reading : GraticuleReading
        The reading.

    Returns
    -------
    dict
        What ``pinscar graticule --json`` prints.
    """
    return {
        "scale_um_per_px": rounded(reading.scale, 1e6, 6),
        "scale_u_um_per_px": rounded(reading.scale * reading.relative_uncertainty, 1e6, 6),
        "spectrum_scale_um_per_px": rounded(reading.spectrum_scale, 1e6, 6),
        "across_um_per_px": rounded(reading.across, 1e6, 6),
        "angle_deg": rounded(reading.angle, 180 / np.pi, 2),
        "lines": reading.lines,
        "warnings": list(reading.warnings),
    }


def graticule_line(reading: GraticuleReading) -> str:
    """Tell a scale in a line.

    Parameters
    ----------
    reading : GraticuleReading
        The reading.

    Returns
    -------
    str
        Scale, uncertainty and number of lines.
    """
    um = reading.scale * 1e6
    return (
        f"scale {um:.4g} um/px (u {um * reading.relative_uncertainty:.2g}, from the places of lines) "
        f"from {reading.lines} lines"
    )

"""Pictures on disk: scars and scales read from them, told in words and numbers, and drawn on the picture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pinscar.decision.media import read_picture, wrong_picture
from pinscar.errors import RunError, UsageError
from pinscar.evidence.grey import grey
from pinscar.evidence.scale_bar import ScaleBarReading, read_scale_bar
from pinscar.evidence.scar_image import ScarReading, measure_scar
from pinscar.language.current import said
from pinscar.page.style import bar_length
from pinscar.shown import from_shown, to_shown
from pinscar.units import UnitError, parse_quantity

if TYPE_CHECKING:
    from pinscar.evidence.graticule import GraticuleReading

OVERLAYS = (".png", ".jpg", ".jpeg", ".tif", ".tiff")
"""Endings under which an overlay is saved."""


def refuse_overlay(image: Path, drawn: Path | None) -> None:
    """Refuse a place for an overlay before the picture is measured, above all the picture's own.

    Examples
    --------
    >>> refuse_overlay(Path("scar.png"), Path("outline.png"))
    >>> refuse_overlay(Path("scar.png"), Path("outline.txt"))
    Traceback (most recent call last):
    pinscar.errors.UsageError: --overlay outline.txt: a picture cannot be saved with this ending; write .png
    """
    if drawn is None:
        return
    if drawn.suffix.lower() not in OVERLAYS:
        raise UsageError(f"--overlay {drawn}: a picture cannot be saved with this ending; write .png")
    if not drawn.parent.is_dir():
        raise UsageError(f"--overlay {drawn}: there is no folder {drawn.parent}; make it first")
    if drawn.exists() and image.exists() and drawn.samefile(image):
        raise UsageError(
            f"--overlay {drawn}: this is the picture itself, which must stay as it is; take another name"
        )


def save_overlay(path: Path, pixels: NDArray[np.uint8]) -> None:
    """Save a picture with what was found drawn on it."""
    try:
        Image.fromarray(pixels).save(path)
    except (OSError, ValueError) as error:
        raise RunError(
            f"{path}: the overlay can't be written: {getattr(error, 'strerror', None) or error}"
        ) from None


FOUND, LEFT_OUT, GUESS = (0, 230, 255), (255, 60, 0), (255, 210, 0)


def overlay(pixels: NDArray[np.generic], reading: ScarReading, scale: float) -> NDArray[np.uint8]:
    """Draw a reading on its picture.

    Outline points that the fit used are blue, others red; the axes are white. Of a refused reading the guess
    is yellow and dashed.
    """
    base = pixels if pixels.ndim == 3 and pixels.shape[2] == 3 and pixels.dtype == np.uint8 else None
    shown = np.rint(grey(pixels) * 255).astype(np.uint8) if base is None else base
    picture = Image.fromarray(shown).convert("RGB")
    draw = ImageDraw.Draw(picture)
    thick = max(1, picture.width // 400)
    if reading.accepted:
        _dots(draw, reading, thick)
    _ellipse(draw, reading, thick)
    _scale_bar(draw, picture.size, scale)
    return np.asarray(picture, dtype=np.uint8)


def _dots(draw: ImageDraw.ImageDraw, reading: ScarReading, thick: int) -> None:
    for (x, y), used in zip(reading.outline, reading.used, strict=True):
        box = (float(x) - thick, float(y) - thick, float(x) + thick, float(y) + thick)
        draw.ellipse(box, fill=FOUND if used else LEFT_OUT)


def _ellipse(draw: ImageDraw.ImageDraw, reading: ScarReading, thick: int) -> None:
    ellipse = reading.ellipse
    if ellipse is None:
        return
    around = [(float(x), float(y)) for x, y in ellipse.points(np.linspace(0, 2 * np.pi, 181))]
    if not reading.accepted:
        for first, second in zip(around[::4], around[2::4], strict=False):
            draw.line([first, second], fill=GUESS, width=thick + 1)
        return
    ends = [(float(x), float(y)) for x, y in ellipse.points(np.array([0, np.pi, np.pi / 2, 3 * np.pi / 2]))]
    draw.line(ends[:2], fill="white", width=thick)
    draw.line(ends[2:], fill="white", width=thick)


def _scale_bar(draw: ImageDraw.ImageDraw, size: tuple[int, int], scale: float) -> None:
    columns, rows = size
    millimetres = bar_length(0.3 * columns * to_shown(scale, "mm"))
    length, high = from_shown(millimetres, "mm") / scale, max(3, rows // 90)
    left, low = columns * 0.04, rows * 0.95
    font = ImageFont.load_default(size=max(11, rows // 20))
    draw.rectangle((left - 3, low - high - 3, left + length + 3, low + 3), fill="black")
    draw.rectangle((left, low - high, left + length, low), fill="white")
    draw.text(
        (left, low - high - 6),
        said(f"{millimetres:g} mm"),
        anchor="lb",
        font=font,
        fill="white",
        stroke_width=2,
        stroke_fill="black",
    )


def read_quantity(text: str, dimension: str, option: str) -> float:
    """Read a positive quantity from the command line.

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
    path: Path,
    scale: float,
    drawn: Path | None = None,
    scale_uncertainty: float = 0.0,
    at: float | None = None,
) -> ScarReading:
    """Measure the scar on a picture; save the picture with what was found, if wished."""
    refuse_overlay(path, drawn)
    pixels = read_picture(path, at=at)
    try:
        reading = measure_scar(pixels, scale, scale_uncertainty)
    except ValueError as error:
        raise wrong_picture(path, "picture-unfit", str(error), "take a picture of the whole scar") from None
    if drawn is not None:
        save_overlay(drawn, overlay(pixels, reading, scale))
    return reading


def scar_as_dict(reading: ScarReading) -> dict[str, Any]:
    """Give a reading as plain JSON types; a refused one has null for every number but its score."""
    return {
        "accepted": reading.accepted,
        "score": round(reading.score, 3),
        "scar_length_mm": rounded(reading.length, "mm", 4),
        "scar_width_mm": rounded(reading.width, "mm", 4),
        "area_mm2": rounded(reading.area, "mm²", 4),
        "ellipse_area_mm2": rounded(reading.ellipse_area, "mm²", 4),
        "angle_deg": rounded(reading.angle, "°", 2),
        "length_u_mm": rounded(reading.length_uncertainty, "mm", 4),
        "width_u_mm": rounded(reading.width_uncertainty, "mm", 4),
        "area_u_mm2": rounded(reading.area_uncertainty, "mm²", 4),
        "roughness_um": rounded(reading.roughness, "µm", 2),
        "shape": reading.shape or None,
        "reason": reading.reason or None,
    }


def rounded(value: float | None, unit: str, digits: int) -> float | None:
    """Turn a number to another unit and round it.

    Examples
    --------
    >>> rounded(0.0021234, "mm", 3)
    2.123
    """
    return None if value is None else round(to_shown(value, unit), digits)


def scar_line(reading: ScarReading) -> str:
    """Tell a reading in a line."""
    told = scar_as_dict(reading)
    if not reading.accepted:
        return f"not accepted (score {reading.score:.2f}): {reading.reason}"
    shape = "" if reading.shape == "oval" else f", shape: {reading.shape}"
    return (
        f"length {told['scar_length_mm']:.3f} mm (u {told['length_u_mm']:.3f}), "
        f"width {told['scar_width_mm']:.3f} mm (u {told['width_u_mm']:.3f}), "
        f"area {told['area_mm2']:.3f} mm², angle {told['angle_deg']:.1f}°, score {reading.score:.2f}{shape}"
    )


@dataclass(frozen=True, slots=True)
class PictureScale:
    """The scale of a picture, and where it comes from.

    Attributes
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

    Examples
    --------
    >>> require_one("0.5mm", None, ("--bar", "--pitch"))
    """
    if (first is None) == (second is None):
        told = "both are" if first is not None else "neither is"
        raise UsageError(f"give exactly one of {options[0]} and {options[1]}; {told} given")


def scale_for_scar(
    path: Path,
    scale: str | None,
    bar: str | None,
    uncertainty: str | None = None,
    at: float | None = None,
) -> PictureScale:
    """Take the scale of a micrograph from the words of the command."""
    require_one(scale, bar, ("--scale", "--bar"))
    if bar is not None:
        if uncertainty is not None:
            raise UsageError("--scale-uncertainty goes with --scale; the bar brings its own")
        found = bar_on_picture(path, read_quantity(bar, "length", "--bar"), at)
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
    """Give a scale as plain JSON types."""
    # That of a typed scale was not stated: it is unknown, not 0.
    known = scale.size * scale.relative_uncertainty if scale.relative_uncertainty else None
    return {
        "scale_um_per_px": rounded(scale.size, "µm/px", 6),
        "scale_u_um_per_px": rounded(known, "µm/px", 6),
        "scale_from": scale.source,
        "scale_warnings": list(scale.warnings),
    }


def bar_on_picture(path: Path, length: float, at: float | None = None) -> ScaleBarReading:
    """Read the scale from the bar burnt into a picture."""
    try:
        return read_scale_bar(read_picture(path, at=at), length)
    except ValueError as error:
        mend = "give the scale as a number, or cut the picture so that one whole bar is on it"
        raise wrong_picture(path, "scale-bar-unread", str(error), mend) from None


def bar_as_dict(reading: ScaleBarReading) -> dict[str, Any]:
    """Give a scale read from a bar as plain JSON types."""
    return {
        "scale_um_per_px": rounded(reading.scale, "µm/px", 6),
        "scale_u_um_per_px": rounded(reading.scale * reading.relative_uncertainty, "µm/px", 6),
        "bar_px": rounded(reading.points, "1", 3),
        "ends_px": [[round(float(value), 2) for value in end] for end in reading.ends],
        "angle_deg": rounded(reading.angle, "°", 2),
        "end_ticks_px": rounded(reading.ticks, "1", 1),
        "warnings": list(reading.warnings),
    }


def bar_line(reading: ScaleBarReading) -> str:
    """Tell a scale read from a bar in a line."""
    um = to_shown(reading.scale, "µm")
    (x, y), (other_x, other_y) = reading.ends
    return (
        f"scale {um:.4g} um/px (u {um * reading.relative_uncertainty:.2g}, from placing both ends) from a "
        f"bar of {reading.points:.1f} points, from column {x:.1f}, row {y:.1f} to column {other_x:.1f}, "
        f"row {other_y:.1f}"
    )


def graticule_on_picture(path: Path, pitch: float) -> GraticuleReading:
    """Read the scale from a picture of a graticule."""
    from pinscar.evidence.graticule import read_graticule  # here: slow to import, and no report reads one

    try:
        return read_graticule(read_picture(path), pitch)
    except ValueError as error:
        mend = "take a sharp picture of five lines or more that fill it"
        raise wrong_picture(path, "picture-unfit", str(error), mend) from None


def graticule_as_dict(reading: GraticuleReading) -> dict[str, Any]:
    """Give a scale as plain JSON types."""
    return {
        "scale_um_per_px": rounded(reading.scale, "µm/px", 6),
        "scale_u_um_per_px": rounded(reading.scale * reading.relative_uncertainty, "µm/px", 6),
        "spectrum_scale_um_per_px": rounded(reading.spectrum_scale, "µm/px", 6),
        "across_um_per_px": rounded(reading.across, "µm/px", 6),
        "angle_deg": rounded(reading.angle, "°", 2),
        "lines": reading.lines,
        "warnings": list(reading.warnings),
    }


def graticule_line(reading: GraticuleReading) -> str:
    """Tell a scale in a line."""
    um = to_shown(reading.scale, "µm")
    return (
        f"scale {um:.4g} um/px (u {um * reading.relative_uncertainty:.2g}, from the places of lines) "
        f"from {reading.lines} lines"
    )

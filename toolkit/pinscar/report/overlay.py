"""The micrograph with what was read drawn on it: outline, axes and a scale bar."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pinscar.evidence.grey import grey
from pinscar.evidence.scar_image import ScarReading
from pinscar.report.bar_length import bar_length

FOUND, LEFT_OUT, GUESS = (0, 230, 255), (255, 60, 0), (255, 210, 0)


def overlay(pixels: NDArray[np.generic], reading: ScarReading, scale: float) -> NDArray[np.uint8]:
    """Draw a reading on its picture.

    Outline points that the fit used are blue, others red; the axes are white. Of a refused reading the guess
    is yellow and dashed.

    Parameters
    ----------
    pixels : array
        The picture.
    reading : ScarReading
        What was read.
    scale : float
        Size of one point [m].

    Returns
    -------
    array, shape (rows, columns, 3)
        The picture with the drawing.
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
    millimetres = bar_length(0.3 * columns * scale * 1e3)
    length, high = millimetres * 1e-3 / scale, max(3, rows // 90)
    left, low = columns * 0.04, rows * 0.95
    font = ImageFont.load_default(size=max(11, rows // 20))
    draw.rectangle((left - 3, low - high - 3, left + length + 3, low + 3), fill="black")
    draw.rectangle((left, low - high, left + length, low), fill="white")
    draw.text(
        (left, low - high - 6),
        f"{millimetres:g} mm",
        anchor="lb",
        font=font,
        fill="white",
        stroke_width=2,
        stroke_fill="black",
    )

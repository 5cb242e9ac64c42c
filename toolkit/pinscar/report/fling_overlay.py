"""The fling card laid flat with what was read drawn on it: edges of drops, strokes, a length scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import binary_dilation
from skimage.segmentation import find_boundaries

from pinscar.evidence.fling_card import FlingReading
from pinscar.report.bar_length import bar_length

FOUND, GUESS, LEFT_OUT, CORNER = (0, 90, 200), (230, 140, 0), (200, 30, 120), (0, 0, 0)


def fling_overlay(reading: FlingReading, thick: int = 2) -> NDArray[np.uint8]:
    """Draw a reading on its card, the card laid flat.

    The edges of drops are blue, strokes and fibres that were left out purple; of a refused reading the drops
    are orange: they are a guess.

    Parameters
    ----------
    reading : FlingReading
        What was read.
    thick : int
        Thickness of the drops' outlines [points].

    Returns
    -------
    array, shape (rows, columns, 3)
        The card with the drawing and a border around it that bears the corners and the length scale.
    """
    brightest = max(float(np.quantile(reading.card, 0.99)), 0.05)
    grey = np.clip(np.rint(reading.card / brightest * 235), 0, 255).astype(np.uint8)
    pixels = np.repeat(grey[..., None], 3, axis=2)
    pixels[reading.left_out & reading.accepted] = LEFT_OUT
    edges = find_boundaries(reading.drops, mode="outer")
    edges = binary_dilation(edges, iterations=thick - 1) if thick > 1 else edges
    pixels[edges] = FOUND if reading.accepted else GUESS
    height, width = grey.shape
    border = max(8, width // 40)
    page = Image.new("RGB", (width + 2 * border, height + 2 * border + width // 15), "white")
    page.paste(Image.fromarray(pixels), (border, border))
    draw = ImageDraw.Draw(page)
    _corners(draw, border, width, height)
    _scale(draw, (border, height + 2 * border), width, reading.point)
    return np.asarray(page, dtype=np.uint8)


def _corners(draw: ImageDraw.ImageDraw, border: int, width: int, height: int) -> None:
    arm, thick = border, max(2, width // 400)
    for x, way_x in ((border, -1), (border + width - 1, 1)):
        for y, way_y in ((border, -1), (border + height - 1, 1)):
            draw.line([(x, y), (x + way_x * arm, y)], fill=CORNER, width=thick)
            draw.line([(x, y), (x, y + way_y * arm)], fill=CORNER, width=thick)


def _scale(draw: ImageDraw.ImageDraw, place: tuple[int, int], width: int, point: float) -> None:
    millimetres = bar_length(0.35 * width * point * 1e3)
    x, y = place
    length, high = millimetres * 1e-3 / point, max(4, width // 80)
    draw.rectangle((x, y, x + length, y + high), fill=CORNER)
    font = ImageFont.load_default(size=max(14, width // 19))
    draw.text((x + length + high, y + high // 2), f"{millimetres:g} mm", anchor="lm", font=font, fill=CORNER)

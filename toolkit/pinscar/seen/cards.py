"""Photographs of fling cards: read one, tell the result, and draw what was read on the card laid flat."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import binary_dilation
from skimage.segmentation import find_boundaries

from pinscar.campaign.model import card_size
from pinscar.campaign.quantities import FieldError
from pinscar.decision.pictures import read_card
from pinscar.errors import UsageError
from pinscar.evidence.fling_card import FlingReading, size_classes
from pinscar.language.current import said
from pinscar.page.style import bar_length
from pinscar.seen.pictures import (
    refuse_overlay,
    rounded,
    save_overlay,
)
from pinscar.shown import from_shown, to_shown

FOUND, GUESS, LEFT_OUT, CORNER = (0, 90, 200), (230, 140, 0), (200, 30, 120), (0, 0, 0)


def fling_overlay(reading: FlingReading, thick: int = 2) -> NDArray[np.uint8]:
    """Draw a reading on its card, the card laid flat.

    The edges of drops are blue, strokes and fibres that were left out purple; of a refused reading the drops
    are orange: they are a guess.
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
    millimetres = bar_length(0.35 * width * to_shown(point, "mm"))
    x, y = place
    length, high = from_shown(millimetres, "mm") / point, max(4, width // 80)
    draw.rectangle((x, y, x + length, y + high), fill=CORNER)
    font = ImageFont.load_default(size=max(14, width // 19))
    draw.text(
        (x + length + high, y + high // 2), said(f"{millimetres:g} mm"), anchor="lm", font=font, fill=CORNER
    )


SHARES = (0.1, 0.5, 0.9)
"""Shares of the covered area whose diameters are told."""


def read_card_size(text: str) -> tuple[float, float]:
    """Read the size of a card from the command line.

    Examples
    --------
    >>> read_card_size("100mm x 150mm")
    (0.15, 0.1)
    """
    try:
        return card_size(text)
    except FieldError as error:
        raise UsageError(f"--card {text}: {error.message}; {error.mend}") from None


def card_on_picture(path: Path, sides: tuple[float, float], drawn: Path | None = None) -> FlingReading:
    """Read the card on a photograph; save the card with what was found, if wished."""
    refuse_overlay(path, drawn)
    reading = read_card(path, sides)
    if drawn is not None:
        save_overlay(drawn, fling_overlay(reading))
    return reading


def card_as_dict(reading: FlingReading) -> dict[str, Any]:
    """Give a reading as plain JSON types; a refused one has null for every number."""
    accepted = reading.accepted
    by_area = {
        f"diameter_{100 * share:.0f}_by_area_mm": rounded(reading.diameter_by_area(share), "mm", 3)
        for share in SHARES
    }
    return {
        "accepted": accepted,
        "drops": reading.count,
        "fling_area_mm2": rounded(reading.fling_area, "mm²", 3),
        "fling_area_u_mm2": rounded(reading.fling_area_uncertainty, "mm²", 3),
        "covered_share": rounded(reading.share, "1", 5),
        **by_area,
        "smallest_drop_mm2": rounded(reading.smallest, "mm²", 3),
        "sizes": _sizes(reading) if accepted else None,
        "marks_left_out": reading.marks,
        "marks_area_mm2": rounded(reading.marks_area, "mm²", 3),
        "reason": reading.reason or None,
    }


def _sizes(reading: FlingReading) -> list[dict[str, Any]]:
    return [
        {
            "from_mm": to_shown(one.low, "mm"),
            "to_mm": to_shown(one.high, "mm") if one.high < 1 else None,
            "drops": one.count,
            "area_mm2": rounded(one.area, "mm²", 3),
        }
        for one in size_classes(reading.drop_areas)
    ]


def card_lines(reading: FlingReading) -> list[str]:
    """Tell a reading in lines."""
    if not reading.accepted or reading.fling_area is None or reading.share is None:
        return [f"not accepted: {reading.reason}"]
    area, uncertainty = (
        to_shown(reading.fling_area, "mm²"),
        to_shown(reading.fling_area_uncertainty or 0.0, "mm²"),
    )
    noun = "drop" if reading.count == 1 else "drops"
    share = f"{100 * reading.share:.2f} % of the card"
    lines = [f"{reading.count} {noun}, covered {area:.1f} mm² (u {uncertainty:.1f}), {share}"]
    tenth, half, nine = (reading.diameter_by_area(share) for share in SHARES)
    if tenth is not None and half is not None and nine is not None:
        counts = ", ".join(
            f"{to_shown(one.low, 'mm'):g} to {to_shown(one.high, 'mm'):g} mm: {one.count}"
            if one.high < 1
            else f"over {to_shown(one.low, 'mm'):g} mm: {one.count}"
            for one in size_classes(reading.drop_areas)
        )
        lines.append(
            f"half of the area in drops up to {to_shown(half, 'mm'):.2f} mm, "
            f"a tenth up to {to_shown(tenth, 'mm'):.2f}, "
            f"nine tenths up to {to_shown(nine, 'mm'):.2f}"
        )
        lines.append(f"drops by diameter: {counts}")
    return lines


def card_warnings(reading: FlingReading) -> list[str]:
    """Tell what else is on a card."""
    if not reading.accepted or not reading.marks:
        return []
    strokes = "1 stroke or fibre" if reading.marks == 1 else f"{reading.marks} strokes or fibres"
    area = f"{to_shown(reading.marks_area, 'mm²'):.1f} mm²"
    return [f"{strokes}, {area}, left out; their dots may count as drops: write on the back of a card"]

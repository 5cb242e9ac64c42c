"""Drops of oil on the paper card behind the ring: how many, how large, how much of the card they cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.util import dtype_limits

from pinscar.evidence.card_outline import CardOutline, find_card
from pinscar.evidence.drop_sizes import diameter_by_area, diameters
from pinscar.evidence.flat_card import FlatCard, lay_flat
from pinscar.evidence.fling_drops import DARKER, SMALLEST_DROP, Stains, find_stains
from pinscar.evidence.fling_quality import Covered, why_not
from pinscar.evidence.grey import grey
from pinscar.evidence.paper_brightness import paper_brightness

FloatArray = NDArray[np.float64]
LONG_SIDE = 1200
"""Points along the longer side of the card once it is laid flat."""
LARGEST = 2000
"""A larger picture is shrunk first, to no less than this along its longer side [points]."""
MARGIN = 0.01
"""Rim of the card that isn't looked at, as a share of its longer side: cut edges cast shadows."""
CORNER = 0.5
"""Least standard uncertainty of where an edge of the card lies [points of the picture]."""
UNSURE_MARKS = 0.1
"""Standard uncertainty of the covered area from strokes and fibres, as a share of what they cover."""
DRAWN = 0.02
"""Relative uncertainty of the covered area that no closer look takes away: how the light falls on an edge.
It was set on rendered cards."""


@dataclass(frozen=True, slots=True)
class FlingReading:
    """Drops on a card; of a refused reading, every number is None.

    Parameters
    ----------
    accepted : bool
        Whether the numbers can be used.
    reason : str
        Why not; empty where they can.
    count : int or None
        How many; drops that run together are parted at narrow necks.
    drop_areas : array, shape (count,)
        Their areas, largest first [m²]; empty where the reading is refused.
    fling_area : float or None
        Covered area [m²].
    fling_area_uncertainty : float or None
        Its standard uncertainty, from where the drops end and where the card's edges lie [m²].
    share : float or None
        Covered area over the area looked at [1].
    smallest : float
        Area below which a drop is not seen [m²].
    marks : int
        Strokes of a pen and fibres that were left out.
    marks_area : float
        What they cover [m²].
    corners : array, shape (4, 2)
        Corners of the card in the picture, columns and rows [points].
    card : array, shape (rows, columns)
        The card laid flat, brightness from 0 to 1.
    point : float
        Size of one of its points [m].
    drops : array of int, shape (rows, columns)
        Number of the drop at each of its places, 0 where there is none.
    left_out : array of bool, shape (rows, columns)
        Where strokes and fibres are.
    """

    accepted: bool
    reason: str
    count: int | None
    drop_areas: FloatArray
    fling_area: float | None
    fling_area_uncertainty: float | None
    share: float | None
    smallest: float
    marks: int
    marks_area: float
    corners: FloatArray
    card: FloatArray
    point: float
    drops: NDArray[np.int64]
    left_out: NDArray[np.bool_]

    @property
    def diameters(self) -> FloatArray:
        """Diameters of circles as large as the drops, largest first [m]."""
        return diameters(self.drop_areas)

    def diameter_by_area(self, share: float) -> float | None:
        """Give the diameter up to which drops make a share of the covered area.

        Parameters
        ----------
        share : float
            Share from 0 to 1; 0.5 gives the area-weighted median.

        Returns
        -------
        float or None
            The diameter [m]; None without drops.
        """
        return diameter_by_area(self.drop_areas, share) if self.drop_areas.size else None


def read_fling_card(image: NDArray[np.generic], long_side: float, short_side: float) -> FlingReading:
    """Count and measure the drops on a card of known size.

    The card must lie whole in the picture, lighter than what is behind it, turned by less than 30 degrees; a
    slanted view is laid flat through its four corners. Uneven light and a soft shadow are allowed for, place
    by place. Thin strokes and fibres are left out and counted; specks and dots of a pen as large as drops
    count as drops. The uncertainty is that of the reading: that of the card's size, and what flew past it,
    are not in it.

    Parameters
    ----------
    image : array
        Photograph of the card.
    long_side, short_side : float
        Sides of the card [m].

    Returns
    -------
    FlingReading
        The drops, or why they can't be read.

    Raises
    ------
    ValueError
        If the sides are no lengths, or no card with four corners stands out.

    References
    ----------
    Own derivation, on textbook image processing; see the parts.

    Examples
    --------
    >>> picture = np.full((480, 680), 0.1)
    >>> picture[40:440, 40:640] = 0.9
    >>> y, x = np.mgrid[:480, :680]
    >>> picture[np.hypot(x - 340, y - 240) < 40] = 0.5
    >>> found = read_fling_card(picture, 0.15, 0.10)
    >>> found.count, round(float(found.diameters[0]) * 1e3)
    (1, 20)
    """
    if not long_side >= short_side > 0:
        raise ValueError(f"the card's sides must be lengths, longer first, not {long_side} and {short_side}")
    small, times = _shrunk(image)
    brightness = grey(small)
    outline = find_card(brightness, long_side / short_side)
    flat = lay_flat(brightness, outline.corners, (long_side, short_side), LONG_SIDE)
    point = long_side / LONG_SIDE
    card = FlatCard(flat, paper_brightness(flat, DARKER), point)
    rim = round(MARGIN * LONG_SIDE)
    stains = find_stains(card, rim)
    areas = np.sort(np.bincount(stains.drops.ravel())[1:].astype(float))[::-1] * point**2
    covered, marked = float(areas.sum()), float(stains.marks.sum()) * point**2
    uncertainty = _uncertainty(covered, stains, outline, point)
    reason = why_not(card, stains, outline, Covered(covered, uncertainty, marked))
    looked_at = (flat.shape[0] - 2 * rim) * (flat.shape[1] - 2 * rim) * point**2
    return FlingReading(
        accepted=not reason,
        reason=f"measure by hand: {reason}" if reason else "",
        count=None if reason else len(areas),
        drop_areas=np.zeros(0) if reason else areas,
        fling_area=None if reason else covered,
        fling_area_uncertainty=None if reason else uncertainty,
        share=None if reason else covered / looked_at,
        smallest=SMALLEST_DROP * point**2,
        marks=stains.marks_count,
        marks_area=marked,
        corners=(outline.corners + 0.5) * times - 0.5,
        card=flat,
        point=point,
        drops=stains.drops,
        left_out=stains.marks,
    )


def _shrunk(image: NDArray[np.generic]) -> tuple[NDArray[np.generic], int]:
    """Shrink a photograph of many points by means over blocks."""
    times = max(1, max(np.shape(image)[:2]) // LARGEST) if np.ndim(image) >= 2 else 1
    if times == 1:
        return image, 1
    rows, columns = (size // times for size in image.shape[:2])
    cut = image[: rows * times, : columns * times]
    blocks = cut.reshape(rows, times, columns, times, *image.shape[2:])
    white = np.float32(dtype_limits(image, clip_negative=True)[1])
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float32) / white), times


def _uncertainty(covered: float, stains: Stains, outline: CardOutline, point: float) -> float:
    """Give the standard uncertainty of the covered area [m²].

    The edges of drops lie evenly between those put further out and further in; each side of the card is the
    distance of two edges; pieces of strokes may count as drops.
    """
    edges = (stains.wider - stains.narrower) * point**2 / 12**0.5
    sides = outline.sides
    across, down = float(sides[0] + sides[2]) / 2, float(sides[1] + sides[3]) / 2
    corner = max(CORNER, outline.spread) * 2**0.5 * float(np.hypot(1 / across, 1 / down))
    marks = UNSURE_MARKS * float(stains.marks.sum()) * point**2
    return float(np.linalg.norm([edges, marks, covered * corner, covered * DRAWN]))

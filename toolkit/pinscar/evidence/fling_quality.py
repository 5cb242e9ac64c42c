"""Whether a reading of a fling card can be trusted, and in plain words why not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage.measure import label, regionprops

from pinscar.evidence.card_outline import CardOutline
from pinscar.evidence.fling_drops import Stains

FloatArray = NDArray[np.float64]
FEWEST_POINTS = 300
"""Least length of the card's longer side in the picture [points]."""
MOST_BLUR = 0.6e-3
"""Most blur, as the standard deviation of a bell [m]."""
PALEST = 0.14
"""Most share of its light that a place may have to lose to be seen [1]."""
MOST_COVERED = 0.5
"""Most of the card that may be covered: the rest tells how bright bare paper is."""
DARKEST = 0.35
"""Least brightness of the paper, over that of its brightest place."""
CLIPPED = 0.2
"""Most of the card that may be as white as the picture can be: pale drops are lost there."""
ALONG_RIM = 12e-3
"""Length along the rim from which on a stain there is taken for a finger or a shadow [m]."""
BAND, NARROW = 30e-3, 3.0
"""Length of a single drop that is none [m], if so many times longer than wide."""
FAINT, MOST_FAINT = 2.0, 0.3
"""Drops that lose less light than so many times what is seen at all are faint; most share of faint area."""
SOFTEST, FEW = 0.2, 20e-6
"""Most relative uncertainty of the covered area, and from which area on that counts [m²]."""
MOST_MARKS, SOME_MARKS = 0.5, 100e-6
"""Most area of strokes and fibres, over that of the drops, and what is allowed in any case [m²]."""


def why_not(
    card: FloatArray,
    paper: FloatArray,
    stains: Stains,
    outline: CardOutline,
    point: float,
    areas: tuple[float, float, float],
) -> str:
    """Say why a reading should not be trusted.

    Parameters
    ----------
    card, paper : array, shape (rows, columns)
        The card laid flat and the brightness of its paper, from 0 to 1.
    stains : Stains
        What was found on it.
    outline : CardOutline
        Where the card lies in the picture.
    point : float
        Size of a point of the flat card [m].
    areas : tuple of float
        Covered area, its standard uncertainty, and the area of marks [m²].

    Returns
    -------
    str
        The first reason; empty where there is none.

    References
    ----------
    Own definition; the limits were set on rendered cards other than those that test them.

    Examples
    --------
    >>> from pinscar.evidence.fling_drops import find_stains
    >>> flat = np.full((200, 300), 0.8)
    >>> outline = CardOutline(np.array([[0, 0], [150, 0], [150, 100], [0, 100.0]]), 0.1, 0.7)
    >>> why_not(flat, flat, find_stains(1 - flat / 0.8, flat, 5e-4, 3), outline, 5e-4, (0.0, 0.0, 0.0))
    'the card is only 150 points long in the picture: go nearer'
    """
    reasons = [
        *_picture(card, paper, outline, point),
        *_stains(stains, 1 - card / np.maximum(paper, 0.02), point, areas),
    ]
    return reasons[0] if reasons else ""


def _picture(card: FloatArray, paper: FloatArray, outline: CardOutline, point: float) -> Iterator[str]:
    longest = float(outline.sides.max())
    if longest < FEWEST_POINTS:
        yield f"the card is only {longest:.0f} points long in the picture: go nearer"
    blur = outline.blur * max(card.shape) / longest * point
    if blur > MOST_BLUR:
        yield f"the picture is blurred over {blur * 1e3:.1f} mm: hold the camera still and focus"
    if float((card > 0.995).mean()) > CLIPPED:
        yield "the paper is overexposed, so that pale drops are lost: expose it darker"
    if float(np.quantile(paper, 0.01)) < DARKEST * float(paper.max()):
        yield "the light on the card is too uneven, or a deep shadow lies on it"


def _stains(
    stains: Stains, lost: FloatArray, point: float, areas: tuple[float, float, float]
) -> Iterator[str]:
    covered, uncertainty, marks = areas
    if float(stains.seen.mean()) > MOST_COVERED:
        yield "more than half of the card is covered, so that no bare paper is left to compare with"
    if stains.limit > PALEST:
        yield "the picture is too grainy to see pale drops: give more light"
    length = _along_rim(stains.seen) * point
    if length > ALONG_RIM:
        yield (
            f"a dark place {length * 1e3:.0f} mm long lies at the card's edge: a finger, a shadow, or a pool "
            "of oil"
        )
    regions = regionprops(stains.drops, intensity_image=lost)
    longest = max((one for one in regions if _is_band(one, point)), key=lambda one: one.area, default=None)
    if longest is not None:
        millimetres = longest.axis_major_length * point * 1e3
        yield f"a dark band {millimetres:.0f} mm long lies on the card: the edge of a shadow?"
    faint = sum(float(one.area) for one in regions if one.intensity_mean < FAINT * stains.limit) * point**2
    if covered > FEW and faint > MOST_FAINT * covered:
        yield "many drops are hardly darker than the paper, so that others may be missed"
    if covered > FEW and uncertainty > SOFTEST * covered:
        yield "the drops are too pale or too soft at their edges for their area to be sure"
    if marks > max(MOST_MARKS * covered, SOME_MARKS):
        yield f"writing or fibres cover {marks * 1e6:.0f} mm², more than half of what the drops do"


def _is_band(one: Any, point: float) -> bool:
    long, short = float(one.axis_major_length), float(one.axis_minor_length)
    return long * point > BAND and long > NARROW * short


def _along_rim(seen: NDArray[np.bool_]) -> int:
    """Longest piece of the border of the part looked at that is dark [points]."""
    rows, columns = np.nonzero(seen)
    if not rows.size:
        return 0
    borders = (seen[rows.min()], seen[rows.max()], seen[:, columns.min()], seen[:, columns.max()])
    return max(int(np.bincount(label(line).ravel())[1:].max(initial=0)) for line in borders)

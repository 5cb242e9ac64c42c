"""Whether a reading of a fling card can be trusted, and in plain words why not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage.measure import label, regionprops

from pinscar.evidence.card_outline import CardOutline
from pinscar.evidence.flat_card import FlatCard
from pinscar.evidence.fling_drops import Stains

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
WHITE, CLIPPED = 0.995, 0.2
"""Brightness that is as good as the picture's whitest, and how much of the card may have it: pale drops are
lost there."""
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


@dataclass(frozen=True, slots=True)
class Covered:
    """What stains cover.

    Parameters
    ----------
    area, uncertainty : float
        What drops cover, and its standard uncertainty [m²].
    marks : float
        What strokes and fibres cover [m²].
    """

    area: float
    uncertainty: float
    marks: float


def why_not(card: FlatCard, stains: Stains, outline: CardOutline, covered: Covered) -> str:
    """Say why a reading should not be trusted.

    Parameters
    ----------
    card : FlatCard
        The card laid flat.
    stains : Stains
        What was found on it.
    outline : CardOutline
        Where the card lies in the picture.
    covered : Covered
        What they cover.

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
    >>> card = FlatCard(np.full((200, 300), 0.8), np.full((200, 300), 0.8), 5e-4)
    >>> outline = CardOutline(np.array([[0, 0], [150, 0], [150, 100], [0, 100.0]]), 0.1, 0.7)
    >>> why_not(card, find_stains(card, 3), outline, Covered(0.0, 0.0, 0.0))
    'the card is only 150 points long in the picture: go nearer'
    """
    return next(chain(_picture(card, outline), _stains(card, stains, covered)), "")


def _picture(card: FlatCard, outline: CardOutline) -> Iterator[str]:
    longest = float(outline.sides.max())
    if longest < FEWEST_POINTS:
        yield f"the card is only {longest:.0f} points long in the picture: go nearer"
    blur = outline.blur * max(card.brightness.shape) / longest * card.point
    if blur > MOST_BLUR:
        yield f"the picture is blurred over {blur * 1e3:.1f} mm: hold the camera still and focus"
    if float((card.brightness > WHITE).mean()) > CLIPPED:
        yield "the paper is overexposed, so that pale drops are lost: expose it darker"
    if float(np.quantile(card.paper, 0.01)) < DARKEST * float(card.paper.max()):
        yield "the light on the card is too uneven, or a deep shadow lies on it"


def _stains(card: FlatCard, stains: Stains, covered: Covered) -> Iterator[str]:
    point = card.point
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
    regions = regionprops(stains.drops, intensity_image=card.lost)
    longest = max((one for one in regions if _is_band(one, point)), key=lambda one: one.area, default=None)
    if longest is not None:
        millimetres = longest.axis_major_length * point * 1e3
        yield f"a dark band {millimetres:.0f} mm long lies on the card: the edge of a shadow?"
    faint = sum(float(one.area) for one in regions if one.intensity_mean < FAINT * stains.limit) * point**2
    if covered.area > FEW and faint > MOST_FAINT * covered.area:
        yield "many drops are hardly darker than the paper, so that others may be missed"
    if covered.area > FEW and covered.uncertainty > SOFTEST * covered.area:
        yield "the drops are too pale or too soft at their edges for their area to be sure"
    if covered.marks > max(MOST_MARKS * covered.area, SOME_MARKS):
        yield f"writing or fibres cover {covered.marks * 1e6:.0f} mm², more than half of what the drops do"


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

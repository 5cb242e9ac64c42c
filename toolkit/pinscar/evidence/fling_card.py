"""Drops of oil on the paper card behind the ring: how many, how large, how much of the card they cover.

Each reading says whether it can be trusted, or why not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage.measure import label, regionprops
from skimage.util import dtype_limits

from pinscar.evidence.card_outline import CardOutline, FlatCard, find_card, lay_flat, on_straight_edges
from pinscar.evidence.fling_drops import DARKER, SMALLEST_DROP, Stains, find_stains, paper_brightness
from pinscar.evidence.grey import grey
from pinscar.evidence.tone_curve import SHARPEST_TOLD, light_of_tones, tone_of
from pinscar.shown import to_shown

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
WHITE, CLIPPED = 0.99, 0.2
"""Brightness that is as good as the picture's whitest, and how much of the card may have it: pale drops are
lost there."""
ALONG_RIM = 12e-3
"""Length along the rim from which on a stain there is taken for a finger or a shadow [m]."""
BAND, NARROW = 30e-3, 3.0
"""Length of a single drop that is none [m], if so many times longer than wide."""
FAINT, MOST_FAINT = 2.0, 0.3
"""Drops that lose less light than so many times what is seen at all are faint; most share of faint area."""
MOST_PALE, SOME_PALE = 0.1, 1.5e-6
"""Most area of pale places that aren't measured, over that of the drops, and what is allowed anyway [m²]."""
MOST_DRAWN, SOME_DRAWN = 0.3, 2e-6
"""Most area of drops that may be short strokes, over that of all, and what is allowed anyway [m²]."""
SOFTEST, FEW = 0.2, 2e-6
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
        yield f"the picture is blurred over {to_shown(blur, 'mm'):.1f} mm: hold the camera still and focus"
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
            f"a dark place {to_shown(length, 'mm'):.0f} mm long lies at the card's edge: "
            "a finger, a shadow, or a pool of oil"
        )
    regions = regionprops(stains.drops, intensity_image=card.lost)
    longest = max((one for one in regions if _is_band(one, point)), key=lambda one: one.area, default=None)
    if longest is not None:
        millimetres = longest.axis_major_length * to_shown(point, "mm")
        yield f"a dark band {millimetres:.0f} mm long lies on the card: the edge of a shadow?"
    faint = sum(float(one.area) for one in regions if one.intensity_mean < FAINT * stains.limit) * point**2
    if covered.area > FEW and faint > MOST_FAINT * covered.area:
        yield "many drops are hardly darker than the paper, so that others may be missed"
    pale = stains.pale * point**2
    if pale > max(MOST_PALE * covered.area, SOME_PALE):
        yield (
            f"places of {to_shown(pale, 'mm²'):.0f} mm² in all are a little darker than the paper, "
            "too little to be measured: pale drops, or a shadow"
        )
    drawn = stains.drawn * point**2
    if drawn > max(MOST_DRAWN * covered.area, SOME_DRAWN):
        yield (
            f"thin, drawn-out stains of {to_shown(drawn, 'mm²'):.0f} mm² in all may be strokes of a pen: "
            "write on the back of the card"
        )
    if covered.area > FEW and covered.uncertainty > SOFTEST * covered.area:
        yield "the drops are too pale or too soft at their edges for their area to be sure"
    if covered.marks > max(MOST_MARKS * covered.area, SOME_MARKS):
        marks = to_shown(covered.marks, "mm²")
        yield f"writing or fibres cover {marks:.0f} mm², more than half of what the drops do"


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


FloatArray = NDArray[np.float64]
CLASSES = (0.0, 0.5e-3, 1e-3, 2e-3, 4e-3, np.inf)
"""Ends of the classes of diameter [m]."""


@dataclass(frozen=True, slots=True)
class SizeClass:
    """Drops of about one size.

    Parameters
    ----------
    low, high : float
        Diameters from and up to [m].
    count : int
        How many.
    area : float
        What they cover [m²].
    """

    low: float
    high: float
    count: int
    area: float


def diameters(areas: FloatArray) -> FloatArray:
    """Give the diameters of circles as large as the drops.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].

    Returns
    -------
    array, shape (n,)
        Diameters [m].

    References
    ----------
    Definition.

    Examples
    --------
    >>> diameters(np.array([np.pi])).round(6).tolist()
    [2.0]
    """
    return np.asarray(np.sqrt(4 * np.asarray(areas, dtype=float) / np.pi), dtype=np.float64)


def diameter_by_area(areas: FloatArray, share: float) -> float:
    """Give the diameter up to which drops make a share of the covered area.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].
    share : float
        Share from 0 to 1 [-]; 0.5 gives the area-weighted median.

    Returns
    -------
    float
        Diameter of the first drop, smallest first, with which the share is reached [m]; NaN without drops.

    References
    ----------
    Definition of a weighted quantile without interpolation.

    Examples
    --------
    >>> three = np.pi / 4 * np.array([1.0, 4.0, 9.0])
    >>> [round(diameter_by_area(three, share), 6) for share in (0.05, 0.3, 0.5)]
    [1.0, 2.0, 3.0]
    """
    ordered = np.sort(np.asarray(areas, dtype=float))
    if not ordered.size:
        return float("nan")
    reached = np.cumsum(ordered) / ordered.sum()
    return float(diameters(ordered)[min(int(np.searchsorted(reached, share - 1e-12)), ordered.size - 1)])


def size_classes(areas: FloatArray) -> tuple[SizeClass, ...]:
    """Count the drops in classes of diameter.

    Parameters
    ----------
    areas : array, shape (n,)
        Areas [m²].

    Returns
    -------
    tuple of SizeClass
        One a class, from small to large, also where none is in it.

    References
    ----------
    Own choice of classes.

    Examples
    --------
    >>> [one.count for one in size_classes(np.pi / 4 * np.array([0.3e-3, 1.5e-3, 1.7e-3]) ** 2)]
    [1, 0, 2, 0, 0]
    """
    sizes, found = diameters(areas), []
    for low, high in pairwise(CLASSES):
        here = (sizes >= low) & (sizes < high)
        found.append(SizeClass(low, high, int(here.sum()), float(np.asarray(areas, dtype=float)[here].sum())))
    return tuple(found)


LONG_SIDE = 1200
"""Points along the longer side of the card once it is laid flat."""
LARGEST = 2000
"""A larger picture is shrunk first, to no less than this along its longer side [points]."""
MARGIN = 0.01
"""Rim of the card that isn't looked at, as a share of its longer side: cut edges cast shadows."""
CORNER = 0.5
"""Least standard uncertainty of where an edge of the card lies [points of the picture]."""
UNSURE_HALO = 0.5
"""Standard uncertainty of what is taken away as the work of a halo, as a share of it: set on rendered
cards."""
UNSURE_MARKS = 0.1
"""Standard uncertainty of the covered area from strokes and fibres, as a share of what they cover."""
HALF, HALF_UNTOLD = 0.6, 1.2
"""How far half of the loss of light may lie from 0.5, over how far the two lines apart from the reading's do
(`EDGES`): cameras bend tones by curves of their own, and without a clear edge of the card, the picture may
hold light itself, whose half lies at 0.44 of what tones of it would be."""
DRAWN = 0.02
"""Relative uncertainty of the covered area that no closer look takes away: how the light falls on an edge.
It was set on rendered cards."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
            Share from 0 to 1 [-]; 0.5 gives the area-weighted median.

        Returns
        -------
        float or None
            The diameter [m]; None without drops.

        References
        ----------
        Area-weighted quantile of the drop diameters, as `pinscar.evidence.fling_card.diameter_by_area`.

        Examples
        --------
        >>> nothing = np.zeros((1, 1))
        >>> reading = FlingReading(
        ...     accepted=True,
        ...     reason="",
        ...     count=2,
        ...     drop_areas=np.array([3e-6, 1e-6]),
        ...     fling_area=4e-6,
        ...     fling_area_uncertainty=0.0,
        ...     share=0.1,
        ...     smallest=1e-8,
        ...     marks=0,
        ...     marks_area=0.0,
        ...     corners=np.zeros((4, 2)),
        ...     card=nothing,
        ...     point=1e-5,
        ...     drops=nothing.astype(int),
        ...     left_out=nothing > 0,
        ... )
        >>> f"{reading.diameter_by_area(0.5) * 1e3:.2f} mm"
        '1.95 mm'
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
        Photograph of the card [grey or colour values].
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
    tone = tone_of(brightness, outline)
    point, rim, sides = long_side / LONG_SIDE, round(MARGIN * LONG_SIDE), (long_side, short_side)
    as_light = None
    if tone.bent:
        if outline.blur < SHARPEST_TOLD:
            as_light = _laid_out(brightness, outline, sides)[1]
        brightness = light_of_tones(brightness)
        outline = on_straight_edges(brightness, outline.corners)
    card, stains = _laid_out(brightness, outline, sides)
    flat = card.brightness
    areas = np.sort(stains.areas)[::-1] * point**2
    covered, marked = float(areas.sum()), float(stains.marks.sum()) * point**2
    uncertainty = _uncertainty(covered, stains, outline, point, tone.sure)
    if as_light is not None:
        # A sharp picture does not tell tones from light: the area is one of two, each as likely.
        apart = covered - float(as_light.areas.sum()) * point**2
        uncertainty = float(np.hypot(uncertainty, apart / 2**0.5))
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


def _laid_out(
    brightness: FloatArray, outline: CardOutline, sides: tuple[float, float]
) -> tuple[FlatCard, Stains]:
    """Lay the card flat, and find the stains on it."""
    flat = lay_flat(brightness, outline.corners, sides, LONG_SIDE)
    card = FlatCard(flat, paper_brightness(flat, DARKER), sides[0] / LONG_SIDE)
    blur = outline.blur * LONG_SIDE / float(outline.sides.max())
    return card, find_stains(card, round(MARGIN * LONG_SIDE), blur)


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


def _uncertainty(covered: float, stains: Stains, outline: CardOutline, point: float, told: bool) -> float:
    """Give the standard uncertainty of the covered area [m²].

    The edges of drops lie evenly between those put further out and further in; soft edges of the drops' own
    have drawn the line of half darkness in, or not; halo and soft edge are told apart roughly; pale places
    may all be oil; each side of the card is the distance of two edges; pieces of strokes may count as drops,
    and what looks like letters may be none.
    """
    edges = (HALF if told else HALF_UNTOLD) * (stains.wider - stains.narrower) * point**2 / 12**0.5
    softness = stains.softness * point**2 / 12**0.5
    pale = stains.pale * point**2 / 3**0.5
    sides = outline.sides
    across, down = float(sides[0] + sides[2]) / 2, float(sides[1] + sides[3]) / 2
    corner = max(CORNER, outline.spread) * 2**0.5 * float(np.hypot(1 / across, 1 / down))
    marks = UNSURE_MARKS * float(stains.marks.sum()) * point**2
    halo = UNSURE_HALO * stains.halo * point**2
    apart = stains.apart * point**2 / 12**0.5
    small = stains.unsure * point**2
    letters = stains.doubtful * point**2 / 3**0.5
    return float(
        np.linalg.norm(
            [edges, softness, halo, apart, small, pale, marks, letters, covered * corner, covered * DRAWN]
        )
    )

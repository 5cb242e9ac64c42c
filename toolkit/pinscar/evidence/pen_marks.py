"""Strokes of a pen and fibres on a card: thin and long, as no drop is, and what belongs to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from skimage.morphology import skeletonize

FEWEST = 54
"""Fewest points of a stroke."""
THIN, DRAWN_OUT = 1.5e-3, 6.0
"""Most width of a stroke or fibre [m], and how many times longer than wide it is at least."""
EVEN, STRAIGHT, SHORT, BENT = 1.4, 4.5, 2.4, 0.85
"""Of a short stroke: most width over that of its middle; least length over width, of a straight and of a bent
one; most share of its convex outline that a bent one fills."""
WRITING = 3
"""Fewest strokes that are writing: beside a fibre or two, specks are oil."""
BESIDE = 7.0e-3
"""How far from a stroke its dots and short strokes are [m]: a letter further."""
AS_DARK, AS_WIDE = (0.75, 1.3), (0.5, 1.8)
"""Darkness and width of such a piece, over those of the stroke."""
LONGISH = 0.8
"""Least length of a stain's spine over its width, from which on it is longer than a drop mostly is."""
FEWEST_LONG, ENOUGH = 3, 5
"""Fewest such stains beside one another that look like letters, and how much must speak for a pen: each of
them once, once more where it may be a stroke, twice more where it surely is one."""
ONE_INK = 0.1
"""Most that the darkness of so many stains may differ, over its median, where they are of one pen whatever
their shape."""
INKY, FEWEST_DROPS = 1.2, 5
"""Least darkness of letters over that of nine tenths of the card's drops, and how many drops tell that."""


def _body(one: Any) -> tuple[NDArray[np.bool_], float]:
    """Half-dark part of a stain, and how much light it loses inside."""
    lost = np.asarray(one.image_intensity)
    dark = float(np.quantile(lost[one.image], 0.9))
    return np.asarray(one.image & (lost > 0.5 * dark), dtype=np.bool_), dark


def _width(body: NDArray[np.bool_]) -> float:
    return 2.0 * float(distance_transform_edt(np.pad(body, 1)).max())


def is_mark(one: Any, point: float) -> bool:
    """Tell whether a stain is thin and long, as no drop is.

    Parameters
    ----------
    one : RegionProperties
        The stain, with its loss of light [1].
    point : float
        Size of a point [m].

    Returns
    -------
    bool
        Whether it is.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from skimage.measure import label, regionprops
    >>> card = np.zeros((40, 80))
    >>> card[20:24, 5:75] = 0.6
    >>> [one] = regionprops(label(card > 0), intensity_image=card)
    >>> is_mark(one, 1e-4)
    True
    """
    body, _ = _body(one)
    if not _width(body) * point < THIN or body.sum() < FEWEST:
        return False
    spine = skeletonize(body)
    length = int(spine.sum())
    if length > DRAWN_OUT * body.sum() / max(length, 1):
        return True
    # A short stroke is as wide all along: drops that run together have narrow necks.
    half = distance_transform_edt(np.pad(body, 1))[1:-1, 1:-1]
    even = float(half.max()) < EVEN * float(np.median(half[spine]))
    drawn_out = length / (2.0 * float(half.max()))
    return even and (drawn_out > STRAIGHT or (drawn_out > SHORT and float(one.solidity) < BENT))


def may_be_drawn(one: Any, point: float) -> bool:
    """Tell whether a stain that is no sure mark may be one all the same: thin, and longer than wide.

    Parameters
    ----------
    one : RegionProperties
        The stain, with its loss of light [1].
    point : float
        Size of a point [m].

    Returns
    -------
    bool
        Whether it is.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from skimage.measure import label, regionprops
    >>> card = np.zeros((40, 80))
    >>> card[20:24, 5:75] = 0.6
    >>> [one] = regionprops(label(card > 0), intensity_image=card)
    >>> may_be_drawn(one, 1e-4)
    True
    """
    body, _ = _body(one)
    wide = _width(body)
    if (
        not wide * point < THIN
        or body.sum() < FEWEST / 2
        or one.axis_major_length < 1.6 * one.axis_minor_length
    ):
        return False
    return bool(skeletonize(body).sum() > 1.5 * wide)


def of_the_same_pen(strokes: list[Any], others: list[Any], point: float) -> list[Any]:
    """Find stains beside strokes that are as dark and as thin: dots, and strokes too short to tell.

    Each piece that is found may have others beside it again; a fibre or two has none. Specks of oil that
    happen to look so are taken along; the area of marks is in the uncertainty.

    Parameters
    ----------
    strokes, others : list of RegionProperties
        Strokes, and stains that are none by themselves, with their loss of light [1].
    point : float
        Size of a point [m].

    Returns
    -------
    list of RegionProperties
        Those of the others that belong to the strokes.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from skimage.measure import label, regionprops
    >>> card = np.zeros((40, 80))
    >>> card[20:24, 5:75] = 0.6
    >>> [one] = regionprops(label(card > 0), intensity_image=card)
    >>> of_the_same_pen([one], [], 1e-4)
    []
    """
    if len(strokes) < WRITING:
        return []
    pen = [(one, *_looks(one)) for one in strokes]
    rest = [(one, *_looks(one)) for one in others]
    rest = [entry for entry in rest if entry[2] * point < 1.3 * THIN]
    found: list[Any] = []
    front = pen
    while front and rest:
        near = [entry for entry in rest if any(_alike(entry, mark, point) for mark in front)]
        found += [entry[0] for entry in near]
        taken = {entry[0].label for entry in near}
        rest = [entry for entry in rest if entry[0].label not in taken]
        front = near
    return found


@dataclass(frozen=True, slots=True)
class Letters:
    """Stains that look like letters beside one another.

    Parameters
    ----------
    sure : list of RegionProperties
        Those of groups that are darker than the card's drops: ink.
    doubtful : list of RegionProperties
        Those of groups that may as well be drops.
    """

    sure: list[Any]
    doubtful: list[Any]


def letters(strokes: list[Any], others: list[Any], point: float) -> Letters:
    """Find short pieces of writing among stains that are no strokes by themselves.

    A pen leaves pieces of one width and one darkness beside one another, and most are longer than wide; drops
    differ in all three. Oil lets light through the paper, ink takes it away: such pieces are ink where they
    are darker than the card's drops. Where no drops tell, they stay in doubt.

    Parameters
    ----------
    strokes, others : list of RegionProperties
        Strokes, and stains that are none, with their loss of light [1].
    point : float
        Size of a point [m].

    Returns
    -------
    Letters
        Those of the others that are letters, or may be.

    References
    ----------
    Own definition; the limits were set on rendered cards.

    Examples
    --------
    >>> from skimage.measure import label, regionprops
    >>> card = np.zeros((40, 80))
    >>> for column in (10, 30, 50):
    ...     card[10:30, column : column + 8] = 0.6
    >>> found = letters([], regionprops(label(card > 0), intensity_image=card), 1e-4)
    >>> len(found.sure), len(found.doubtful)
    (0, 3)
    """
    pen = [(one, *_looks(one)) for one in strokes]
    rest = [(one, *_looks(one)) for one in others]
    thin = [entry for entry in rest if entry[2] * point < 1.3 * THIN]
    long = {entry[0].label for entry in thin if _is_long(*entry)} | {one.label for one in strokes}
    marks = {one.label for one in strokes}
    drawn = {entry[0].label for entry in thin if entry[0].label in long and may_be_drawn(entry[0], point)}
    darkness = {one.label: dark for one, dark, _ in pen + thin}
    groups = [
        group
        for group in _groups(pen + thin, long, point)
        if len(group & long) >= FEWEST_LONG
        and (
            len(group & long) + len(group & drawn) + 2 * len(group & marks) >= ENOUGH
            or (len(group) >= ENOUGH and _of_one_ink([darkness[number] for number in group]))
        )
    ]
    grouped = {number for group in groups for number in group}
    oil = [dark for one, dark, _ in rest if one.label not in grouped]
    found = Letters([], [])
    for group in groups:
        members = [entry for entry in thin if entry[0].label in group]
        ink = float(np.median([dark for one, dark, _ in pen + thin if one.label in group]))
        sure = len(oil) >= FEWEST_DROPS and ink > INKY * float(np.quantile(oil, 0.9))
        (found.sure if sure else found.doubtful).extend(entry[0] for entry in members)
    return found


def _of_one_ink(darkness: list[float]) -> bool:
    return float(np.ptp(darkness)) < ONE_INK * float(np.median(darkness))


def _is_long(one: Any, _: float, width: float) -> bool:
    body, _ = _body(one)
    return bool(skeletonize(body).sum() > LONGISH * width)


def _groups(entries: list[tuple[Any, float, float]], long: set[int], point: float) -> list[set[int]]:
    """Group stains that look alike and lie beside one another, from one that is long to the next."""
    free = {entry[0].label: entry for entry in entries}
    groups: list[set[int]] = []
    for first in entries:
        if first[0].label not in free or first[0].label not in long:
            continue
        front, group = [free.pop(first[0].label)], {first[0].label}
        while front:
            mark = front.pop()
            near = [entry for entry in free.values() if _alike(entry, mark, point)]
            for entry in near:
                del free[entry[0].label]
                group.add(entry[0].label)
            front += [entry for entry in near if entry[0].label in long]
        groups.append(group)
    return groups


def _looks(one: Any) -> tuple[float, float]:
    body, dark = _body(one)
    return dark, _width(body)


def _alike(entry: tuple[Any, float, float], mark: tuple[Any, float, float], point: float) -> bool:
    one, dark, width = entry
    stroke, ink, wide = mark
    gaps = [
        max(one.bbox[side] - stroke.bbox[side + 2], stroke.bbox[side] - one.bbox[side + 2], 0)
        for side in (0, 1)
    ]
    near = float(np.hypot(*gaps)) * point < BESIDE
    return near and AS_DARK[0] < dark / ink < AS_DARK[1] and AS_WIDE[0] < width / wide < AS_WIDE[1]

"""Strokes of a pen and fibres on a card: thin and long, as no drop is, and what belongs to them."""

from __future__ import annotations

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

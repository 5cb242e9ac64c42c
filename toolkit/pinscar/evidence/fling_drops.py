"""Stains on a card laid flat: which are drops, and where each one ends."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import (
    binary_dilation,
    binary_fill_holes,
    distance_transform_edt,
    gaussian_filter,
    maximum_filter,
    percentile_filter,
    zoom,
)
from scipy.special import chndtr
from skimage.measure import label, regionprops
from skimage.morphology import disk, local_maxima, reconstruction
from skimage.segmentation import watershed
from skimage.transform import downscale_local_mean

from pinscar.evidence.card_outline import DARK, FlatCard
from pinscar.evidence.drop_halo import DropEdge, edges_of_drops, shifts
from pinscar.evidence.pen_marks import is_mark, letters, may_be_drawn, of_the_same_pen
from pinscar.evidence.recorder import robust_sd
from pinscar.evidence.small_drops import outlines, softness

FloatArray = NDArray[np.float64]
LEAST, MOST, PARTS = 0.6, 8.0, 75
"""Radii over blur that are computed; beyond, the first term of the series is enough."""


def true_areas(areas: ArrayLike, blur: float) -> FloatArray:
    r"""Give the areas of discs from what lies within the line of half their darkness in a blurred picture.

    A disc of radius R, blurred by a bell of standard deviation s, has the darkness
    :math:`P(R^2/s^2; 2, r^2/s^2)` at the radius r, P being the distribution of the noncentral chi-square with
    two degrees of freedom. The radius where that is half of its middle is inverted. Where R is much more
    than s, the area lacks :math:`\pi s^2`, whatever the outline: the line moves in by half of s² times the
    curvature, and the curvature adds up to 2 pi around any piece without holes.

    Parameters
    ----------
    areas : array_like, shape (n,)
        Areas within the line of half darkness [any unit].
    blur : float
        Standard deviation of the blur [root of that unit].

    Returns
    -------
    array, shape (n,)
        Areas of the discs [same unit]. Below 0.6 blurs of radius all discs look alike, and that is taken.

    References
    ----------
    Noncentral chi-square as the mass of a two-dimensional bell within a circle: textbook. The sum of the
    curvature: theorem of turning tangents.

    Examples
    --------
    >>> true_areas([100.0, 10000.0], 2.0).round(1).tolist()
    [111.8, 10012.6]
    >>> true_areas([100.0], 0.0).tolist()
    [100.0]
    """
    seen = np.asarray(areas, dtype=np.float64)
    if blur <= 0.0:
        return seen.copy()
    radii, half = _half_dark()
    told = np.sqrt(seen / np.pi) / blur
    small = np.pi * (blur * np.interp(told, half, radii)) ** 2
    return np.asarray(np.where(told > half[-1], seen + np.pi * blur**2, small), dtype=np.float64)


@cache  # the same for every stain of every card
def _half_dark() -> tuple[FloatArray, FloatArray]:
    """Radii of discs and where their darkness is half of that in the middle, both over the blur."""
    radii = np.linspace(LEAST, MOST, PARTS)
    away = np.linspace(0.0, MOST + 1.0, 901)
    dark = chndtr(radii[:, None] ** 2, 2.0, away**2)
    half = [np.interp(0.5 * row[0], row[::-1], away[::-1]) for row in dark]
    return radii, np.array(half, dtype=np.float64)


LabelArray = NDArray[np.int64]
DARKER = 0.06
"""Least share of its light that paper loses under a drop."""
CERTAIN = 4.5
"""Least loss of light of a drop, over the noise."""
SMALLEST_DROP = 9
"""Least size of a drop [points]."""
EDGES = (0.45, 0.5, 0.55)
"""Where a drop ends, in shares of how dark it is inside: the reading's, and one on each side."""
LEAST_LEFT = 0.3
"""Least share of a drop that is left once its halo is taken away."""
FEW_POINTS = 80
"""Drops of fewer points are measured between them."""
TINY, UNSURE_TINY = 1.6, 0.15
"""Radius of a drop over its softness below which its outline hardly tells its size, and what that leaves
unsure of its area, as a standard deviation: set on rendered cards."""
SMALL = 2.2
"""Radius of a drop in blurs below which it is blurred all through, so that its own edge is not seen."""
RIM = 1.0e-3
"""How far the edge of a drop may reach: halo and blur [m]."""
SMOOTHED = 1.0
"""Standard deviation of the bell that the card is smoothed by before it is looked at [points]."""
NECK = 0.8
"""Two drops run together where the neck is narrower than this share of the narrower one."""
PALE_WIDE, PALE_CERTAIN, PALEST_SEEN = 0.5e-3, 5.0, 0.012
"""Pale places are sought after smoothing by so much [m]; their least loss of light, over the noise that is
left then, and in any case [1]."""
HALOED, HALO_REACH = (2.0, 1.25), (2.0e-3, 0.6e-3)
"""Loss of light of a stain, over the least that is seen, from which on pale places so near to it [m] are its
halo."""
WHOLE = 1.5
"""Loss of light of a stain, over the least that is seen, from which on its shape is whole: of a paler drop
only shreds may be seen, which look like strokes."""
SMALLEST_PALE = 0.4e-6
"""Least pale place that counts [m²]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stains:
    """What is darker than the paper.

    Parameters
    ----------
    drops : array of int, shape (rows, columns)
        Number of the drop at each place, 0 where there is none.
    marks_count : int
        Strokes of a pen and fibres.
    marks : array of bool, shape (rows, columns)
        Where they are: they are no drops.
    seen : array of bool, shape (rows, columns)
        All that is darker than the paper.
    areas : array of float, shape (drops,)
        Their areas, what blur took from them put back [points].
    wider, narrower : float
        Covered places with the edges put further out and further in [points].
    softness : float
        What the drops' own soft edges may have taken, beyond the blur of the picture; half of it is put back
        [points].
    halo : float
        What was taken away as the work of a halo [points].
    unsure : float
        Standard uncertainty of the area of small drops from how soft their edges are [points].
    apart : float
        By how much the area is less if what blurs the edges is rather a halo than soft oil; half of it was
        taken [points].
    pale : float
        Places that are a little darker than the paper, too little to be measured [points].
    drawn : float
        What thin and drawn-out drops cover, which may as well be short strokes [points].
    doubtful : float
        What stains cover that look like letters beside one another and count as drops [points].
    limit : float
        Share of light that a place must lose to be seen, in nine tenths of the card or more [1].
    """

    drops: LabelArray
    marks_count: int
    marks: NDArray[np.bool_]
    seen: NDArray[np.bool_]
    areas: FloatArray
    wider: float
    narrower: float
    softness: float
    halo: float
    unsure: float
    apart: float
    pale: float
    drawn: float
    doubtful: float
    limit: float


def find_stains(card: FlatCard, rim: int, blur: float = 0.0) -> Stains:
    """Find the stains on a card.

    A drop ends where the darkening falls to half of that just inside. Blur smears a pale halo over that line;
    how much is told by the edges of all drops (`drop_halo`), and taken away. Blur draws that line inwards on
    a round edge, by the square of its width over twice the radius; each drop gets that back (`true_areas`).
    Oil that has soaked out of a sharp outline has drawn the line in likewise, oil that ends softly by itself
    has not; which it was isn't seen, and each drop gets half of that back. Drops that run together are parted
    at narrow necks; their area is the same in any case. Short strokes beside longer ones, as dark and as thin
    as those, belong to the same writing.

    Parameters
    ----------
    card : FlatCard
        The card with its paper.
    rim : int
        Width of the rim that isn't looked at [points].
    blur : float
        Blur of the card as laid flat, as the standard deviation of a bell [points].

    Returns
    -------
    Stains
        Drops and marks.

    References
    ----------
    Watershed: scikit-image; where a drop ends, and what is a mark: own.

    Examples
    --------
    >>> y, x = np.mgrid[:100, :160]
    >>> stained = (np.hypot(x - 50, y - 50) < 12) | (np.hypot(x - 72, y - 50) < 12)
    >>> card = FlatCard(np.where(stained, 0.5, 0.8), np.full(stained.shape, 0.8), 2e-4)
    >>> int(find_stains(card, 2).drops.max())
    2
    """
    lost = card.lost
    smooth = gaussian_filter(lost, SMOOTHED)
    light = smooth * card.paper
    # Stains only darken. What is lighter than the paper is noise, and it tells the noise level.
    noise = robust_sd(light[light < 0]) if (light < 0).any() else 0.0
    limit = np.maximum(DARKER, CERTAIN * noise / np.maximum(card.paper, DARK))
    rows, columns = lost.shape
    inner = np.zeros((rows, columns), dtype=bool)
    inner[rim : rows - rim, rim : columns - rim] = True
    seen = (smooth > limit) & inner
    regions = [one for one in regionprops(label(seen), intensity_image=smooth) if one.area >= SMALLEST_DROP]
    strokes = [one for one in regions if _stands_out(one, limit, WHOLE) and is_mark(one, card.point)]
    left = {one.label for one in strokes}
    strokes += of_the_same_pen(strokes, [one for one in regions if one.label not in left], card.point)
    left = {one.label for one in strokes}
    writing = letters(strokes, [one for one in regions if one.label not in left], card.point)
    strokes += writing.sure
    left = {one.label for one in strokes}
    doubtful = {one.label for one in writing.doubtful}
    marks = np.zeros(seen.shape, dtype=bool)
    for one in strokes:
        marks[tuple(one.slice)] |= one.image
    width = float(np.hypot(blur, SMOOTHED))
    clear = [one for one in regions if one.label not in left and _stands_out(one, limit, HALOED[0])]
    edges = edges_of_drops(smooth, clear, seen, width, card.point)
    drops, found = np.zeros(seen.shape, dtype=np.int64), _Sums(width)
    for one in regions:
        if one.label not in left:
            _add_drops(drops, found, one, smooth, max(3, round(RIM / card.point)))
    unsure = found.soften_small(card.point)
    ends = [_Ends.of(np.array(found.areas), np.array(found.around), edge, found.softness) for edge in edges]
    areas = np.mean([one.areas for one in ends], axis=0)
    return Stains(
        drops=drops,
        marks_count=len(strokes),
        marks=marks,
        seen=seen,
        areas=areas,
        halo=float(np.mean([one.halo for one in ends])),
        apart=float(np.ptp([one.areas.sum() for one in ends])),
        unsure=unsure,
        wider=found.wider,
        narrower=found.narrower,
        softness=float(np.mean([one.softness for one in ends])),
        pale=_pale(card, lost, _haloed(card.point, marks, regions, limit), inner),
        drawn=sum(
            one.area
            for one in regions
            if one.label not in left and (one.label in doubtful or may_be_drawn(one, card.point))
        ),
        doubtful=sum(float(one.area) for one in writing.doubtful),
        limit=float(np.quantile(limit, 0.9)),
    )


@dataclass(frozen=True, slots=True)
class _Ends:
    """Areas of drops with their edges as one fit has them, and what of it is halo and softness [points]."""

    areas: FloatArray
    halo: float
    softness: float

    @classmethod
    def of(cls, told: FloatArray, around: FloatArray, edge: DropEdge, softness: float) -> _Ends:
        """Take away a halo, and put back half of what soft edges may have taken."""
        sharp = _without_halo(told, around, edge)
        if edge.drops:
            softness = np.pi * edge.softness**2 * len(told)
        return cls(sharp + 0.5 * softness / max(len(told), 1), float(told.sum() - sharp.sum()), softness)


class _Sums:
    """What is summed up over the drops [points]."""

    def __init__(self, blur: float) -> None:
        self.blur = blur
        self.areas: list[float] = []
        self.small: dict[int, FloatArray] = {}
        self.around: list[float] = []
        self.wider = self.narrower = self.softness = 0.0

    def soften_small(self, point: float) -> float:
        """Measure the small drops by the softness that all of them tell; give what that leaves unsure."""
        if not self.small:
            return 0.0
        lines = np.array(list(self.small.values()))
        soft = softness(lines, self.blur, point)
        middle, least, most = (true_areas(lines[:, 1], one) for one in soft)
        for number, area in zip(self.small, middle, strict=True):
            self.areas[number] = float(area)
        tiny = middle < np.pi * (TINY * soft[0]) ** 2
        return float(np.hypot(0.25 * (least - most).sum(), UNSURE_TINY * middle[tiny].sum()))


def _add_drops(drops: LabelArray, found: _Sums, one: Any, smooth: FloatArray, reach: int) -> None:
    """Give numbers to the drops of one stain, and add up what they cover."""
    inside = distance_transform_edt(np.pad(one.image, 1))[1:-1, 1:-1]
    parts = regionprops(_parted(one.image, inside))
    for part in parts:
        here = tuple(slice(*_moved(outer, own)) for outer, own in zip(one.slice, part.slice, strict=True))
        wide, body, narrow = _bodies(smooth[here], part.image, inside[tuple(part.slice)], reach)
        pieces = sorted(regionprops(label(body)), key=lambda each: -each.area)
        # A sharp, small drop is seen on more points than are within its line of half darkness.
        bodies = [each for each in pieces if each.area >= SMALLEST_DROP] or pieces[:1]
        if not bodies:
            continue
        whole = np.array([float(each.area) for each in bodies])
        if len(bodies) == len(parts) == 1 and whole[0] < FEW_POINTS:
            lines = outlines(smooth[here], part.image)
            whole[0] = lines[1]
            if lines[1] < np.pi * (SMALL * found.blur) ** 2:
                found.small[len(found.areas)] = lines
        # What blur takes from a stain is the same, whatever its outline; parts of one stain share it.
        given = (true_areas(whole, found.blur) - whole) / len(parts)
        around = sum(float(each.perimeter) for each in bodies)
        # Between 0.435 and 0.535 of a bell-shaped edge lie 0.2515 standard deviations.
        edge = (float(wide.sum()) - float(narrow.sum())) / (0.2515 * max(around, 1.0))
        found.wider += float(wide.sum())
        found.narrower += float(narrow.sum())
        found.softness += np.pi * max(edge**2 - found.blur**2, 0.0) * len(bodies) / len(parts)
        for each, size, more in zip(bodies, whole, given, strict=True):
            found.areas.append(float(size + more))
            found.around.append(float(each.perimeter))
            drops[here][tuple(each.slice)][each.image] = len(found.areas)


def _without_halo(areas: FloatArray, around: FloatArray, edge: DropEdge) -> FloatArray:
    """Take away what a halo adds in a blurred picture, over what it would add in a sharp one."""
    moved = np.maximum(shifts(np.sqrt(areas / np.pi), edge) - edge.half_line, 0.0)
    # The line moves in all around: a drop's area loses its outline times that, less a disc of that radius.
    less = around * moved - np.minimum(np.pi * moved**2, 0.5 * areas)
    return np.asarray(np.maximum(areas - less, LEAST_LEFT * areas))


def _stands_out(one: Any, limit: FloatArray, least: float) -> bool:
    """Tell whether a stain loses so many times the light that is seen at all."""
    return float(one.intensity_max) > least * float(limit[tuple(one.slice)].max())


def _haloed(
    point: float, marks: NDArray[np.bool_], regions: list[Any], limit: FloatArray
) -> NDArray[np.bool_]:
    """Where stains and their halos lie; the fainter a stain, the less far."""
    found = distance_transform_edt(~marks) * point <= HALO_REACH[0] if marks.any() else np.zeros_like(marks)
    for least, reach in zip(HALOED, HALO_REACH, strict=True):
        dark = np.zeros(marks.shape, dtype=bool)
        for one in regions:
            place = tuple(one.slice)
            if _stands_out(one, limit, least):
                dark[place] |= one.image
        if dark.any():
            found |= distance_transform_edt(~dark) * point <= reach
    return np.asarray(found, dtype=np.bool_)


def _pale(card: FlatCard, lost: FloatArray, near: NDArray[np.bool_], inner: NDArray[np.bool_]) -> float:
    """Add up places apart from stains that are a little darker than the paper, over a larger width."""
    wide = gaussian_filter(lost, PALE_WIDE / card.point)
    light = (wide * card.paper)[inner]
    noise = robust_sd(light[light < 0]) if (light < 0).any() else 0.0
    limit = np.maximum(PALEST_SEEN, PALE_CERTAIN * noise / np.maximum(card.paper, DARK))
    total = 0.0
    for one in regionprops(label((wide > limit) & inner & ~near), intensity_image=wide):
        area = float((one.image_intensity > 0.5 * one.intensity_max).sum())
        total += area if area * card.point**2 > SMALLEST_PALE else 0.0
    return total


def _moved(outer: slice, inner: slice) -> tuple[int, int]:
    return outer.start + inner.start, outer.start + inner.stop


def _parted(image: NDArray[np.bool_], inside: FloatArray) -> LabelArray:
    """Parts of a stain on each side of narrow necks, numbered."""
    whole = image.astype(np.int64)
    if 0.9 < image.sum() / (np.pi * inside.max() ** 2) < 1.3:
        return whole
    height = np.log(np.maximum(inside, 0.5))
    top = reconstruction(np.where(image, height + np.log(NECK), height.min()), height)
    peaks = label(local_maxima(np.pad(top, 1, constant_values=height.min()))[1:-1, 1:-1] & image)
    return whole if peaks.max() <= 1 else np.asarray(watershed(-height, peaks, mask=image), dtype=np.int64)


def _bodies(
    lost: FloatArray, part: NDArray[np.bool_], inside: FloatArray, reach: int
) -> list[NDArray[np.bool_]]:
    """Give the drop with its edge at each of `EDGES`."""
    own = np.where(part, lost, 0.0)
    dark = maximum_filter(own, footprint=disk(reach), mode="constant")
    # One dark dot inside a drop must not raise the threshold of the whole drop; its soft edge, which is a
    # large part of a small drop, must not lower it.
    core = lost[part & (lost > 0.5 * float(np.quantile(lost[part], 0.95)))]
    dark = np.minimum(dark, 1.1 * float(np.quantile(core, 0.9)))
    deep = inside > reach
    return [
        np.asarray(binary_fill_holes(part & (deep | (own > edge * dark))), dtype=np.bool_) for edge in EDGES
    ]


COARSE, COARSER = 4, 12
"""Points of the card that make one point of the coarse maps."""
WIDE = (1 / 20, 1 / 20, 1 / 32, 1 / 50)
"""Distances that the fit looks over, one a round, as shares of the card's longer side."""
SPREAD = 3
"""Coarse points around a stain that are left out with it: its soft edge isn't bare paper."""


def paper_brightness(card: FloatArray, darker: float) -> FloatArray:
    """Fit the brightness of bare paper place by place, stains left out.

    At each place a plane is fitted to the paper around it, weighted by a bell curve, and again without what
    is darker than it; a plane, so that slanting light is followed up to the card's rim.

    Parameters
    ----------
    card : array, shape (rows, columns)
        The card laid flat, brightness from 0 to 1 [-].
    darker : float
        Share of its light that a place must lose to be a stain [1].

    Returns
    -------
    array, shape (rows, columns)
        Brightness of the paper.

    References
    ----------
    Local linear regression: textbook; leaving stains out: own.

    Examples
    --------
    >>> card = np.tile(np.linspace(0.6, 0.9, 240), (160, 1))
    >>> stained = card.copy()
    >>> stained[60:90, 100:130] *= 0.6
    >>> bool(np.abs(paper_brightness(stained, 0.06) - card).max() < 0.004)
    True
    """
    small = downscale_local_mean(card, (COARSE, COARSE))
    # At the rim the blur mixes the bench into the card.
    rim = np.pad(np.ones((small.shape[0] - 4, small.shape[1] - 4), dtype=bool), 2)
    bare = rim & (small > (1 - darker) * _first_guess(card, small.shape))
    for wide in WIDE:
        paper = _planes(small, bare, wide * max(small.shape))
        lost = 1 - small / np.maximum(paper, 1e-6)
        noise = robust_sd(lost - np.median(lost))
        bare = rim & ~binary_dilation(lost > max(0.75 * darker, 3 * noise), iterations=SPREAD)
    return _enlarged(_planes(small, bare, WIDE[-1] * max(small.shape)), card.shape)


def _first_guess(card: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Show what the lighter places nearby look like."""
    tiny = downscale_local_mean(card, (COARSER, COARSER))
    around = percentile_filter(tiny, 60, size=max(5, max(tiny.shape) // 8), mode="reflect")
    return _resized(gaussian_filter(around, max(tiny.shape) / 60), shape)


def _planes(values: FloatArray, kept: NDArray[np.bool_], wide: float) -> FloatArray:
    """Give the local plane's height at each place; a wider look where little is kept."""
    near, near_weight = _plane(values, kept, wide)
    far, _ = _plane(values, kept, 4 * wide)
    trust = np.clip(near_weight / 0.1, 0, 1)
    return np.asarray(trust * near + (1 - trust) * far, dtype=np.float64)


def _plane(values: FloatArray, kept: NDArray[np.bool_], wide: float) -> tuple[FloatArray, FloatArray]:
    """Height and weight of the plane at each place: worked out a third of the width apart, then filled in."""
    step = max(1, int(wide / 3.0))
    y, x = (np.arange(size) / wide for size in values.shape)
    w = kept.astype(float)
    v = w * values
    at_y, at_x = (_every(size, step) / wide for size in values.shape)
    rows, columns = (_weights(size, wide, step) for size in values.shape)
    # Weights times a coordinate belong to one side alone, so that the matrices take them.
    over_x = [np.asarray(part.T) for part in (columns, columns * x, columns * x**2)]
    over_y = [rows, rows * y, rows * y**2]
    w0, wx, wxx = (w @ part for part in over_x)
    v0, vx = (v @ part for part in over_x[:2])
    total = np.maximum(over_y[0] @ w0, 1e-9)
    mx, my, mv = over_y[0] @ wx / total, over_y[1] @ w0 / total, over_y[0] @ v0 / total
    xx = over_y[0] @ wxx / total - mx**2
    xy, yy = over_y[1] @ wx / total - mx * my, over_y[2] @ w0 / total - my**2
    xv, yv = over_y[0] @ vx / total - mx * mv, over_y[1] @ v0 / total - my * mv
    # With few points the slope is not determined: a small term pulls it to zero.
    xx, yy = xx + 0.02, yy + 0.02
    determinant = np.maximum(xx * yy - xy**2, 1e-9)
    slope_x, slope_y = (yy * xv - xy * yv) / determinant, (xx * yv - xy * xv) / determinant
    height = mv + slope_x * (at_x - mx) + slope_y * (at_y[:, None] - my)
    return _between(height, step, values.shape), _between(total, step, values.shape)


def _every(size: int, step: int) -> FloatArray:
    """Places along a side where the planes are worked out, both ends among them."""
    return np.linspace(0.0, size - 1.0, -(-(size - 1) // step) + 1)


def _between(values: FloatArray, step: int, shape: tuple[int, ...]) -> FloatArray:
    """Fill in between the places, along straight lines."""
    if step == 1:
        return values
    rows, columns = (_shares(size, step) for size in shape)
    return np.asarray(rows @ (values @ columns.T))


def _shares(size: int, step: int) -> FloatArray:
    """Give the share of each place that is worked out in every place of a side."""
    ends = _every(size, step)
    apart = np.abs(np.subtract.outer(np.arange(size), ends)) / (ends[1] - ends[0])
    return np.asarray(np.maximum(1.0 - apart, 0.0))


def _weights(size: int, wide: float, step: int) -> FloatArray:
    """Give the weight of each place in the mean about every place of a plane, cut off at three widths."""
    apart = np.subtract.outer(_every(size, step), np.arange(size)) / wide
    weights, near = np.zeros(apart.shape), np.abs(apart) <= 3.0
    weights[near] = np.exp(-0.5 * apart[near] ** 2) / (wide * (2 * np.pi) ** 0.5)
    return weights


def _enlarged(coarse: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    return _resized(coarse, (coarse.shape[0] * COARSE, coarse.shape[1] * COARSE))[: shape[0], : shape[1]]


def _resized(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    factors = [want / have for want, have in zip(shape, values.shape, strict=True)]
    return np.asarray(zoom(values, factors, order=1, mode="nearest", grid_mode=True), dtype=np.float64)

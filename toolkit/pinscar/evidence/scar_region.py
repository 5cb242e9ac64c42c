"""The worn part of a picture as a region: what looks like its inside, up to what looks like the pin around.

An edge may be lost along a stretch of the rim, or a clearer one lie beside it, and an outline that is sought
near an ellipse never gets to the end of a teardrop. What a place looks like is told by its neighbourhood,
whatever the shape, so the region is found first, and its rim traced near it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.recorder import robust_sd
from pinscar.evidence.scar_outline import closed_path
from pinscar.evidence.scar_rim import Layers, Rim, smooth_waves

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Fan:
    """Rays from the middle of an oval along which a region is followed.

    Attributes
    ----------
    rays : int
        How many.
    shares : array
        Where places lie on a ray, over the half-axes or over the rim found before [1].
    margin : float
        What lies nearer the rim is taken for neither side when both are described [1].
    beyond : float
        How far outside of the rim the pin around is described [1].
    alike : float
        How many neighbouring places on a ray tell the same, because the layers are smoothed.
    rounds : int
        How often the two sides are described anew.
    """

    rays: int
    shares: FloatArray
    margin: float
    beyond: float
    alike: float
    rounds: int


WIDE = _Fan(96, np.arange(0.30, 2.001, 0.025), 0.10, 0.6, 5.0, 5)
NARROW = _Fan(192, np.arange(0.65, 1.401, 0.0125), 0.06, 0.35, 6.0, 2)
ENOUGH = 50
"""Places of either side that are enough to describe it."""
LIMIT, ONE_LAYER = 3.0, 4.0
"""Largest logarithm of the odds that one place may tell, and that one layer may tell there."""
SMALLEST = 6.0
"""Half-axis under which a region is too small to follow [points]."""


@dataclass(frozen=True, slots=True)
class Region:
    """The worn part of a picture.

    Parameters
    ----------
    rim : Rim
        Its rim, smoothed [points].
    points : array, shape (n, 2)
        Points of the rim as they were found [points].
    support : array, shape (n,)
        Mean logarithm of the odds just inside of each point, or of the odds against just outside of it,
        whichever is less [-].
    """

    rim: Rim
    points: FloatArray
    support: FloatArray


def grown_region(coarse: Layers, fine: Layers, start: Ellipse) -> Region | None:
    """Follow the worn part of a picture from an oval that covers much of it.

    Inside and outside are described by each layer's level and spread, brightness by a surface on either side.
    A place's odds of lying inside are those of all layers, weighed by a logistic curve through the two sides.
    The rim is the closed path that gathers most of the odds; both sides are then described anew.

    Parameters
    ----------
    coarse, fine : Layers
        Brightness, direction and strength of scratches, smoothed much and little [-].
    start : Ellipse
        The oval [points].

    Returns
    -------
    Region or None
        The region; None where it is too small or one of its sides is not seen.

    References
    ----------
    Regions that compete for places: S. C. Zhu, A. Yuille, IEEE Trans. Pattern Anal. Mach. Intell. 18, 1996.
    The rest: own.

    Examples
    --------
    A teardrop, from an oval over one half of it:

    >>> y, x = np.mgrid[:160, :240]
    >>> u, v = (x - 120) / 80, (y - 80) / 40
    >>> drop = np.hypot(u, v / (1 + 0.35 * u)) < 1
    >>> picture = drop * 2.0 + 0.3 * np.random.default_rng(1).normal(size=drop.shape)
    >>> layers = Layers(picture[..., None])
    >>> region = grown_region(layers, layers, Ellipse(140.0, 80.0, 50.0, 40.0, 0.0))
    >>> [round(float(one)) for one in np.ptp(region.points, axis=0)]
    [159, 85]
    """
    found = start, np.ones(WIDE.rays)
    for _ in range(WIDE.rounds):
        followed = _followed(coarse, *found, WIDE)
        if followed is None:
            return None
        found = followed
    t = _angles(NARROW.rays)
    found = found[0], np.interp(t, _angles(WIDE.rays), found[1], period=2 * np.pi)
    for _ in range(NARROW.rounds):
        followed = _followed(fine, *found, NARROW)
        if followed is None:
            return None
        found = followed
    ellipse, rim = found
    odds = _odds(fine, ellipse, rim, NARROW)
    if odds is None:
        return None
    points = _places(ellipse, t, rim)
    inner = odds[:, (NARROW.shares > 0.80) & (NARROW.shares < 0.96)].mean(axis=1)
    outer = odds[:, (NARROW.shares > 1.04) & (NARROW.shares < 1.20)].mean(axis=1)
    return Region(smooth_waves(points, ellipse), points, np.minimum(inner, -outer))


def _followed(
    layers: Layers, ellipse: Ellipse, rim: FloatArray, fan: _Fan
) -> tuple[Ellipse, FloatArray] | None:
    """Follow a region along the rays of a fan; give the ellipse of its moments, and its rim on that one's."""
    odds = _odds(layers, ellipse, rim, fan)
    if odds is None:
        return None
    t = _angles(fan.rays)
    share = fan.shares[closed_path(2 * np.cumsum(odds, axis=1) / fan.alike)]
    share = share + (fan.shares[1] - fan.shares[0]) / 2
    points = _places(ellipse, t, share if fan is WIDE else share * rim)
    ellipse = _of_moments(points)
    if min(ellipse.a, ellipse.b) < SMALLEST:
        return None
    return ellipse, _on_rays(ellipse, points, t)


def _angles(count: int) -> FloatArray:
    return np.asarray(2 * np.pi * np.arange(count) / count)


def _places(ellipse: Ellipse, t: FloatArray, share: FloatArray) -> FloatArray:
    """Columns and rows of places at eccentric angles and shares of the half-axes."""
    u, v = share * ellipse.a * np.cos(t), share * ellipse.b * np.sin(t)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    return np.stack([ellipse.x + u * c - v * s, ellipse.y + u * s + v * c], axis=-1)


def _of_moments(points: FloatArray) -> Ellipse:
    """Give the ellipse with the first and second moments of the area inside a closed polygon."""
    origin = points.mean(axis=0)
    one = points - origin
    two = np.roll(one, -1, axis=0)
    cross = one[:, 0] * two[:, 1] - two[:, 0] * one[:, 1]
    area = max(float(abs(cross.sum())) / 2, 1e-9) * np.sign(cross.sum())
    middle = ((one + two) * cross[:, None]).sum(axis=0) / (6 * area)
    both = one + two
    # Second moments about the origin: the sum over triangles of (sum of corners)² and squares of corners.
    second = np.einsum("i,ij,ik->jk", cross, both, both)
    second += np.einsum("i,ij,ik->jk", cross, one, one) + np.einsum("i,ij,ik->jk", cross, two, two)
    values, vectors = np.linalg.eigh(second / (24 * area) - np.outer(middle, middle))
    b, a = 2 * np.sqrt(np.maximum(values, 1e-9))
    x, y = origin + middle
    return Ellipse(float(x), float(y), float(a), float(b), float(np.arctan2(vectors[1, 1], vectors[0, 1])))


def _on_rays(ellipse: Ellipse, points: FloatArray, t: FloatArray) -> FloatArray:
    """Tell where rays of an ellipse meet a closed line, in its half-axes."""
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    dx, dy = points[:, 0] - ellipse.x, points[:, 1] - ellipse.y
    u, v = (dx * c + dy * s) / ellipse.a, (dy * c - dx * s) / ellipse.b
    where = np.arctan2(v, u)
    order = np.argsort(where)
    return np.asarray(np.interp(t, where[order], np.hypot(u, v)[order], period=2 * np.pi))


def _odds(layers: Layers, ellipse: Ellipse, rim: FloatArray, fan: _Fan) -> FloatArray | None:
    """Logarithm of the odds that each place of a fan lies inside; None where a side is not seen."""
    t, shares = _angles(fan.rays), fan.shares
    # The wide fan starts from the ellipse, the narrow one from the rim found before.
    path = rim[:, None] if fan is WIDE else np.ones((fan.rays, 1))
    scale = np.ones((fan.rays, 1)) if fan is WIDE else rim[:, None]
    places = _places(ellipse, t[:, None], scale * shares)
    values = layers.at(places[..., 0], places[..., 1])
    there = np.isfinite(values[..., 0])
    inside = there & (shares < path - fan.margin)
    outside = there & (shares > path + fan.margin) & (shares < path + fan.beyond)
    # Neighbours tell nearly the same: every other ray and place is enough to describe the two sides.
    for part in (inside, outside):
        part[1::2], part[:, 1::2] = False, False
    if min(inside.sum(), outside.sum()) < ENOUGH:
        return None
    u, v = scale * shares * np.cos(t)[:, None], scale * shares * np.sin(t)[:, None]
    terms = np.stack([np.ones_like(u), u, v, u * v, u * u, v * v], axis=-1)
    values = np.where(there[..., None], values, 0.0)
    # Light falls over a round pin, and over a scar by a plane.
    told = [_told(values[..., 0], terms, (inside, outside), (3, 6))]
    if fan is NARROW and values.shape[2] == FINE:
        values, terms = _along_the_rim(values, ellipse, rim, t)
        told += [_told(one, terms, (inside, outside), (3, 3)) for one in np.moveaxis(values, 2, 0)]
    else:
        told += [_told(one, terms, (inside, outside), (1, 1)) for one in np.moveaxis(values, 2, 0)[1:]]
    odds = np.clip(_weighed(np.stack(told, axis=-1), inside, outside), -LIMIT, LIMIT)
    # Beyond what is seen all goes on as it was, so a scar that is cut off is followed out of the picture.
    last = np.maximum.accumulate(np.where(there, np.arange(shares.size), 0), axis=1)
    return np.asarray(np.take_along_axis(odds, last, axis=1))


FINE = 4
"""Number of fine layers: brightness, two components of the direction of scratches, and their strength."""


def _along_the_rim(
    values: FloatArray, ellipse: Ellipse, rim: FloatArray, t: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Turn scratches to what a rim's own step doesn't touch, and give the terms by which that turns round it.

    The step of brightness at the rim is a slope across it. Taken for a mark it would move the rim outwards
    along the pin's sides, where it looks like a striation, and inwards at the ends.
    """
    points = _places(ellipse, t, rim)
    way = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    # Twice the angle of the rim's direction.
    twice = np.stack([way[:, 0] ** 2 - way[:, 1] ** 2, 2 * way[:, 0] * way[:, 1]])
    c, s = np.broadcast_to(twice[:, :, None], (2, *values.shape[:2]))
    one, other = values[..., 1], values[..., 2]
    share = np.clip((1 - one * c + other * s) / 2, 0.01, 1.0)
    turned = np.stack([values[..., 3] + np.log(share), 3 * (one * s + other * c)], axis=-1)
    return turned, np.stack([np.ones_like(c), c, s], axis=-1)


def _told(
    layer: FloatArray, terms: FloatArray, sides: tuple[BoolArray, BoolArray], numbers: tuple[int, int]
) -> FloatArray:
    """Logarithm of the odds by one layer alone: a surface on each side, tails that dirt doesn't rule."""
    told = []
    for side, number in zip(sides, numbers, strict=True):
        some = terms[..., :number]
        known, here = some[side], layer[side]
        weights: FloatArray = np.ones(len(here))
        found: FloatArray = np.zeros(number)
        spread = 1.0
        for _ in range(3):
            left = (known * weights[:, None]).T @ known + 1e-3 * len(here) * np.eye(number)
            found = np.asarray(np.linalg.solve(left, (known * weights[:, None]).T @ here), dtype=float)
            off = here - known @ found
            spread = max(robust_sd(off), 0.15)
            weights = np.asarray(1 / np.maximum(np.abs(off) / (1.5 * spread), 1.0), dtype=float)
        far = (layer - some @ found) / spread
        told.append(-2.5 * np.log1p(far * far / 4) - np.log(spread))
    return np.asarray(np.clip(told[0] - told[1], -ONE_LAYER, ONE_LAYER))


def _weighed(told: FloatArray, inside: BoolArray, outside: BoolArray) -> FloatArray:
    """Weigh what layers tell by a logistic curve through both sides; layers tell much the same twice."""
    known = np.concatenate([told[inside], told[outside]])
    known = np.column_stack([np.ones(len(known)), known])
    first = int(inside.sum())
    right = np.arange(len(known)) < first
    weights = np.where(right, 0.5 / first, 0.5 / (len(known) - first))
    hold = 0.01 * np.diag([0.0] + [1.0] * (known.shape[1] - 1))
    slopes = np.zeros(known.shape[1])
    for _ in range(8):
        share = 1 / (1 + np.exp(-np.clip(known @ slopes, -20, 20)))
        gain = known.T @ (weights * (right - share)) - hold @ slopes
        left = (known * (weights * share * (1 - share))[:, None]).T @ known
        slopes = slopes + np.linalg.solve(left + hold + 1e-6 * np.eye(slopes.size), gain)
    return np.asarray(slopes[0] + told @ slopes[1:])

"""Where in a picture an oval lies: the ellipse whose two sides differ most evenly all the way round."""

from __future__ import annotations

from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from pinscar.evidence.ellipse import Ellipse

FloatArray = NDArray[np.float64]
SECTORS = 32
SHORTEST, LONGEST = 0.2, 0.95
"""Axes looked for, as a share of the picture's width (length) or height (width)."""
ASPECTS = (0.4, 0.55, 0.75, 1.0)
TILTS = (-0.2, 0.0, 0.2)
FLOOR = 0.25
"""Unevenness that is always allowed for, so that a chance agreement of a few sectors can't win."""


def sector_steps(
    features: FloatArray, ellipses: FloatArray, band: float, sectors: int = SECTORS
) -> FloatArray:
    """Compute the step of each feature across the outline of ellipses, by sectors.

    Parameters
    ----------
    features : array, shape (layers, rows, columns)
        What changes at the outline [-].
    ellipses : array, shape (n, 5)
        x, y, a, b [points] and angle [rad].
    band : float
        Width of the bands inside and outside that are compared, as a share of the half-axes [-].
    sectors : int, optional
        How many.

    Returns
    -------
    array, shape (layers, n, sectors)
        Mean inside minus mean outside; NaN in sectors that leave the picture.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> steps = sector_steps(np.ones((1, 80, 80)), np.array([[40.0, 40.0, 20.0, 15.0, 0.0]]), 0.2)
    >>> float(np.abs(steps).max())
    0.0
    """
    t = 2 * np.pi * (np.arange(sectors) + 0.5) / sectors
    share = band * np.array([-0.85, -0.5, -0.2, 0.2, 0.5, 0.85])
    x, y, a, b, angle = (ellipses[:, i, None, None] for i in range(5))
    u = a * (1 + share[:, None]) * np.cos(t)
    v = b * (1 + share[:, None]) * np.sin(t)
    columns = x + u * np.cos(angle) - v * np.sin(angle)
    rows = y + u * np.sin(angle) + v * np.cos(angle)
    values = _between_points(features, rows, columns)
    return np.asarray((values[:, :, :3].sum(axis=2) - values[:, :, 3:].sum(axis=2)) / 3, dtype=float)


def _between_points(features: FloatArray, rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Interpolate all layers linearly at the same places; NaN outside of the picture."""
    high, wide = features.shape[1:]
    top = np.clip(rows, 0, high - 1).astype(np.intp)
    left = np.clip(columns, 0, wide - 1).astype(np.intp)
    np.minimum(top, high - 2, out=top)
    np.minimum(left, wide - 2, out=left)
    down, right = rows - top, columns - left
    outside = (np.abs(down - 0.5) > 0.5) | (np.abs(right - 0.5) > 0.5)
    down[outside] = np.nan
    corner = top * wide + left
    flat = features.reshape(len(features), -1)
    upper, lower = (
        (1 - right) * flat.take(corner + below, axis=1, mode="clip")
        + right * flat.take(corner + (below + 1), axis=1, mode="clip")
        for below in (0, wide)
    )
    return np.asarray((1 - down) * upper + down * lower)


def evenness(steps: FloatArray) -> FloatArray:
    """Score steps by how large they are against how much they differ from sector to sector.

    Parameters
    ----------
    steps : array, shape (layers, n, sectors)
        As `sector_steps` gives them [-].

    Returns
    -------
    array, shape (n,)
        Root of the sum over layers of (mean / (standard deviation + floor))²; 0 where more than a quarter of
        the sectors lie out of the picture.

    References
    ----------
    Own definition: a t statistic without its number of sectors.

    Examples
    --------
    >>> evenness(np.full((1, 1, 32), 0.3)).round(3).tolist()
    [1.2]
    """
    there = np.isfinite(steps)
    number = np.maximum(there.sum(axis=2), 1)
    middle = np.where(there, steps, 0).sum(axis=2) / number
    # Limit the weight of sectors with glare or dirt to three times the usual deviation.
    away = np.abs(np.where(there, steps - middle[:, :, None], 0))
    bound = 3 * away.sum(axis=2, keepdims=True) / number[:, :, None]
    spread = np.sqrt((np.minimum(away, bound) ** 2).sum(axis=2) / number)
    score = np.sqrt(((middle / (spread + FLOOR)) ** 2).sum(axis=0))
    return np.where(there[0].mean(axis=1) >= 0.75, score, 0.0)


def find_ovals(features: FloatArray, direction: float, count: int = 3) -> list[tuple[Ellipse, float]]:
    """Find the likeliest ovals: a coarse grid of ellipses, the best ones then moved to where they fit best.

    Parameters
    ----------
    features : array, shape (layers, rows, columns)
        What changes at the outline [-].
    direction : float
        Direction of the pin's axis in the picture, from x towards y [rad].
    count : int, optional
        How many to give.

    Returns
    -------
    list of (Ellipse, float)
        The ovals with their evenness, best first.

    References
    ----------
    Own definition. The search downhill is that of J. A. Nelder, R. Mead, Computer Journal 7, 1965.

    Examples
    --------
    >>> y, x = np.mgrid[:120, :160]
    >>> layer = (np.hypot((x - 80) / 40, (y - 60) / 22) < 1) * 3.0
    >>> oval, _ = find_ovals(layer[None], 0.0)[0]
    >>> abs(oval.a - 40) < 2, abs(oval.b - 22) < 2
    (True, True)
    """
    tried = _grid(features.shape[1:], direction)
    # In parts small enough to stay in the processor's cache.
    parts = np.array_split(tried, max(1, len(tried) // 64))
    scores = np.concatenate([evenness(sector_steps(features, part, 0.25, SECTORS // 2)) for part in parts])
    scores *= _room(tried)
    starts: list[FloatArray] = []
    for index in np.argsort(-scores):
        near = (np.abs(tried[index, :4] - one[:4]).max() < 0.15 * one[2] for one in starts)
        if not any(near):
            starts.append(tried[index])
        if len(starts) == count + 1:
            break
    found = [_settled(features, start) for start in starts]
    return sorted(found, key=lambda one: -one[1])[:count]


def _grid(shape: tuple[int, ...], direction: float) -> FloatArray:
    rows, columns = shape
    lengths = np.geomspace(SHORTEST * columns, LONGEST * columns, 8) / 2
    grid: list[FloatArray] = []
    for a, aspect, tilt in product(lengths, ASPECTS, TILTS):
        b = a * aspect
        if not SHORTEST * rows / 4 < b < LONGEST * rows / 2:
            continue
        step = max(0.4 * b, 4.0)
        xs = np.arange(min(0.6 * a, columns / 2), columns - min(0.6 * a, columns / 2) + 1, step)
        ys = np.arange(min(0.6 * b, rows / 2), rows - min(0.6 * b, rows / 2) + 1, step)
        some = np.empty((xs.size * ys.size, 5))
        some[:, 0], some[:, 1] = np.repeat(xs, ys.size), np.tile(ys, xs.size)
        some[:, 2:] = a, b, direction + tilt
        grid.append(some)
    return np.concatenate(grid)


def _room(ellipses: FloatArray) -> FloatArray:
    """Give larger ovals an advantage: chance makes small even ones more often."""
    return np.asarray((ellipses[:, 2] * ellipses[:, 3]) ** 0.35, dtype=float)


def _settled(features: FloatArray, start: FloatArray) -> tuple[Ellipse, float]:
    scale = np.array([start[3], start[3], start[2], start[3], 1.0])

    def loss(step: FloatArray, band: float) -> float:
        moved = start + step * scale
        if not (0.5 < moved[2] / start[2] < 2 and 0.5 < moved[3] / start[3] < 2 and abs(step[4]) < 0.5):
            return 0.0
        one = moved[None]
        return -float((evenness(sector_steps(features, one, band)) * _room(one))[0])

    step = np.zeros(5)
    for band, size in ((0.25, 0.12), (0.15, 0.05)):
        simplex = step + np.vstack([np.zeros(5), size * np.eye(5)])
        found = minimize(
            partial(loss, band=band),
            step,
            method="Nelder-Mead",
            options={"initial_simplex": simplex, "maxfev": 90, "xatol": 1e-3, "fatol": 1e-3},
        )
        step = np.asarray(found.x, dtype=np.float64)
    x, y, a, b, angle = (float(v) for v in start + step * scale)
    return Ellipse(x, y, a, b, angle), -loss(step, 0.2)

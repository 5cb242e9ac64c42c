"""Where in a picture an oval lies: the ellipse whose two sides differ most evenly all the way round.

A coarse grid of ellipses is looked at first, at whole points of a small picture; the best ones are then moved
to where they fit best, all of them at once.
"""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import between_points

FloatArray = NDArray[np.float64]
SECTORS = 24
COARSE = 16
"""Sectors of an outline, and of one of the coarse grid."""
SHORTEST, LONGEST = 0.2, 0.95
"""Axes looked for, as a share of the picture's width (length) or height (width)."""
ASPECTS = (0.27, 0.4, 0.55, 0.75, 1.0)
TILTS = (-0.2, 0.0, 0.2)
ROUND = 0.7
"""Width over length from which an oval counts as round."""
FLOOR = 0.25
"""Unevenness that is always allowed for, so that a chance agreement of a few sectors can't win."""
MOSTLY = 0.75
"""Share of the sectors that must lie within the picture."""
PLACES = np.array([-0.85, -0.5, -0.2, 0.2, 0.5, 0.85])
"""Where the two sides are looked at, in widths of the band; the first three lie inside."""


def sector_steps(
    features: FloatArray, ellipses: FloatArray, band: float, sectors: int = SECTORS
) -> FloatArray:
    """Compute the step of each feature across the outline of ellipses, by sectors.

    Parameters
    ----------
    features : array, shape (rows, columns, layers)
        What changes at the outline [-]; NaN where nothing is seen.
    ellipses : array, shape (n, 5)
        x, y, a, b [points] and angle [rad].
    band : float
        Width of the bands inside and outside that are compared, as a share of the half-axes [-].
    sectors : int, optional
        How many.

    Returns
    -------
    array, shape (n, sectors, layers)
        Mean inside minus mean outside; NaN in sectors that leave the picture.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> steps = sector_steps(np.ones((80, 80, 1)), np.array([[40.0, 40.0, 20.0, 15.0, 0.0]]), 0.2)
    >>> float(np.abs(steps).max())
    0.0
    """
    columns, rows = _around(ellipses, band, sectors)
    values = between_points(features, rows, columns)
    steps = values[:, 0] + values[:, 1]
    steps += values[:, 2]
    for outer in range(3, 6):
        steps -= values[:, outer]
    steps /= 3
    return np.asarray(steps)


def _around(ellipses: FloatArray, band: float, sectors: int) -> tuple[FloatArray, FloatArray]:
    """Columns and rows of the places looked at, shape (n, 6, sectors)."""
    t = 2 * np.pi * (np.arange(sectors) + 0.5) / sectors
    share = 1 + band * PLACES[:, None]
    around = np.stack([np.ones((PLACES.size, sectors)), share * np.cos(t), share * np.sin(t)]).reshape(3, -1)
    x, y, a, b, angle = ellipses.T
    c, s = np.cos(angle), np.sin(angle)
    columns = np.stack([x, a * c, -b * s], axis=-1) @ around
    rows = np.stack([y, a * s, b * c], axis=-1) @ around
    shape = (len(ellipses), PLACES.size, sectors)
    return columns.reshape(shape), rows.reshape(shape)


def evenness(steps: FloatArray) -> FloatArray:
    """Score steps by how large they are against how much they differ from sector to sector.

    A step that grows from one side of the oval to the other, as under a lamp from the side, is no unevenness:
    the first wave round the oval is taken off before the spread is computed.

    Parameters
    ----------
    steps : array, shape (n, sectors, layers)
        As `sector_steps` gives them [-].

    Returns
    -------
    array, shape (n,)
        Root of the sum over layers of (mean / (spread + floor))²; 0 where more than a quarter of the sectors
        lie out of the picture.

    References
    ----------
    Own definition: a t statistic without its number of sectors.

    Examples
    --------
    >>> evenness(np.full((1, 24, 1), 0.3)).round(3).tolist()
    [1.2]
    """
    sectors = steps.shape[1]
    there = np.isfinite(steps[..., 0])
    number = np.maximum(there.sum(axis=1), 1)[:, None]
    # Layers before sectors: sums along the last axis are much faster.
    away = np.ascontiguousarray(np.moveaxis(steps, 2, 1))
    gaps = ~np.isfinite(away)
    away[gaps] = 0
    middle = away.sum(axis=2) / number
    away -= middle[..., None]
    away[gaps] = 0
    t = 2 * np.pi * (np.arange(sectors) + 0.5) / sectors
    waves = np.stack([np.cos(t), np.sin(t)]).astype(away.dtype)
    away -= (away @ waves.T * (2 / number[..., None])).astype(away.dtype) @ waves
    away[gaps] = 0
    # Limit the weight of sectors with glare or dirt to three times the usual deviation.
    np.abs(away, out=away)
    bound = 3 * away.sum(axis=2) / number
    np.minimum(away, bound[..., None], out=away)
    spread = np.sqrt(np.einsum("nls,nls->nl", away, away) / number)
    score = np.sqrt(((middle / (spread + FLOOR)) ** 2).sum(axis=1))
    return np.where(there.mean(axis=1) >= MOSTLY, score, 0.0)


def grid_of_ovals(features: FloatArray, direction: float) -> tuple[FloatArray, FloatArray]:
    """Score a coarse grid of ellipses over the whole picture.

    Parameters
    ----------
    features : array, shape (rows, columns, layers)
        What changes at the outline, smooth over a point [-]; NaN where nothing is seen.
    direction : float
        Direction of the pin's axis in the picture, from x towards y [rad].

    Returns
    -------
    tuple of array, shapes (n, 5) and (n,)
        x, y, a, b [points], angle [rad]; and evenness, with an advantage for larger ones.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> y, x = np.mgrid[:60, :80]
    >>> layer = (np.hypot((x - 40) / 20, (y - 30) / 11) < 1) * 3.0
    >>> ovals, scores = grid_of_ovals(layer[..., None], 0.0)
    >>> bool(np.abs(ovals[scores.argmax()][:2] - (40, 30)).max() < 6)
    True
    """
    rows, columns, layers = features.shape
    margin = int(0.75 * max(rows, columns))
    wide = columns + 2 * margin
    # A rim of places where nothing is seen saves a test for the border at every place.
    padded = np.full((layers, rows + 2 * margin, wide), np.nan, dtype=np.float32)
    padded[:, margin : margin + rows, margin : margin + columns] = np.moveaxis(features, 2, 0)
    shapes = _shapes(rows, columns, direction)
    dx, dy = _around(np.array([[0.0, 0.0, *one] for one, _, _ in shapes]), 0.25, COARSE)
    beside = (np.rint(dy).astype(np.intp) * wide + np.rint(dx).astype(np.intp))[:, :, ::2]
    counts = [xs.size * ys.size for _, xs, ys in shapes]
    ovals = np.empty((sum(counts), 5))
    for part, (one, xs, ys) in zip(np.split(ovals, np.cumsum(counts)[:-1]), shapes, strict=True):
        part[:, 0], part[:, 1], part[:, 2:] = np.tile(xs, ys.size), np.repeat(ys, xs.size), one
    offsets = np.repeat(beside[:, GLANCE], counts, axis=0)
    centres = (ovals[:, 1].astype(np.intp) + margin) * wide + ovals[:, 0].astype(np.intp) + margin
    offsets += centres[:, None, None]
    steps = np.stack(
        [one.take(offsets[:, 0]) - one.take(offsets[:, 1]) for one in padded.reshape(layers, -1)]
    )
    glanced = _glance(steps) * _room(ovals)
    # The whole look at the likely ones only; an unlikely one never becomes the best.
    ovals = ovals[_likely(ovals, glanced, rows, columns)]
    steps = sector_steps(_single(features), ovals, 0.25, COARSE)
    return ovals, evenness(steps) * _room(ovals)


def _single(features: FloatArray) -> FloatArray:
    """Turn layers to single precision, which is enough for a search and takes half the time."""
    single: NDArray[Any] = features.astype(np.float32)
    return single


def _glance(steps: NDArray[np.float32]) -> FloatArray:
    """Score steps, shape (layers, n, sectors), as `evenness` does, by sums over the sectors alone.

    The bound on single sectors is left out: of 8 sectors none can lie beyond it, and hardly one of 6 or 7.
    """
    sectors = steps.shape[2]
    t = 2 * np.pi * (np.arange(sectors) + 0.5) / sectors
    c, s = np.cos(t), np.sin(t)
    terms = np.column_stack([np.ones(sectors), c, s, c * c, c * s, s * s]).astype(np.float32)
    there = np.isfinite(steps[0])
    steps = np.where(there, steps, np.float32(0.0))
    number, of_c, of_s, cc, cs, ss = (there.astype(np.float32) @ terms).T
    number = np.maximum(number, 1)
    total, wave_c, wave_s = np.moveaxis(steps @ terms[:, :3], 2, 0)
    middle = total / number
    wave_c, wave_s = wave_c - middle * of_c, wave_s - middle * of_s
    high_c, high_s = 2 * wave_c / number, 2 * wave_s / number
    energy = np.einsum("lns,lns->ln", steps, steps) - number * middle**2
    energy -= 2 * (high_c * wave_c + high_s * wave_s)
    energy += high_c**2 * cc + 2 * high_c * high_s * cs + high_s**2 * ss
    spread = np.sqrt(np.maximum(energy / number, 0.0)) + np.float32(FLOOR)
    score = np.sqrt(((middle / spread) ** 2).sum(axis=0)).astype(float)
    return np.asarray(np.where(there.mean(axis=1) >= MOSTLY, score, 0.0))


GLANCE = (1, 4)
"""The two of `PLACES` that are looked at first."""
LOOKED_AT, IN_CELL, CELLS = 250, 15, 4
"""Ovals of the grid looked at in whole: of all, and of those in each of 4 x 4 parts of the picture."""


def _likely(ovals: FloatArray, glanced: FloatArray, rows: int, columns: int) -> NDArray[np.intp]:
    """Choose the ovals worth a whole look, some in each part of the picture: there may be two scars."""
    order = np.argsort(-glanced, kind="stable")
    down, right = CELLS * ovals[order, 1] / rows, CELLS * ovals[order, 0] / columns
    cells = (down.astype(int) * CELLS + right.astype(int)).astype(np.int8)
    keep = np.arange(order.size) < LOOKED_AT
    grouped = np.argsort(cells, kind="stable")
    before = np.searchsorted(cells[grouped], cells[grouped])
    keep[grouped[np.arange(order.size) - before < IN_CELL]] = True
    return order[keep]


def _shapes(
    rows: int, columns: int, direction: float
) -> list[tuple[tuple[float, float, float], NDArray[np.intp], NDArray[np.intp]]]:
    """List half-axes and angle of each shape looked for, with the columns and rows of its centres."""
    found = []
    lengths = np.geomspace(SHORTEST * columns, LONGEST * columns, 8) / 2
    for a, aspect, tilt in product(lengths, ASPECTS, TILTS):
        b = a * aspect
        # A turn hardly changes a round oval.
        if aspect > ROUND and tilt != 0:
            continue
        if not SHORTEST * rows / 4 < b < LONGEST * rows / 2 or a > 0.6 * max(rows, columns):
            continue
        step_x, step_y = max(0.25 * a, 0.4 * b, 4.0), max(0.4 * b, 4.0)
        xs = np.arange(min(0.6 * a, columns / 2), columns - min(0.6 * a, columns / 2) + 1, step_x)
        ys = np.arange(min(0.6 * b, rows / 2), rows - min(0.6 * b, rows / 2) + 1, step_y)
        found.append(((a, b, direction + tilt), xs.astype(np.intp), ys.astype(np.intp)))
    return found


def _room(ellipses: FloatArray) -> FloatArray:
    """Give larger ovals an advantage: chance makes small even ones more often."""
    return np.asarray((ellipses[:, 2] * ellipses[:, 3]) ** 0.35, dtype=float)


def best_apart(
    ovals: FloatArray, scores: FloatArray, count: int, beside: Ellipse | None = None
) -> FloatArray:
    """Choose the best ovals of a grid that aren't nearly the same.

    Parameters
    ----------
    ovals : array, shape (n, 5)
        As `grid_of_ovals` gives them [points, rad].
    scores : array, shape (n,)
        Their scores [-].
    count : int
        How many at most.
    beside : Ellipse, optional
        Only ovals with their middle outside of this one, and its middle outside of them.

    Returns
    -------
    array, shape (m, 5)
        The chosen ones, best first.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> ovals = np.array([[20, 20, 10, 5, 0.0], [21, 20, 10, 5, 0.0], [60, 20, 10, 5, 0.0]])
    >>> best_apart(ovals, np.array([3.0, 2.0, 1.0]), 2)[:, 0].tolist()
    [20.0, 60.0]
    """
    chosen: list[FloatArray] = []
    if beside is not None:
        apart = np.hypot(ovals[:, 0] - beside.x, ovals[:, 1] - beside.y)
        keep = (apart > 0.9 * (ovals[:, 3] + beside.b)) & (_levels(beside, ovals) > 1.3)
        ovals, scores = ovals[keep], scores[keep]
    for index in np.argsort(-scores, kind="stable")[:3000]:
        near = (np.abs(ovals[index, :4] - one[:4]).max() < 0.15 * one[2] for one in chosen)
        if scores[index] > 0 and not any(near):
            chosen.append(ovals[index])
        if len(chosen) == count:
            break
    return np.array(chosen).reshape(-1, 5)


def _levels(ellipse: Ellipse, ovals: FloatArray) -> FloatArray:
    """How far the middles of ovals lie from that of an ellipse, in its half-axes."""
    dx, dy = ovals[:, 0] - ellipse.x, ovals[:, 1] - ellipse.y
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    return np.asarray(np.hypot((dx * c + dy * s) / ellipse.a, (dy * c - dx * s) / ellipse.b))


ROUNDS = 10
"""Rounds in which ovals are moved; their steps grow smaller from one to the next."""


def settled(features: FloatArray, starts: FloatArray) -> list[tuple[Ellipse, float]]:
    """Move ovals to where they fit best, all at once, by trying steps of every kind and keeping the best.

    Parameters
    ----------
    features : array, shape (rows, columns, layers)
        What changes at the outline [-].
    starts : array, shape (n, 5)
        Where to start [points, rad].

    Returns
    -------
    list of (Ellipse, float)
        The ovals with their score, best first.

    References
    ----------
    Compass search: T. G. Kolda, R. M. Lewis, V. Torczon, SIAM Review 45, 2003, section 1.

    Examples
    --------
    >>> y, x = np.mgrid[:120, :160]
    >>> layer = (np.hypot((x - 80) / 40, (y - 60) / 22) < 1) * 3.0
    >>> oval, _ = settled(layer[..., None], np.array([[76.0, 63.0, 36.0, 25.0, 0.1]]))[0]
    >>> abs(oval.a - 40) < 2, abs(oval.b - 22) < 2
    (True, True)
    """
    if not len(starts):
        return []
    moves, layers = _moves(), _single(features)
    now, step = starts.copy(), np.full(len(starts), 0.16)
    scale = np.column_stack(
        [starts[:, 3], starts[:, 3], starts[:, 2], starts[:, 3], np.full(len(starts), 1.0)]
    )
    best = np.zeros(len(starts))
    for turn in range(ROUNDS):
        tried = now[:, None] + step[:, None, None] * moves * scale[:, None]
        flat = tried.reshape(-1, 5)
        score = evenness(sector_steps(layers, flat, 0.25 if turn < ROUNDS // 2 else 0.15))
        share = tried[:, :, 2:4] / starts[:, None, 2:4]
        turned = np.abs(tried[:, :, 4] - starts[:, None, 4])
        fair = ((share > 0.5) & (share < 2)).all(axis=2) & (turned < 0.5)
        score = np.where(fair, (score * _room(np.abs(flat))).reshape(tried.shape[:2]), 0.0)
        choice = score.argmax(axis=1)
        best = score.max(axis=1)
        now = tried[np.arange(len(now)), choice]
        # The first move is none at all.
        step = np.where(choice == 0, step * 0.5, step)
    ellipses = [Ellipse(*(float(v) for v in one)) for one in now]
    found = list(zip(ellipses, best.tolist(), strict=True))
    return sorted(found, key=lambda one: -one[1])


def _moves() -> FloatArray:
    """No move, each of the five alone, and ends that move alone while the other end stays."""
    alone = np.diag([1.0, 1.0, 1.0, 1.0, 0.8])
    ends = np.array([[1.0, 0, 1, 0, 0], [-1, 0, 1, 0, 0], [0, 1, 0, 1, 0], [0, -1, 0, 1, 0], [0, 0, 1, 1, 0]])
    return np.concatenate([np.zeros((1, 5)), alone, -alone, ends, -ends])

"""From a rough guess of an oval to its outline and ellipse, in strips that grow narrower and sharper.

The outline is the best path through the unrolled strip, to a fraction of a point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import correlate1d, gaussian_filter1d, map_coordinates
from skimage.measure import grid_points_in_poly

from pinscar.evidence.ellipse import Ellipse, fit_ellipse, tukey_weights

FloatArray = NDArray[np.float64]
SPACING = 1.5
"""Distance of points along the outline [points of the picture]."""
STEP = 0.5
"""Distance of samples across the outline [points of the picture]."""
STIFFNESS = 0.15
"""What a change of one sample from one point of the outline to the next costs, in units of edge strength."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline found near an ellipse.

    Parameters
    ----------
    points : array, shape (n, 2)
        Columns and rows [points].
    strength : array, shape (n,)
        Edge strength at each point: step across it over the spread of chance steps beside it; negative where
        the step goes the wrong way.
    """

    points: FloatArray
    strength: FloatArray


def trace_outline(features: FloatArray, ellipse: Ellipse, reach: float, window: float) -> Outline:
    """Trace the outline near an ellipse.

    The strip from `reach` inside to `reach` outside of the ellipse is unrolled. In each feature the step
    across every place is the mean over `window` inside less that outside; features are added with the weight
    with which they tell inside from outside, all the way round. The closed path that gathers most edge at
    least bending is found by dynamic programming and placed between samples by a parabola.

    Parameters
    ----------
    features : array, shape (layers, rows, columns)
        What changes at the outline [-].
    ellipse : Ellipse
        Near it.
    reach : float
        Half the width of the strip [points].
    window : float
        Width of the bands compared on the two sides of a place [points].

    Returns
    -------
    Outline
        Points evenly spaced along the ellipse, in its order.

    References
    ----------
    Shortest paths in an unrolled picture: A. A. Amini, T. E. Weymouth, R. C. Jain, IEEE Trans. Pattern Anal.
    Mach. Intell. 12, 1990. The rest: own.

    Examples
    --------
    >>> y, x = np.mgrid[:120, :160]
    >>> layer = 1 / (1 + np.exp(np.hypot(x - 80, y - 60) - 40))
    >>> found = trace_outline(layer[None], Ellipse(81.0, 60.0, 42.0, 37.0, 0.0), 8.0, 4.0)
    >>> radii = np.hypot(found.points[:, 0] - 80, found.points[:, 1] - 60)
    >>> bool(np.abs(radii - 40).max() < 0.3)
    True
    """
    a, b = ellipse.a, ellipse.b
    perimeter = np.pi * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b)))
    t = ellipse.even_angles(int(np.clip(perimeter / SPACING, 96, 720)))
    margin = reach + window
    offsets = np.arange(-margin, margin + STEP / 2, STEP)
    places = ellipse.points(t)[:, None] + offsets[None, :, None] * ellipse.normals(t)[:, None]
    edge = _edge(_strips(features, places), round(window / STEP))
    inside_reach = np.abs(offsets) <= reach + 1e-9
    edge, offsets = edge[:, inside_reach], offsets[inside_reach]
    path = closed_path(_tempered(np.nan_to_num(edge, nan=0.0)))
    shift, strength = _between_samples(edge, path)
    away = offsets[path] + STEP * shift
    points = ellipse.points(t) + away[:, None] * ellipse.normals(t)
    return Outline(points, strength)


def _tempered(edge: FloatArray) -> FloatArray:
    """Keep single bright places from pulling the path; still rising, so that a clean edge keeps its top."""
    return np.clip(edge, -4.0, 8.0) + np.log1p(np.maximum(edge - 8.0, 0.0))


def _strips(features: FloatArray, places: FloatArray) -> FloatArray:
    where = [places[..., 1], places[..., 0]]
    strips = [map_coordinates(layer, where, order=1, mode="constant", cval=np.nan) for layer in features]
    return np.stack(strips)


def _edge(strips: FloatArray, window: int) -> FloatArray:
    """Edge strength at each place of the strips; NaN where the bands leave the picture."""
    taper = np.concatenate([np.ones(window), [0.0], -np.ones(window)]) / window
    steps = correlate1d(strips, taper, axis=2, mode="constant", cval=np.nan)
    steps = _smoothed_round(steps, 2.0)
    inner = steps[:, :, window:-window]
    typical = np.nanmedian(inner, axis=1)
    far = np.nanstd(inner - typical[:, None], axis=(1, 2)) + 1e-9
    best = typical[np.arange(len(typical)), np.nanargmax(np.abs(typical), axis=1)]
    weights = best / far
    joined = np.einsum("f,fij->ij", weights / np.sqrt((weights**2).sum() + 1e-12), steps / far[:, None, None])
    return np.asarray(joined, dtype=float)


def _smoothed_round(steps: FloatArray, width: float) -> FloatArray:
    there = np.isfinite(steps)
    weight = gaussian_filter1d(there.astype(float), width, axis=1, mode="wrap")
    total = gaussian_filter1d(np.where(there, steps, 0.0), width, axis=1, mode="wrap")
    return np.where(there, total / np.maximum(weight, 1e-9), np.nan)


def closed_path(edge: FloatArray) -> NDArray[np.intp]:
    """Find the closed path through an unrolled strip that gathers most edge at least bending.

    Parameters
    ----------
    edge : array, shape (n, m)
        Edge strength at n points along the strip, m places across [-].

    Returns
    -------
    array of int, shape (n,)
        The place at each point; neighbours, last and first too, differ by two at most.

    References
    ----------
    R. Bellman, Dynamic Programming, 1957. Closing: the path is walked twice round, the second time is kept.

    Examples
    --------
    >>> edge = np.zeros((50, 9))
    >>> edge[:, 5] = 1.0
    >>> set(closed_path(edge).tolist())
    {5}
    """
    twice = np.concatenate([edge, edge, edge[: len(edge) // 2]])
    moves = np.arange(-2, 3)
    cost = STIFFNESS * moves.astype(float)[:, None] ** 2
    columns = edge.shape[1]
    # Two unreachable places beyond each side save a test for the border at every step.
    padded = np.full(columns + 4, -np.inf)
    gathered = padded[2:-2]
    gathered[:] = twice[0]
    neighbours = np.lib.stride_tricks.sliding_window_view(padded, columns)
    choices = np.empty((5, columns))
    chosen = np.zeros(twice.shape, dtype=np.intp)
    for i in range(1, len(twice)):
        np.subtract(neighbours, cost, out=choices)
        choices.argmax(axis=0, out=chosen[i])
        np.maximum.reduce(choices, axis=0, out=gathered)
        gathered += twice[i]
    came_from = np.arange(columns) + moves[chosen]
    path = np.empty(len(twice), dtype=np.intp)
    path[-1] = gathered.argmax()
    for i in range(len(twice) - 1, 0, -1):
        path[i - 1] = came_from[i, path[i]]
    half = len(edge) // 2
    return np.roll(path[half : half + len(edge)], half)


def _between_samples(edge: FloatArray, path: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Top of the parabola through the edge strength at the path and on both sides of it."""
    rows = np.arange(len(path))
    middle = np.clip(path, 1, edge.shape[1] - 2)
    low, here, high = (edge[rows, middle + move] for move in (-1, 0, 1))
    bend = low - 2 * here + high
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, 0.5 * (low - high) / bend, 0.0)
    shift = np.where(np.abs(shift) <= 1, shift, 0.0) + (middle - path)
    return np.nan_to_num(shift), np.nan_to_num(edge[rows, path])


NARROWING = ((0.35, 0.20, False), (0.15, 0.12, False), (0.15, 0.08, True), (0.10, 0.06, True))
"""Reach and window as shares of the short half-axis, and whether brightness alone decides."""
RESAMPLES = 200
BLOCKS = 24


@dataclass(frozen=True, slots=True)
class ScarFit:
    """An outline with its ellipse.

    Parameters
    ----------
    ellipse : Ellipse
        The fit [points].
    outline : Outline
        The outline.
    away : array, shape (n,)
        Distance of each point of the outline from the ellipse, positive outside [points].
    weights : array, shape (n,)
        Weight of each point in the fit, 0 for outliers.
    """

    ellipse: Ellipse
    outline: Outline
    away: FloatArray
    weights: FloatArray

    @property
    def size(self) -> float:
        """Geometric mean of the half-axes [points]."""
        return float(np.sqrt(self.ellipse.a * self.ellipse.b))


def fit_scar(coarse: FloatArray, fine: FloatArray, start: Ellipse, direction: float) -> ScarFit:
    """Trace the outline near a guess and fit the ellipse, again and again in narrower strips.

    Parameters
    ----------
    coarse, fine : array, shape (layers, rows, columns)
        Features smoothed much and little [-]; the first layer is brightness.
    start : Ellipse
        The guess [points].
    direction : float
        Direction of the pin's axis in the picture [rad].

    Returns
    -------
    ScarFit
        The result of the narrowest strip; `a` is the axis along the pin.

    Raises
    ------
    ValueError
        If the outline is no ellipse, or leaves the picture.

    References
    ----------
    Definition of this package: the strips of `NARROWING`, in each the best closed path and an ellipse by
    least distance (`fit_ellipse`).

    Examples
    --------
    An oval of 60 by 40 points in noise, from a guess beside it:

    >>> from scipy.ndimage import gaussian_filter
    >>> y, x = np.mgrid[:160, :200]
    >>> noise = np.random.default_rng(1).normal(0.0, 0.3, x.shape)
    >>> layer = gaussian_filter((np.hypot((x - 100) / 60, (y - 80) / 40) < 1) + noise, 1.5)[None]
    >>> fit = fit_scar(layer, layer, Ellipse(98.0, 81.0, 58.0, 38.0, 0.0), 0.0)
    >>> [round(one) for one in (fit.ellipse.x, fit.ellipse.y, fit.ellipse.a, fit.ellipse.b)]
    [100, 80, 60, 40]
    """
    ellipse = start
    for reach, window, sharp in NARROWING:
        features = fine[:1] if sharp else coarse
        _require_room(ellipse, features.shape[1:])
        outline = trace_outline(features, ellipse, max(reach * ellipse.b, 6.0), max(window * ellipse.b, 4.0))
        ellipse = fit_ellipse(outline.points, ellipse)
    ellipse = ellipse.along(direction)
    away = ellipse.distances(outline.points)
    return ScarFit(ellipse, outline, away, tukey_weights(away))


def _require_room(ellipse: Ellipse, shape: tuple[int, ...]) -> None:
    rows, columns = shape
    points = ellipse.points(np.linspace(0, 2 * np.pi, 64))
    there = (points >= 0).all(axis=1) & (points[:, 0] < columns) & (points[:, 1] < rows)
    if there.mean() < 0.75 or min(ellipse.a, ellipse.b) < 6:
        raise ValueError("the outline leaves the picture, or is too small to trace")


def axis_spread(fit: ScarFit, rng: np.random.Generator) -> tuple[float, float]:
    """Compute the standard deviations of both axes by resampling stretches of the outline.

    The outline is cut into 24 stretches, drawn with replacement, because neighbouring points share their
    error. Each resample moves the ellipse by one weighted Gauss-Newton step.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    tuple of float
        Standard deviations of the whole axes 2a and 2b [points].

    References
    ----------
    Block bootstrap: H. R. Künsch, Annals of Statistics 17, 1989.

    Examples
    --------
    An outline that is off by 0.3 points, independently from place to place:

    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> away = np.random.default_rng(1).normal(0.0, 0.3, t.size)
    >>> fit = ScarFit(ellipse, outline, away, np.ones(t.size))
    >>> [round(one, 2) for one in axis_spread(fit, np.random.default_rng(2))]
    [0.06, 0.05]
    """
    ellipse, points = fit.ellipse, fit.outline.points
    t = ellipse.nearest_angles(points)
    slopes = _axis_slopes(ellipse, t)
    blocks = np.array_split(np.arange(len(points)), BLOCKS)
    starts = [block[0] for block in blocks]
    weighted = fit.weights[:, None] * slopes
    # Each stretch adds the same to the normal equations in every resample, so compute it once.
    left = np.add.reduceat(weighted[:, :, None] * slopes[:, None, :], starts)
    right = np.add.reduceat(weighted * fit.away[:, None], starts)
    drawn = rng.integers(0, BLOCKS, (RESAMPLES, BLOCKS))
    times = (drawn[:, :, None] == np.arange(BLOCKS)).sum(axis=1).astype(float)
    squares, products = np.einsum("rb,bij->rij", times, left), times @ right
    # The turn of a circle is not determined; the pseudo-inverse leaves it unchanged.
    inverse = np.linalg.pinv(squares, rcond=1e-12, hermitian=True)
    steps = np.einsum("rij,rj->ri", inverse, products)[:, 2:4]
    spread = 2 * np.std(steps, axis=0, ddof=1)
    return float(spread[0]), float(spread[1])


def _axis_slopes(ellipse: Ellipse, t: FloatArray) -> FloatArray:
    """How far the outline moves along its normal for a change of x, y, a, b; and for a turn."""
    u, v = np.cos(t) / ellipse.a, np.sin(t) / ellipse.b
    along, across = u / np.hypot(u, v), v / np.hypot(u, v)
    turned = across * ellipse.a * np.cos(t) - along * ellipse.b * np.sin(t)
    return np.column_stack([along, across, along * np.cos(t), across * np.sin(t), turned])


def outline_area(fit: ScarFit, shape: tuple[int, int]) -> float:
    """Count the points of the picture inside the outline; where it was an outlier the ellipse stands in.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    shape : tuple of int
        Rows and columns of the picture.

    Returns
    -------
    float
        Area [points²].

    References
    ----------
    Points of a grid in a polygon by the crossing count, scikit-image ``grid_points_in_poly``.

    Examples
    --------
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(ellipse, outline, np.zeros(t.size), np.ones(t.size))
    >>> round(outline_area(fit, (160, 200)) / ellipse.area, 2)
    1.0
    """
    t = fit.ellipse.nearest_angles(fit.outline.points)
    points = np.where(fit.weights[:, None] > 0, fit.outline.points, fit.ellipse.points(t))
    # Look only at the part of the picture around the outline.
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + 2, shape[::-1])
    size = int(high[1] - low[1]), int(high[0] - low[0])
    return float(grid_points_in_poly(size, (points - low)[:, ::-1]).sum())

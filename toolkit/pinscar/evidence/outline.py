"""The outline of a scar to a fraction of a point: the best path through the unrolled strip along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import correlate1d, gaussian_filter1d, map_coordinates

from pinscar.evidence.ellipse import Ellipse

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
        What changes at the outline.
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
    path = closed_path(np.clip(np.nan_to_num(edge, nan=0.0), -4.0, 8.0))
    shift, strength = _between_samples(edge, path)
    away = offsets[path] + STEP * shift
    points = ellipse.points(t) + away[:, None] * ellipse.normals(t)
    return Outline(points, strength)


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
        Edge strength at n points along the strip, m places across.

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
    # Two places beyond each side that no path goes through spare a look at the border at every step.
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

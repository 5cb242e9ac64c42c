"""From a rough guess of an oval to its outline and ellipse, in strips that grow narrower and sharper."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.measure import grid_points_in_poly

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.ellipse_fit import fit_ellipse, tukey_weights
from pinscar.evidence.outline import Outline, trace_outline

FloatArray = NDArray[np.float64]
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
        Features smoothed much and little; the first layer is brightness.
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
    """
    ellipse, points = fit.ellipse, fit.outline.points
    t = ellipse.nearest_angles(points)
    slopes = _axis_slopes(ellipse, t)
    blocks = np.array_split(np.arange(len(points)), BLOCKS)
    starts = [block[0] for block in blocks]
    weighted = fit.weights[:, None] * slopes
    # What a stretch adds to the normal equations is the same in each resample.
    left = np.add.reduceat(weighted[:, :, None] * slopes[:, None, :], starts)
    right = np.add.reduceat(weighted * fit.away[:, None], starts)
    drawn = rng.integers(0, BLOCKS, (RESAMPLES, BLOCKS))
    times = (drawn[:, :, None] == np.arange(BLOCKS)).sum(axis=1).astype(float)
    squares, products = np.einsum("rb,bij->rij", times, left), times @ right
    # Of a circle the turn is undetermined: the pseudo-inverse leaves it alone.
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
    """
    t = fit.ellipse.nearest_angles(fit.outline.points)
    points = np.where(fit.weights[:, None] > 0, fit.outline.points, fit.ellipse.points(t))
    # Only the part of the picture round the outline is looked through.
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + 2, shape[::-1])
    size = int(high[1] - low[1]), int(high[0] - low[0])
    return float(grid_points_in_poly(size, (points - low)[:, ::-1]).sum())

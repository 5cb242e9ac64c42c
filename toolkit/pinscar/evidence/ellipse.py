"""An ellipse in a picture: points, normals, distances, and its fit to points.

The direct algebraic fit comes first, then the robust fit of least distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.evidence.recorder import TO_SD

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse; `a` is the half-axis along `angle`, not always the longer one.

    Parameters
    ----------
    x, y : float
        Centre: column and row [points].
    a, b : float
        Half-axes along `angle` and across it [points].
    angle : float
        Direction of `a`, from the image's x axis towards its y axis, that is downwards [rad].

    References
    ----------
    Analytic geometry of the ellipse in its eccentric angle; nearest points by Newton steps on the squared
    distance: S. J. Ahn, W. Rauh and H.-J. Warnecke, Pattern Recognition 34, 2001.

    Examples
    --------
    >>> round(Ellipse(0.0, 0.0, 2.0, 1.0, 0.0).area, 4)
    6.2832
    """

    x: float
    y: float
    a: float
    b: float
    angle: float

    @property
    def area(self) -> float:
        """Area [points²]."""
        return float(np.pi * self.a * self.b)

    def points(self, t: ArrayLike) -> FloatArray:
        """Give the points at the eccentric angles.

        Parameters
        ----------
        t : array
            Eccentric angles [rad].

        Returns
        -------
        array, shape (n, 2)
            Columns and rows [points].
        """
        u, v = self.a * np.cos(t), self.b * np.sin(t)
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.stack([self.x + u * c - v * s, self.y + u * s + v * c], axis=-1)

    def normals(self, t: ArrayLike) -> FloatArray:
        """Give the outward unit normals at the eccentric angles.

        Parameters
        ----------
        t : array
            Eccentric angles [rad].

        Returns
        -------
        array, shape (n, 2)
            Unit vectors.
        """
        u, v = np.cos(t) / self.a, np.sin(t) / self.b
        size = np.sqrt(u * u + v * v)
        u, v = u / size, v / size
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.stack([u * c - v * s, u * s + v * c], axis=-1)

    def even_angles(self, count: int) -> FloatArray:
        """Give eccentric angles of points that divide the outline evenly.

        Parameters
        ----------
        count : int
            How many.

        Returns
        -------
        array, shape (count,)
            Eccentric angles [rad].
        """
        t = np.linspace(0, 2 * np.pi, 721)
        way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.points(t), axis=0).T))])
        return np.asarray(np.interp(np.arange(count) / count * way[-1], way, t), dtype=np.float64)

    def nearest_angles(
        self, points: ArrayLike, start: FloatArray | None = None, tolerance: float = 1e-11
    ) -> FloatArray:
        """Give the eccentric angles of the points of the outline nearest to other points.

        Parameters
        ----------
        points : array, shape (n, 2)
            Columns and rows [points].
        start : array, shape (n,), optional
            Angles near the ones looked for [rad].
        tolerance : float, optional
            Largest last step [rad].

        Returns
        -------
        array, shape (n,)
            Eccentric angles [rad].
        """
        offset = np.asarray(points, dtype=float) - (self.x, self.y)
        c, s = np.cos(self.angle), np.sin(self.angle)
        u, v = offset[:, 0] * c + offset[:, 1] * s, offset[:, 1] * c - offset[:, 0] * s
        t = np.arctan2(v / self.b, u / self.a) if start is None else start
        for _ in range(8):
            nu, nv = self.a * np.cos(t), self.b * np.sin(t)
            du, dv = u - nu, v - nv
            tu, tv = -self.a / self.b * nv, self.b / self.a * nu
            slope = du * tu + dv * tv
            # Second derivative of the squared distance; kept positive so that each step goes downhill.
            bend = tu**2 + tv**2 + np.maximum(du * nu + dv * nv, 0)
            step = slope / bend
            t = t + step
            if np.abs(step).max(initial=0.0) < tolerance:
                break
        return np.asarray(t, dtype=np.float64)

    def distances(self, points: ArrayLike) -> FloatArray:
        """Give the signed distances of points from the outline, positive outside.

        Parameters
        ----------
        points : array, shape (n, 2)
            Columns and rows [points].

        Returns
        -------
        array, shape (n,)
            Distances [points].
        """
        t = self.nearest_angles(points)
        away = np.asarray(points, dtype=float) - self.points(t)
        return np.asarray(np.einsum("ij,ij->i", away, self.normals(t)), dtype=np.float64)

    def along(self, direction: float) -> Ellipse:
        """Name the axes anew, so that `a` is the axis nearer a direction.

        Parameters
        ----------
        direction : float
            The direction, as `angle` is counted [rad].

        Returns
        -------
        Ellipse
            The same ellipse, `angle` within 45 degrees of the direction.
        """
        quarter = round((self.angle - direction) / (np.pi / 2))
        a, b = (self.b, self.a) if quarter % 2 else (self.a, self.b)
        return Ellipse(self.x, self.y, a, b, self.angle - quarter * np.pi / 2)


TUKEY = 4.685
"""Where Tukey's biweight gives no weight, in standard deviations; 95 % efficient on normal errors."""


def direct_ellipse(points: ArrayLike) -> Ellipse:
    """Fit an ellipse by algebraic least squares with the constraint that it is one.

    Parameters
    ----------
    points : array, shape (n, 2)
        Columns and rows, five or more [points].

    Returns
    -------
    Ellipse
        The fit.

    Raises
    ------
    ValueError
        If there are fewer than five points, or they don't lie on anything like an ellipse.

    References
    ----------
    R. Halíř, J. Flusser, Numerically stable direct least squares fitting of ellipses, Proc. WSCG, 1998.

    Examples
    --------
    >>> t = np.linspace(0, 6, 20)
    >>> fit = direct_ellipse(Ellipse(10.0, 20.0, 5.0, 3.0, 0.3).points(t)).along(0.0)
    >>> [round(v, 6) for v in (fit.x, fit.y, fit.a, fit.b, fit.angle)]
    [10.0, 20.0, 5.0, 3.0, 0.3]
    """
    found = np.asarray(points, dtype=float)
    if found.ndim != 2 or found.shape[1] != 2 or len(found) < 5:
        raise ValueError(f"an ellipse takes five points or more, as rows of two; the shape is {found.shape}")
    centre, size = found.mean(axis=0), max(float(found.std()), 1e-12)
    spans = np.linalg.svd(found - centre, compute_uv=False)
    if spans[1] < 1e-9 * max(spans[0], 1e-12):
        raise ValueError("points on a line don't lie on an ellipse")
    x, y = ((found - centre) / size).T
    square, linear = np.column_stack([x**2, x * y, y**2]), np.column_stack([x, y, np.ones_like(x)])
    mixed = square.T @ linear
    tie = -np.linalg.pinv(linear.T @ linear) @ mixed.T
    reduced = square.T @ square + mixed @ tie
    _, vectors = np.linalg.eig(np.array([reduced[2] / 2, -reduced[1], reduced[0] / 2]))
    real = vectors.real
    chosen = np.flatnonzero(4 * real[0] * real[2] - real[1] ** 2 > 0)
    if not chosen.size:
        raise ValueError("the points don't lie on anything like an ellipse")
    quadratic = real[:, chosen[0]]
    return _from_conic(np.concatenate([quadratic, tie @ quadratic]), centre, size)


def _from_conic(conic: FloatArray, centre: FloatArray, size: float) -> Ellipse:
    a, b, c, d, e, f = conic
    matrix = np.array([[a, b / 2], [b / 2, c]])
    middle = np.linalg.solve(2 * matrix, [-d, -e])
    level = -(f + 0.5 * (d * middle[0] + e * middle[1]))
    values, vectors = np.linalg.eigh(matrix / level)
    if (values <= 0).any():
        raise ValueError("the points don't lie on anything like an ellipse")
    half = size / np.sqrt(values)
    x, y = centre + size * middle
    return Ellipse(
        float(x), float(y), float(half[0]), float(half[1]), float(np.arctan2(vectors[1, 0], vectors[0, 0]))
    )


def fit_ellipse(
    points: ArrayLike, start: Ellipse | None = None, robust: bool = True, tolerance: float = 1e-9
) -> Ellipse:
    """Fit an ellipse by least distance from the points; far ones lose their weight.

    Parameters
    ----------
    points : array, shape (n, 2)
        Columns and rows [points].
    start : Ellipse, optional
        Where to start; the direct fit where not given.
    robust : bool, optional
        Whether to weigh by Tukey's biweight.
    tolerance : float, optional
        Largest last step, as a share of the half-axis [-].

    Returns
    -------
    Ellipse
        The fit.

    Raises
    ------
    ValueError
        If the points don't determine an ellipse.

    References
    ----------
    Gauss-Newton on orthogonal distances: S. J. Ahn, W. Rauh, H.-J. Warnecke, Pattern Recognition 34, 2001.
    Weights: A. E. Beaton, J. W. Tukey, Technometrics 16, 1974.

    Examples
    --------
    >>> points = Ellipse(10.0, 20.0, 5.0, 3.0, 0.3).points(np.linspace(0, 6, 40))
    >>> points[3] += 2
    >>> round(fit_ellipse(points).a, 4)
    5.0
    """
    found = np.asarray(points, dtype=float)
    ellipse = direct_ellipse(found) if start is None else start
    t: FloatArray | None = None
    for _ in range(30):
        # A foot that is off by a small angle is off the distance by its square only.
        t = ellipse.nearest_angles(found, t, min(1e-3, tolerance))
        away, slopes = _away_and_slopes(ellipse, found, t)
        weighted = slopes * tukey_weights(away) if robust else slopes
        # The turn of a circle is not determined; least squares of least norm leaves it unchanged.
        step = np.linalg.lstsq(weighted @ slopes.T, weighted @ away, rcond=1e-13)[0]
        half = np.maximum([ellipse.a + step[2], ellipse.b + step[3]], (ellipse.a / 2, ellipse.b / 2))
        turn = ellipse.angle + float(np.clip(step[4], -0.5, 0.5))
        ellipse = Ellipse(
            float(ellipse.x + step[0]), float(ellipse.y + step[1]), float(half[0]), float(half[1]), turn
        )
        if np.abs(step[:4]).max() < tolerance * ellipse.a:
            break
    if not np.isfinite([ellipse.a, ellipse.b]).all():
        raise ValueError("the points don't determine an ellipse")
    return ellipse


def tukey_weights(away: FloatArray) -> FloatArray:
    """Weigh residuals by Tukey's biweight, scaled by their median size.

    Parameters
    ----------
    away : array, shape (n,)
        Residuals [any unit].

    Returns
    -------
    array, shape (n,)
        Weights from 0 to 1.

    References
    ----------
    A. E. Beaton, J. W. Tukey, Technometrics 16, 1974.

    Examples
    --------
    >>> tukey_weights(np.array([0.0, 1.0, -1.0, 100.0])).round(2).tolist()
    [1.0, 0.96, 0.96, 0.0]
    """
    share = away / (TUKEY * max(_spread(away), 1e-9))
    return np.asarray(np.maximum(1 - share * share, 0.0) ** 2)


def _spread(away: FloatArray) -> float:
    """Estimate as `robust_sd` does; a fit asks a hundred times for it, of few numbers each time."""
    sizes, half = np.abs(away), away.size // 2
    sizes.partition(half)
    below = sizes[half] if away.size % 2 else sizes[:half].max()
    return TO_SD * float(sizes[half] + below) / 2


def _away_and_slopes(ellipse: Ellipse, points: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distances of points from their feet, and how far the outline moves there along its normal.

    The slopes, shape (5, n), are for a change of x, y, a, b and angle.
    """
    cos, sin = np.cos(t), np.sin(t)
    nu, nv = cos / ellipse.a, sin / ellipse.b
    size = np.sqrt(nu * nu + nv * nv)
    nu /= size
    nv /= size
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    x, y = points[:, 0] - ellipse.x, points[:, 1] - ellipse.y
    away = (x * c + y * s - ellipse.a * cos) * nu + (y * c - x * s - ellipse.b * sin) * nv
    slopes = np.empty((5, t.size))
    slopes[0], slopes[1] = nu * c - nv * s, nu * s + nv * c
    slopes[2], slopes[3] = nu * cos, nv * sin
    slopes[4] = nv * (ellipse.a * cos) - nu * (ellipse.b * sin)
    return away, slopes

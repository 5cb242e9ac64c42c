"""An ellipse in a picture: points, normals, distances, and its fit to points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
        return np.column_stack([self.x + u * c - v * s, self.y + u * s + v * c])

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
        size = np.hypot(u, v)
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.column_stack([(u * c - v * s) / size, (u * s + v * c) / size])

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

    def nearest_angles(self, points: ArrayLike) -> FloatArray:
        """Give the eccentric angles of the points of the outline nearest to other points.

        Parameters
        ----------
        points : array, shape (n, 2)
            Columns and rows [points].

        Returns
        -------
        array, shape (n,)
            Eccentric angles [rad].
        """
        offset = np.asarray(points, dtype=float) - (self.x, self.y)
        c, s = np.cos(self.angle), np.sin(self.angle)
        u, v = offset[:, 0] * c + offset[:, 1] * s, offset[:, 1] * c - offset[:, 0] * s
        t = np.arctan2(v / self.b, u / self.a)
        for _ in range(8):
            du, dv = u - self.a * np.cos(t), v - self.b * np.sin(t)
            tu, tv = -self.a * np.sin(t), self.b * np.cos(t)
            slope = du * tu + dv * tv
            # Second derivative of the squared distance; kept positive so that each step goes downhill.
            bend = tu**2 + tv**2 + np.maximum(du * self.a * np.cos(t) + dv * self.b * np.sin(t), 0)
            step = slope / bend
            t = t + step
            if np.abs(step).max(initial=0.0) < 1e-13:
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

"""The rim of a scar as a curve: an ellipse, and waves round it where the scar is clearly no ellipse."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.evidence.ellipse import Ellipse, fit_ellipse, tukey_weights

FloatArray = NDArray[np.float64]
WAVES = 10
"""Highest number of waves round the rim."""
ODD = 0.02
"""Root mean square of the waves, over the size of the ellipse, from which a rim is taken for no ellipse.

A worn edge wanders by about one per cent of the half-axes; teardrops and flat ends are off by three."""


WELL_SEEN = 0.9
"""Share of the rim that must be clear before it can be said to be no ellipse."""


@dataclass(frozen=True, slots=True)
class Rim:
    """A closed curve: points of an ellipse, moved along its normals by waves of its eccentric angle.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse [points].
    waves : array, shape (2 m + 1,)
        Mean, then cosine and sine of each number of waves [points]; empty for the ellipse itself.

    References
    ----------
    Fourier series along the normals of an ellipse.

    Examples
    --------
    >>> wider = Rim(Ellipse(0.0, 0.0, 50.0, 30.0, 0.0), np.array([2.0] + 20 * [0.0]))
    >>> wider.points(np.array([0.0])).round(6).tolist()
    [[52.0, 0.0]]
    """

    ellipse: Ellipse
    waves: FloatArray = field(default_factory=lambda: np.empty(0))

    @property
    def oval(self) -> bool:
        """Whether it is the ellipse itself."""
        return self.waves.size == 0

    def offsets(self, t: ArrayLike) -> FloatArray:
        """Give the distance from the ellipse along its normals.

        Parameters
        ----------
        t : array, shape (n,)
            Eccentric angles [rad].

        Returns
        -------
        array, shape (n,)
            Distances, positive outside [points].
        """
        angles = np.asarray(t, dtype=float)
        return np.zeros(angles.shape) if self.oval else np.asarray(wave_terms(angles) @ self.waves)

    def points(self, t: ArrayLike) -> FloatArray:
        """Give the points at the eccentric angles.

        Parameters
        ----------
        t : array, shape (n,)
            Eccentric angles [rad].

        Returns
        -------
        array, shape (n, 2)
            Columns and rows [points].
        """
        points = self.ellipse.points(t)
        return points if self.oval else points + self.offsets(t)[:, None] * self.ellipse.normals(t)

    def normals(self, t: ArrayLike) -> FloatArray:
        """Give the outward unit normals at the eccentric angles.

        Parameters
        ----------
        t : array, shape (n,)
            Eccentric angles [rad].

        Returns
        -------
        array, shape (n, 2)
            Unit vectors.
        """
        if self.oval:
            return self.ellipse.normals(t)
        angles = np.asarray(t, dtype=float)
        along = self.points(angles + 1e-3) - self.points(angles - 1e-3)
        across = np.column_stack([along[:, 1], -along[:, 0]])
        return np.asarray(across / np.hypot(*across.T)[:, None])

    def distances(self, points: ArrayLike) -> FloatArray:
        """Give the distances of points from the curve along the ellipse's normals, positive outside.

        Parameters
        ----------
        points : array, shape (n, 2)
            Columns and rows [points].

        Returns
        -------
        array, shape (n,)
            Distances [points].
        """
        return self.ellipse.distances(points) - self.offsets(self.ellipse.nearest_angles(points))


def wave_terms(t: FloatArray) -> FloatArray:
    """Give the terms of the waves at eccentric angles: one, then cosine and sine of each number of waves.

    Parameters
    ----------
    t : array, shape (n,)
        Eccentric angles [rad].

    Returns
    -------
    array, shape (n, 2 WAVES + 1)
        The terms.

    References
    ----------
    Fourier series.

    Examples
    --------
    >>> wave_terms(np.array([0.0]))[0, :3].tolist()
    [1.0, 1.0, 0.0]
    """
    orders = np.arange(1, WAVES + 1)
    turned = np.outer(t, orders)
    out = np.ones((len(t), 2 * WAVES + 1))
    out[:, 1::2], out[:, 2::2] = np.cos(turned), np.sin(turned)
    return out


def fit_rim(
    points: ArrayLike, start: Ellipse, clear: NDArray[np.bool_] | None = None, tolerance: float = 1e-4
) -> Rim:
    """Fit an ellipse to an outline, and waves round it where the outline clearly is no ellipse.

    Parameters
    ----------
    points : array, shape (n, 2)
        The outline, columns and rows [points].
    start : Ellipse
        Where to start [points].
    clear : array of bool, shape (n,), optional
        Where the edge is clear. Other places are left out, unless that would leave less than half.
    tolerance : float, optional
        Largest last step of the ellipse's fit, as a share of the half-axis [-].

    Returns
    -------
    Rim
        The curve.

    Raises
    ------
    ValueError
        If the points don't determine an ellipse.

    References
    ----------
    Least distance from an ellipse: `fit_ellipse`. Waves by least squares, far points losing their weight:
    A. E. Beaton, J. W. Tukey, Technometrics 16, 1974.

    Examples
    --------
    A rectangle with rounded ends is no ellipse:

    >>> t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> ends = np.column_stack([np.clip(60 * np.cos(t), -45, 45), 30 * np.sin(t)])
    >>> rim = fit_rim(ends, Ellipse(0.0, 0.0, 50.0, 30.0, 0.0))
    >>> rim.oval, round(float(np.ptp(rim.points(t)[:, 0]))), round(float(np.ptp(rim.points(t)[:, 1])))
    (False, 91, 60)
    >>> fit_rim(Ellipse(0.0, 0.0, 50.0, 30.0, 0.0).points(t), Ellipse(1.0, 0.0, 48.0, 30.0, 0.0)).oval
    True
    """
    found = np.asarray(points, dtype=float)
    if clear is not None and clear.mean() > 0.5:
        found = found[clear]
    ellipse = fit_ellipse(found, start, tolerance=tolerance)
    t = ellipse.nearest_angles(found)
    away = np.einsum("ij,ij->i", found - ellipse.points(t), ellipse.normals(t))
    if clear is not None and clear.mean() < WELL_SEEN:
        # Waves would swing where nothing of the rim is seen.
        return Rim(ellipse)
    size = float(np.sqrt(ellipse.a * ellipse.b))
    if float(np.sqrt(np.mean(away**2))) < 0.7 * ODD * size:
        # Waves through such points are smaller still.
        return Rim(ellipse)
    waves = _robust_waves(wave_terms(t), away)
    even = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    if float(np.sqrt(np.mean((wave_terms(even) @ waves) ** 2))) < ODD * size:
        return Rim(ellipse)
    return Rim(ellipse, waves)


def _robust_waves(terms: FloatArray, away: FloatArray) -> FloatArray:
    weights = np.ones(len(away))
    for _ in range(3):
        weighted = weights[:, None] * terms
        # A little stiffness, more for finer waves, keeps gaps in the outline from swinging.
        stiff = 1e-3 * len(away) * (np.repeat(np.arange(WAVES + 1), 2)[1:] / WAVES) ** 4
        waves = np.linalg.solve(weighted.T @ terms + np.diag(stiff), weighted.T @ away)
        weights = tukey_weights(away - terms @ waves)
    return np.asarray(waves)


SLENDER = 0.35
"""Width over length under which an oval is called slender."""


def shape_of(rim: Rim) -> str:
    """Name the shape of a rim by its width at several places along its length.

    Parameters
    ----------
    rim : Rim
        The rim [points].

    Returns
    -------
    str
        ``oval``, ``slender``, ``teardrop`` (one half wider, as of a tilted pin), ``two lobes`` (a waist in
        the middle), ``flat-ended`` or ``irregular``.

    References
    ----------
    Own definition. An ellipse is 0.53 of its width wide at 0.85 of its half-length.

    Examples
    --------
    >>> t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> start = Ellipse(0.0, 0.0, 50.0, 30.0, 0.0)
    >>> shape_of(Rim(start))
    'oval'
    >>> shape_of(fit_rim(np.column_stack([np.clip(60 * np.cos(t), -45, 45), 30 * np.sin(t)]), start))
    'flat-ended'
    >>> drop = np.column_stack([50 * np.cos(t), 30 * np.sin(t) * (1 + 0.3 * np.cos(t))])
    >>> shape_of(fit_rim(drop, start))
    'teardrop'
    """
    ellipse = rim.ellipse
    if rim.oval:
        return "oval" if min(ellipse.a, ellipse.b) > SLENDER * max(ellipse.a, ellipse.b) else "slender"
    points = rim.points(np.linspace(0, 2 * np.pi, 1440, endpoint=False)) - (ellipse.x, ellipse.y)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    along, across = points[:, 0] * c + points[:, 1] * s, points[:, 1] * c - points[:, 0] * s
    place = 2 * (along - along.min()) / np.ptp(along) - 1
    back, waist, front, tail, head = (
        float(np.ptp(across[np.abs(place - one) < 0.04])) for one in (-0.5, 0.0, 0.5, -0.85, 0.85)
    )
    widest = max(back, waist, front)
    if abs(front - back) > 0.15 * widest:
        return "teardrop"
    if waist < 0.95 * min(front, back):
        return "two lobes"
    # Flat ends stop short of the ellipse's; glare on a long side makes blunt ends too, but no shorter scar.
    flat = (tail + head) / 2 > 0.65 * widest and np.ptp(along) < 0.97 * 2 * ellipse.a
    return "flat-ended" if flat else "irregular"

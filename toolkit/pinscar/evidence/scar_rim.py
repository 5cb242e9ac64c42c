"""The rim of a scar: what changes there (brightness, scratches, a rolled lip), and its curve."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import gaussian_filter

from pinscar.evidence.ellipse import Ellipse, fit_ellipse, tukey_weights
from pinscar.evidence.grey import between_points
from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
GREY_LEVEL = 1 / 255
"""One level of a picture of 8 bits [-]."""


@dataclass(frozen=True, slots=True)
class Layers:
    """Layers of a picture, perhaps coarser than the picture itself.

    Parameters
    ----------
    values : array, shape (rows, columns, layers)
        The layers [-]; NaN where nothing is seen.
    block : int
        Side of the square of points that each value stands for [points].

    References
    ----------
    Bilinear interpolation.

    Examples
    --------
    >>> ramp = Layers(np.arange(4.0)[None, :, None] * np.ones((3, 1, 1)), block=2)
    >>> ramp.at(np.array([2.5]), np.array([1.0])).tolist()
    [[1.0]]
    """

    values: FloatArray
    block: int = 1

    def at(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Interpolate at places of the picture.

        Parameters
        ----------
        x, y : array, of one shape
            Columns and rows of the picture [points].

        Returns
        -------
        array, shape of the places and (layers,)
            The values; NaN where nothing is seen.
        """
        if self.block == 1:
            return between_points(self.values, y, x)
        return between_points(self.values, (y + 0.5) / self.block - 0.5, (x + 0.5) / self.block - 0.5)


def slopes(logarithm: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
    """Compute the slopes of brightness that scratches make.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it [-].
    width : float
        Standard deviation of the smoothing before the slopes are taken [points].

    Returns
    -------
    tuple of array, shape (rows, columns)
        Slopes along x and along y, their size limited to three times its median, so that one speck of dirt
        does not outweigh a whole neighbourhood [1/point].

    References
    ----------
    Own definition.

    Examples
    --------
    Lines along x: brightness changes along y only.

    >>> lines = np.random.default_rng(1).random((60, 1)) * np.ones((1, 80))
    >>> gx, gy = slopes(lines, 1.0)
    >>> bool(np.abs(gx).max() == 0 and np.abs(gy).mean() > 0)
    True
    """
    gy, gx = np.gradient(gaussian_filter(logarithm, width, truncate=3))
    limit = np.sqrt(gx * gx + gy * gy)
    bound = 3 * float(np.median(limit[::2, ::2]))
    if bound > 0:
        np.divide(bound, np.maximum(limit, bound, out=limit), out=limit)
        gx *= limit
        gy *= limit
    return np.asarray(gx), np.asarray(gy)


def block_means(layer: FloatArray, block: int) -> FloatArray:
    """Average over squares of `block` points; the last ones are filled up by repeating the border.

    Parameters
    ----------
    layer : array, shape (rows, columns)
        A layer of a picture [any unit].
    block : int
        Side of a square [points].

    Returns
    -------
    array
        The means.

    References
    ----------
    Arithmetic mean.

    Examples
    --------
    >>> block_means(np.arange(8.0).reshape(2, 4), 2).tolist()
    [[2.5, 4.5]]
    """
    rows, columns = layer.shape
    high, wide = -(-rows // block), -(-columns // block)
    whole = np.pad(layer, ((0, high * block - rows), (0, wide * block - columns)), mode="edge")
    # Sums of every block-th row, then column: many times as fast as a mean over two short axes.
    strips = sum((whole[i::block] for i in range(1, block)), whole[0::block])
    sums = sum((strips[:, i::block] for i in range(1, block)), strips[:, 0::block])
    return np.asarray(sums / block**2)


def scar_features(
    logarithm: FloatArray, seen: BoolArray, grain: float, block: int, least: float = 0.0
) -> tuple[Layers, Layers]:
    """Compute the features that change at the outline of a scar, coarse ones and sharp ones.

    Four coarse layers: the logarithm of brightness; the two components of the direction of scratches,
    (Jyy - Jxx) / (J + n) and 2 Jxy / (J + n), from the structure tensor with J = Jxx + Jyy; and its strength,
    log(J + n). n keeps places without scratches from telling anything. Ground pin and scar are scratched
    across each other, so these change even where brightness doesn't.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it [-].
    seen : array of bool, shape (rows, columns)
        As `seen_part` gives it.
    grain : float
        The finest detail [points].
    block : int
        Side of the squares of the coarse layers [points].
    least : float, optional
        Smallest change of the logarithm of brightness that is taken for one [-].

    Returns
    -------
    tuple of Layers
        Coarse layers, each scaled to a robust standard deviation of 1; and sharp ones: the logarithm of
        brightness, and its slopes along x and y over the mean strength of scratches around.

    References
    ----------
    Structure tensor: J. Bigün, G. H. Granlund, Proc. 1st Int. Conf. on Computer Vision, 1987. The choice of
    layers: own.

    Examples
    --------
    >>> logarithm = np.random.default_rng(1).normal(size=(80, 92))
    >>> coarse, sharp = scar_features(logarithm, np.ones((80, 92), dtype=bool), 1.0, 4)
    >>> coarse.values.shape, sharp.values.shape
    ((20, 23, 4), (80, 92, 3))
    """
    slope = slopes(logarithm, max(grain, 1.0))
    coarse, total, _ = _smoothed_layers(logarithm, seen, slope, (8 * grain, 2 * grain), block, least)
    sharp = _sharp(logarithm, slope, total, grain, block)
    sharp[~seen] = np.nan
    return coarse, Layers(sharp)


def fine_layers(
    logarithm: FloatArray, seen: BoolArray, grain: float, block: int = 2, least: float = 0.0
) -> Layers:
    """Compute the coarse layers of `scar_features` anew, smoothed less; only brightness is scaled.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it [-].
    seen : array of bool, shape (rows, columns)
        As `seen_part` gives it.
    grain : float
        The finest detail [points].
    block : int, optional
        Side of the squares [points].
    least : float, optional
        Smallest change of the logarithm of brightness that is taken for one [-].

    Returns
    -------
    Layers
        Brightness, scaled to a robust standard deviation of 1; both components of the direction of scratches,
        and the logarithm of their strength [-].

    References
    ----------
    As `scar_features`.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> fine_layers(rng.random((80, 92)), np.ones((80, 92), dtype=bool), 1.0).values.shape
    (40, 46, 4)
    """
    slope = slopes(logarithm, max(grain, 1.0))
    layers, _, spread = _smoothed_layers(logarithm, seen, slope, (3 * grain, grain), block, least)
    layers.values[..., 1:] *= spread[1:]
    return layers


def _smoothed_layers(
    logarithm: FloatArray,
    seen: BoolArray,
    slope: tuple[FloatArray, FloatArray],
    widths: tuple[float, float],
    block: int,
    least: float,
) -> tuple[Layers, FloatArray, FloatArray]:
    """Brightness, direction and strength of scratches in squares; their strength unscaled; and the scales.

    The widths are the standard deviations of the smoothing of scratches and of brightness [points].
    """
    gx, gy = slope
    there = block_means(seen.astype(float), block)
    wide = widths[0] / block
    weight = np.maximum(gaussian_filter(there, wide), 1e-6)
    part = seen.astype(float) if not seen.all() else None
    jxx, jyy, jxy = (
        gaussian_filter(block_means(one if part is None else one * part, block), wide) / weight
        for one in (gx * gx, gy * gy, gx * gy)
    )
    total = jxx + jyy + _level(jxx + jyy, there, least)
    tone = gaussian_filter(block_means(logarithm, block), max(widths[1] / block, 0.5))
    stack = np.stack([tone, (jyy - jxx) / total, 2 * jxy / total, np.log(total)], axis=-1)
    spread = np.array(
        [robust_sd(one[there > 0.5] - np.median(one[there > 0.5])) for one in np.moveaxis(stack, -1, 0)]
    )
    spread = np.maximum(spread, (max(least, 1e-6), 0.01, 0.01, 0.02))
    return Layers(np.where(there[..., None] > 0.5, stack / spread, np.nan), block), total, spread


def _level(total: FloatArray, there: FloatArray, least: float) -> float:
    """Give the strength of scratches that is taken for none."""
    return max(0.3 * float(np.median(total[there > 0.5])), (0.1 * least) ** 2, 1e-14)


def _sharp(
    logarithm: FloatArray, slope: tuple[FloatArray, FloatArray], total: FloatArray, grain: float, block: int
) -> FloatArray:
    """Brightness, and slopes over the root of the mean strength of scratches around them."""
    rows, columns = logarithm.shape
    around = 1 / np.sqrt(total)
    around = np.repeat(np.repeat(around, block, axis=0), block, axis=1)[:rows, :columns]
    tone = gaussian_filter(logarithm, 0.7 * grain, truncate=3)
    return np.stack([tone, slope[0] * around, slope[1] * around], axis=-1)


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
    if float(np.sqrt(np.mean(away**2))) < 0.7 * ODD * float(np.sqrt(ellipse.a * ellipse.b)):
        # Waves through such points are smaller still.
        return Rim(ellipse)
    return shaped(found, ellipse)


KEPT_TO = 0.02
"""Stiffness of a curve that follows an outline beside another curve, over the number of points."""


def followed(points: FloatArray, rim: Rim, clear: NDArray[np.bool_]) -> Rim:
    """Lead a curve along an outline where that is clear, and along the curve it was traced near elsewhere.

    Parameters
    ----------
    points : array, shape (n, 2)
        The outline, columns and rows [points].
    rim : Rim
        The curve near it [points].
    clear : array of bool, shape (n,)
        Where the edge is clear.

    Returns
    -------
    Rim
        The curve, round the same ellipse.

    References
    ----------
    Waves by least squares, far points losing their weight: A. E. Beaton, J. W. Tukey, Technometrics 16, 1974.

    Examples
    --------
    >>> t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    >>> rim = Rim(Ellipse(0.0, 0.0, 50.0, 30.0, 0.0), np.zeros(21))
    >>> wider = followed(Ellipse(0.0, 0.0, 52.0, 32.0, 0.0).points(t), rim, t < 5)
    >>> wider.offsets(np.array([0.0, 2.0])).round(1).tolist()
    [1.7, 1.9]
    """
    t = rim.ellipse.nearest_angles(points)
    away = np.einsum("ij,ij->i", points - rim.points(t), rim.ellipse.normals(t))
    terms = wave_terms(t)
    stiff = np.diag(len(away) * (KEPT_TO + 1e-3 * (_orders() / WAVES) ** 4))
    weights, waves = clear.astype(float), np.zeros(terms.shape[1])
    for _ in range(3):
        weighted = weights[:, None] * terms
        waves = np.linalg.solve(weighted.T @ terms + stiff, weighted.T @ away)
        weights = clear * tukey_weights(away - terms @ waves)
    return Rim(rim.ellipse, rim.waves + waves)


def smooth_waves(points: FloatArray, ellipse: Ellipse) -> Rim:
    """Lay smooth waves round an ellipse through all points of a ragged outline.

    Parameters
    ----------
    points : array, shape (n, 2)
        The outline, columns and rows [points].
    ellipse : Ellipse
        The ellipse [points].

    Returns
    -------
    Rim
        The curve.

    References
    ----------
    Least squares with a stiffness that grows with the fourth power of the number of waves.

    Examples
    --------
    >>> t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    >>> rim = smooth_waves(Ellipse(0.0, 0.0, 52.0, 32.0, 0.0).points(t), Ellipse(0.0, 0.0, 50.0, 30.0, 0.0))
    >>> rim.offsets(np.array([0.0])).round(1).tolist()
    [2.0]
    """
    t = ellipse.nearest_angles(points)
    away = np.einsum("ij,ij->i", points - ellipse.points(t), ellipse.normals(t))
    terms = wave_terms(t)
    stiff = np.diag(0.03 * len(t) * (_orders() / WAVES) ** 4)
    return Rim(ellipse, np.linalg.solve(terms.T @ terms + stiff, terms.T @ away))


def shaped(points: FloatArray, ellipse: Ellipse) -> Rim:
    """Lay waves round an ellipse through an outline where it clearly is no ellipse.

    Parameters
    ----------
    points : array, shape (n, 2)
        The outline, columns and rows [points].
    ellipse : Ellipse
        The ellipse fitted to it [points].

    Returns
    -------
    Rim
        The curve; the ellipse itself where the waves are smaller than `ODD`.

    References
    ----------
    As `fit_rim`.

    Examples
    --------
    >>> t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> ends = np.column_stack([np.clip(60 * np.cos(t), -45, 45), 30 * np.sin(t)])
    >>> shaped(ends, Ellipse(0.0, 0.0, 48.0, 31.0, 0.0)).oval
    False
    """
    t = ellipse.nearest_angles(points)
    away = np.einsum("ij,ij->i", points - ellipse.points(t), ellipse.normals(t))
    waves = _robust_waves(wave_terms(t), away)
    even = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    size = float(np.sqrt(ellipse.a * ellipse.b))
    if float(np.sqrt(np.mean((wave_terms(even) @ waves) ** 2))) < ODD * size:
        return Rim(ellipse)
    return Rim(ellipse, waves)


def _orders() -> FloatArray:
    """Give the number of waves of each term."""
    return np.repeat(np.arange(WAVES + 1.0), 2)[1:]


def _robust_waves(terms: FloatArray, away: FloatArray) -> FloatArray:
    weights = np.ones(len(away))
    for _ in range(3):
        weighted = weights[:, None] * terms
        # A little stiffness, more for finer waves, keeps gaps in the outline from swinging.
        stiff = 1e-3 * len(away) * (_orders() / WAVES) ** 4
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
    at = np.array([-0.85, *np.linspace(-0.6, 0.6, 13), 0.85])
    widths = np.array([float(np.ptp(across[np.abs(place - one) < 0.04])) for one in at])
    tail, head, middle = widths[0], widths[-1], widths[1:-1]
    widest, back, front = middle.max(), middle[1], middle[-2]
    waist = 3 + int(middle[3:-3].argmin())
    if middle[waist] < 0.95 * min(middle[:waist].max(), middle[waist + 1 :].max()):
        return "two lobes"
    if abs(front - back) > 0.15 * widest:
        return "teardrop"
    # Flat ends stop short of the ellipse's; glare on a long side makes blunt ends too, but no shorter scar.
    flat = (tail + head) / 2 > 0.65 * widest and np.ptp(along) < 0.97 * 2 * ellipse.a
    return "flat-ended" if flat else "irregular"


STRETCHES, POINTS = 24, 10
"""Stretches of the rim, and points of each that are averaged."""
REACH, NEAR = 24, 6
"""How far from the rim brightness is looked at, and how far off a crest may lie [grains]."""
FAINT_LIP, CLEAR_LIP = 0.28, 0.4
"""Height of the band over the sum of its height and the step across the rim: no lip, and surely one."""
STANDS_OUT = 4.0
"""Height of the band, over the unevenness beside it, from which there is a lip."""


def lip_offset(sharp: Layers, rim: Rim, t: FloatArray, grain: float) -> FloatArray:
    """Tell how far the crest of a lip lies from a traced rim.

    Brightness changes most on one of a lip's flanks, so an outline traced there lies beside the crest. The
    centre of what is brighter or darker than both sides is found in stretches of the rim; a wave of one turn
    at most is laid through them.

    Parameters
    ----------
    sharp : Layers
        The sharp layers, as `scar_features` gives them; brightness is the first.
    rim : Rim
        The traced rim [points].
    t : array, shape (n,)
        Eccentric angles where the offset is wanted [rad].
    grain : float
        The finest detail [points].

    Returns
    -------
    array, shape (n,)
        Distance of the crest from the rim, positive outside; 0 where there is no lip [points].

    References
    ----------
    Own definition.

    Examples
    --------
    A bright band at a radius of 40 points, the rim traced at 43:

    >>> from pinscar.evidence.ellipse import Ellipse
    >>> y, x = np.mgrid[:140, :160]
    >>> band = np.exp(-(((np.hypot(x - 80, y - 70) - 40) / 3) ** 2))
    >>> rim = Rim(Ellipse(80.0, 70.0, 43.0, 43.0, 0.0))
    >>> lip_offset(Layers(band[..., None]), rim, np.array([0.0, 2.0]), 1.0).round(1).tolist()
    [-2.8, -2.8]
    """
    even = rim.ellipse.even_angles(STRETCHES * POINTS)
    away = np.asarray(np.arange(-REACH, REACH + 1) * grain, dtype=np.float64)
    places = rim.points(even)[:, None] + away[None, :, None] * rim.normals(even)[:, None]
    tone = sharp.at(places[..., 0], places[..., 1])[..., 0].reshape(STRETCHES, POINTS, away.size).mean(axis=1)
    seen = np.isfinite(tone).all(axis=1)
    if seen.mean() < 0.5:
        return np.zeros(len(t))
    tone, middle = tone[seen], even.reshape(STRETCHES, POINTS)[seen, POINTS // 2]
    ridge, centre, share = _band(tone, away[REACH - NEAR : REACH + NEAR + 1])
    sure = float(np.clip((share - FAINT_LIP) / (CLEAR_LIP - FAINT_LIP), 0.0, 1.0))
    if sure == 0:
        return np.zeros(len(t))
    terms = _terms(middle)
    left = (ridge[:, None] * terms).T @ terms
    stiff = 0.05 * float(ridge.sum()) * np.diag([0.0, 1.0, 1.0])
    waves = np.linalg.solve(left + stiff, (ridge[:, None] * terms).T @ centre)
    return np.asarray(sure * (_terms(t) @ waves))


def _band(tone: FloatArray, near: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Height and centre of the band in each stretch, and the usual height over height and step."""
    edge = REACH - NEAR - 2
    inside, outside = tone[:, :edge], tone[:, -edge:]
    level = np.column_stack([inside.mean(axis=1), outside.mean(axis=1)])
    low, high = level.min(axis=1, keepdims=True), level.max(axis=1, keepdims=True)
    middle = tone[:, REACH - NEAR : REACH + NEAR + 1]
    beyond = np.maximum(np.maximum(middle - high, low - middle), 0.0)
    ridge = beyond.max(axis=1)
    uneven = float(np.std(np.diff(inside, axis=1)) + np.std(np.diff(outside, axis=1)))
    centre = (beyond * near).sum(axis=1) / np.maximum(beyond.sum(axis=1), 1e-12)
    height, step = float(np.median(ridge)), high[:, 0] - low[:, 0]
    if height <= STANDS_OUT * uneven or height <= 0:
        return ridge, centre, 0.0
    return ridge, centre, float(np.median(ridge / np.maximum(ridge + step, 1e-12)))


def _terms(t: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(t)), np.cos(t), np.sin(t)])

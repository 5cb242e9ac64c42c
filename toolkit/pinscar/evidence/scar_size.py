"""Length, width and area of a scar from its outline, and the spread that resampling the outline gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.scar_outline import ScarFit
from pinscar.evidence.scar_rim import shape_of, wave_terms

FloatArray = NDArray[np.float64]
RESAMPLES = 200
BLOCKS = 24


@dataclass(frozen=True, slots=True)
class Size:
    """Extents of a scar in its picture.

    Parameters
    ----------
    length, width : float
        Extent along the axis nearer the pin's, and across it [points].
    area : float
        Area inside the outline [points²].
    length_spread, width_spread : float
        Standard deviations on resampling the outline [points].
    """

    length: float
    width: float
    area: float
    length_spread: float
    width_spread: float


def size_of(fit: ScarFit, rng: np.random.Generator) -> Size:
    """Measure a fitted outline: the axes of an ellipse, the extents of a curve whose shape has a name.

    An irregular outline mostly follows glare or residue somewhere. Its length and width are those of the
    ellipse, and half the disagreement of the two enters the spread.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    Size
        The extents.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(Rim(ellipse), outline, np.zeros(t.size), np.ones(t.size))
    >>> found = size_of(fit, np.random.default_rng(1))
    >>> found.length, found.width, round(found.area / ellipse.area, 3)
    (120.0, 80.0, 1.0)
    """
    area = outline_area(fit)
    if fit.rim.oval:
        return Size(2 * fit.ellipse.a, 2 * fit.ellipse.b, area, *axis_spread(fit, rng))
    length, width = extents(fit.ellipse, fit.rim.waves[None])[0]
    if shape_of(fit.rim) == "irregular":
        axes = 2 * fit.ellipse.a, 2 * fit.ellipse.b
        apart = (np.array([length, width]) - axes) / 2
        of_length, of_width = np.hypot(axis_spread(fit, rng), apart)
        return Size(*axes, area, float(of_length), float(of_width))
    drawn = extents(fit.ellipse, _resampled_waves(fit, rng))
    spread = np.std(drawn, axis=0, ddof=1)
    return Size(float(length), float(width), area, float(spread[0]), float(spread[1]))


PLACEMENT = 0.005
"""Standard uncertainty of an axis from where the whole outline is placed, as a share of the picture's width.

It was set on rendered micrographs, where resampling alone tells less than half of the error."""
UNSEEN = 6.0
"""How much it grows, as a multiple of itself, for the whole of an outline that isn't seen."""


def whole_spread(fit: ScarFit, size: Size, columns: int) -> FloatArray:
    """Give the standard uncertainties of length and width from outline and placement, without the scale's.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    size : Size
        As `size_of` gives it [points].
    columns : int
        Width of the picture [points].

    Returns
    -------
    array, shape (2,)
        Standard uncertainties [points].

    References
    ----------
    Contributions in quadrature: JCGM 100:2008 (GUM), section 5; their sizes: own.

    Examples
    --------
    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(Rim(ellipse), outline, np.zeros(t.size), np.ones(t.size))
    >>> whole_spread(fit, Size(120.0, 80.0, ellipse.area, 0.0, 0.0), 200).tolist()
    [1.0, 1.0]
    """
    placed = PLACEMENT * columns * (1 + UNSEEN * (1 - fit.clear))
    return np.asarray(np.hypot((size.length_spread, size.width_spread), placed))


def extents(ellipse: Ellipse, waves: FloatArray) -> FloatArray:
    """Compute how far curves reach along the ellipse's first axis, and across it.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse that the waves run round [points].
    waves : array, shape (n, 2 WAVES + 1)
        Waves of each curve, as `Rim` holds them [points].

    Returns
    -------
    array, shape (n, 2)
        Extents [points].

    References
    ----------
    Own definition.

    Examples
    --------
    >>> extents(Ellipse(0.0, 0.0, 50.0, 30.0, 0.3), np.zeros((1, 21))).round(2).tolist()
    [[100.0, 60.0]]
    """
    t = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    away = waves @ wave_terms(t).T
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    base, normals = ellipse.points(t) - (ellipse.x, ellipse.y), ellipse.normals(t)
    spans = []
    for axis in (np.array([c, s]), np.array([-s, c])):
        reach = base @ axis + away * (normals @ axis)
        spans.append(np.ptp(reach, axis=1))
    return np.column_stack(spans)


def _drawn_times(rng: np.random.Generator) -> FloatArray:
    """How often each stretch of the outline is drawn in each resample."""
    drawn = rng.integers(0, BLOCKS, (RESAMPLES, BLOCKS))
    return np.asarray((drawn[:, :, None] == np.arange(BLOCKS)).sum(axis=1), dtype=float)


def _stretches(count: int) -> list[int]:
    return [int(block[0]) for block in np.array_split(np.arange(count), BLOCKS)]


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

    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> away = np.random.default_rng(1).normal(0.0, 0.3, t.size)
    >>> fit = ScarFit(Rim(ellipse), outline, away, np.ones(t.size))
    >>> [round(one, 2) for one in axis_spread(fit, np.random.default_rng(2))]
    [0.06, 0.05]
    """
    ellipse, points = fit.ellipse, fit.outline.points
    t = ellipse.nearest_angles(points)
    slopes = _axis_slopes(ellipse, t)
    starts = _stretches(len(points))
    weighted = fit.weights[:, None] * slopes
    # Each stretch adds the same to the normal equations in every resample, so compute it once.
    left = np.add.reduceat(weighted[:, :, None] * slopes[:, None, :], starts)
    right = np.add.reduceat(weighted * fit.away[:, None], starts)
    times = _drawn_times(rng)
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


def _resampled_waves(fit: ScarFit, rng: np.random.Generator) -> FloatArray:
    """Waves fitted to resampled stretches of the outline, by one step of least squares."""
    terms = wave_terms(fit.ellipse.nearest_angles(fit.outline.points))
    starts = _stretches(len(terms))
    weighted = fit.weights[:, None] * terms
    left = np.add.reduceat(weighted[:, :, None] * terms[:, None, :], starts)
    right = np.add.reduceat(weighted * fit.away[:, None], starts)
    times = _drawn_times(rng)
    squares, products = np.einsum("rb,bij->rij", times, left), times @ right
    # A stretch that was not drawn leaves waves there undetermined; a little stiffness keeps them small.
    squares += 0.02 * float(fit.weights.sum()) * np.eye(terms.shape[1])
    return np.asarray(fit.rim.waves + np.linalg.solve(squares, products[..., None])[..., 0])


def outline_area(fit: ScarFit) -> float:
    """Compute the area inside the outline; where it was an outlier the fitted curve stands in.

    Parameters
    ----------
    fit : ScarFit
        The fit.

    Returns
    -------
    float
        Area [points²].

    References
    ----------
    Area of a polygon by the sum of cross products of its corners (Gauss).

    Examples
    --------
    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(Rim(ellipse), outline, np.zeros(t.size), np.ones(t.size))
    >>> round(outline_area(fit) / ellipse.area, 3)
    1.0
    """
    t = fit.ellipse.nearest_angles(fit.outline.points)
    points = np.where(fit.weights[:, None] > 0, fit.outline.points, fit.rim.points(t))
    x, y = (points - (fit.ellipse.x, fit.ellipse.y)).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)

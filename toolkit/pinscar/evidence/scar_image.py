"""Read a scar on a micrograph: axes, area, angle, each with its uncertainty, or a plain refusal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.transform import downscale_local_mean

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import grey
from pinscar.evidence.oval_search import find_ovals
from pinscar.evidence.scar_features import even_logarithm, scar_features
from pinscar.evidence.scar_fit import ScarFit, axis_spread, fit_scar, outline_area
from pinscar.evidence.scar_quality import ACCEPTED, Quality, quality_of

FloatArray = NDArray[np.float64]
WORKING = 800
"""Pictures longer than this are averaged down before anything is looked for [points]."""
SEARCHED = 120
"""Width at which the oval is looked for [points]."""
PLACEMENT = 0.005
"""Standard uncertainty of an axis from where the whole outline is placed, as a share of the picture's width.

It was set on rendered micrographs, where resampling alone tells less than half of the error."""
NOTHING = "read by hand: no oval found"


@dataclass(frozen=True, slots=True)
class ScarReading:
    """What was read of a scar. A reading that is not accepted carries no numbers, only where it looked.

    Parameters
    ----------
    accepted : bool
        Whether the numbers may be used.
    score : float
        Quality from 0 to 1; accepted from 0.5.
    reason : str
        Why it must be read by hand; empty where accepted.
    length, width : float or None
        Axis nearer the pin's axis, and the other one [m].
    length_uncertainty, width_uncertainty : float or None
        Standard uncertainties from resampled edges and scale [m].
    ellipse_area : float or None
        Area of the fitted ellipse [m²].
    area : float or None
        Area inside the traced outline, by points of the picture [m²].
    area_uncertainty : float or None
        Standard uncertainty of the area [m²].
    angle : float or None
        Direction of the length axis, from the image's x axis towards its y axis (down) [rad].
    roughness : float or None
        Root mean square distance of the outline from the ellipse, outliers left out [m].
    ellipse : Ellipse or None
        The ellipse in points of the picture; of a refused reading the best guess, to start reading by hand
        from.
    outline : array, shape (n, 2)
        Points of the outline, columns and rows [points]; empty where nothing was found.
    used : array of bool, shape (n,)
        Which of them the fit used.
    """

    accepted: bool
    score: float
    reason: str
    length: float | None
    width: float | None
    length_uncertainty: float | None
    width_uncertainty: float | None
    ellipse_area: float | None
    area: float | None
    area_uncertainty: float | None
    angle: float | None
    roughness: float | None
    ellipse: Ellipse | None
    outline: FloatArray
    used: NDArray[np.bool_]


def measure_scar(
    image: NDArray[np.generic],
    scale: float,
    scale_uncertainty: float = 0.0,
    direction: float = 0.0,
    seed: int = 0,
) -> ScarReading:
    """Measure the scar on a micrograph.

    The oval is looked for in brightness and in the direction of scratches; its outline is traced to a
    fraction of a point and an ellipse of least distance fitted, outliers losing their weight. Standard
    uncertainty: spread on resampling stretches of the outline; `PLACEMENT`, by which a whole outline may lie
    inside or outside of the true edge, as a lip, blur or the smoothing make it; and the scale's, added in
    quadrature.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture, points as wide as high.
    scale : float
        Size of one point [m].
    scale_uncertainty : float, optional
        Its relative standard uncertainty [1].
    direction : float, optional
        Direction of the pin's axis in the picture, from x towards y (down) [rad].
    seed : int, optional
        Seed of the resampling.

    Returns
    -------
    ScarReading
        The reading, or why there is none.

    Raises
    ------
    ValueError
        If the array is no picture or the scale is not positive.

    References
    ----------
    Own method; its parts name their sources. Uncertainty: JCGM 100:2008 (GUM), section 5.

    Examples
    --------
    >>> y, x = np.mgrid[:240, :320]
    >>> noise = 0.02 * np.random.default_rng(1).standard_normal(x.shape)
    >>> oval = np.hypot((x - 160) / 100, (y - 120) / 55) < 1
    >>> reading = measure_scar(0.6 - 0.2 * oval + noise, scale=10e-6)
    >>> reading.accepted, round(reading.length * 1e3, 1), round(reading.width * 1e3, 1)
    (True, 2.0, 1.1)
    """
    if not scale > 0:
        raise ValueError(f"the scale must be a positive size of one point, not {scale}")
    brightness = grey(image)
    factor = -(-max(brightness.shape) // WORKING)
    small = brightness if factor == 1 else downscale_local_mean(brightness, (factor, factor))
    fit, quality = _best_fit(small, direction, np.random.default_rng(seed))
    if fit is None or quality is None:
        return _refused(0.0, NOTHING, None, np.empty((0, 2)), np.empty(0, dtype=bool))
    where = (fit.outline.points + 0.5) * factor - 0.5
    e = fit.ellipse
    ellipse = Ellipse(
        (e.x + 0.5) * factor - 0.5, (e.y + 0.5) * factor - 0.5, e.a * factor, e.b * factor, e.angle
    )
    if quality.score < ACCEPTED:
        return _refused(quality.score, quality.reason, ellipse, where, fit.weights > 0)
    placed = PLACEMENT * small.shape[1]
    one, other = axis_spread(fit, np.random.default_rng(seed))
    spread = (float(np.hypot(one, placed)), float(np.hypot(other, placed)))
    area = outline_area(fit, small.shape)
    return _accepted(fit, quality, ellipse, where, spread, area, scale * factor, scale_uncertainty)


def _best_fit(
    brightness: FloatArray, direction: float, rng: np.random.Generator
) -> tuple[ScarFit | None, Quality | None]:
    grain = max(1.0, brightness.shape[1] / 480)
    logarithm = even_logarithm(brightness)
    coarse, fine = scar_features(logarithm, 2.0 * grain), scar_features(logarithm, grain)
    stride = max(1, round(brightness.shape[1] / SEARCHED))
    best: tuple[ScarFit, Quality] | None = None
    done: list[Ellipse] = []
    for oval, _ in find_ovals(np.ascontiguousarray(coarse[:, ::stride, ::stride]), direction):
        start = Ellipse(oval.x * stride, oval.y * stride, oval.a * stride, oval.b * stride, oval.angle)
        if any(_alike(start, other) for other in done):
            continue
        try:
            fit = fit_scar(coarse, fine, start, direction)
        except ValueError:
            continue
        done += [start, fit.ellipse]
        quality = quality_of(fit, axis_spread(fit, rng), brightness)
        if best is None or quality.score > best[1].score:
            best = (fit, quality)
    return best if best is not None else (None, None)


def _alike(one: Ellipse, other: Ellipse) -> bool:
    sizes = abs(np.log(one.a / other.a)), abs(np.log(one.b / other.b))
    return bool(max(sizes) < 0.15 and np.hypot(one.x - other.x, one.y - other.y) < 0.1 * other.b)


def _refused(
    score: float, reason: str, guess: Ellipse | None, outline: FloatArray, used: NDArray[np.bool_]
) -> ScarReading:
    numbers = (None,) * 9
    return ScarReading(False, score, reason, *numbers, guess, outline, used)


def _accepted(
    fit: ScarFit,
    quality: Quality,
    ellipse: Ellipse,
    outline: FloatArray,
    spread: tuple[float, float],
    area: float,
    scale: float,
    scale_uncertainty: float,
) -> ScarReading:
    """Turn points to metres; `scale` is that of the picture in which the fit was made."""
    length, width = 2 * fit.ellipse.a * scale, 2 * fit.ellipse.b * scale
    relative = np.hypot(np.array(spread) * scale / (length, width), scale_uncertainty)
    # The axes share scale and placement, so their parts of the area's uncertainty add up as they are.
    of_area = np.hypot((np.array(spread) * scale / (length, width)).sum(), 2 * scale_uncertainty)
    return ScarReading(
        accepted=True,
        score=quality.score,
        reason="",
        length=length,
        width=width,
        length_uncertainty=float(length * relative[0]),
        width_uncertainty=float(width * relative[1]),
        ellipse_area=fit.ellipse.area * scale**2,
        area=area * scale**2,
        area_uncertainty=float(area * scale**2 * of_area),
        angle=fit.ellipse.angle,
        roughness=float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) * scale,
        ellipse=ellipse,
        outline=outline,
        used=fit.weights > 0,
    )

"""Read a scar on a micrograph: axes, area, angle, each with its uncertainty, or a plain refusal.

A scar is told from ground pin by brightness and by the direction and strength of its scratches. Every reading
has a score from 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, gaussian_filter, median_filter
from skimage.transform import downscale_local_mean

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import grey, wide_blurs
from pinscar.evidence.oval_search import find_ovals
from pinscar.evidence.recorder import robust_sd
from pinscar.evidence.scar_outline import ScarFit, axis_spread, fit_scar, outline_area

FloatArray = NDArray[np.float64]
ACCEPTED = 0.5
"""Scores below this are read by hand."""
BLOWN_OUT, MOST_BLOWN_OUT = 0.93, 0.15
"""Brightness of glare, and the largest share of an oval that may be so bright."""
SWELLING = 1.2
"""Largest rise from the rim of an oval to its middle, over the step across its outline."""
SLENDEREST = 0.3
"""Least width over length of an oval that is taken for a scar."""


@dataclass(frozen=True, slots=True)
class Quality:
    """What a score is made of; each part runs from 0 (bad) to 1.

    Parameters
    ----------
    seen : float
        Share of the outline along which there is an edge, near the ellipse and of the right sign.
    smooth : float
        How close the outline keeps to the ellipse.
    strong : float
        How far the edge stands out from chance.
    spread : int or float
        How well resampling agrees on the axes.
    whole : float
        Whether the oval lies inside the picture and has the proportions of a scar.
    flat : float
        Whether it is not itself a lamp's glare, blown out or swelling to its middle.
    """

    seen: float
    smooth: float
    strong: float
    spread: float
    whole: float
    flat: float

    @property
    def score(self) -> float:
        """The product of the parts."""
        return self.seen * self.smooth * self.strong * self.spread * self.whole * self.flat

    @property
    def reason(self) -> str:
        """The worst part in words, empty where the score is good enough."""
        if self.score >= ACCEPTED:
            return ""
        words = {
            "whole": "the oval found is cut off by the picture's edge, or too slender for a scar",
            "flat": "the oval found is glare, not a scar",
            "seen": "too little of the outline can be seen",
            "strong": "the outline hardly stands out from scratches and noise",
            "smooth": "the outline found is no smooth oval",
            "spread": "parts of the outline disagree about the axes",
        }
        worst = min(words, key=lambda name: float(getattr(self, name)))
        return f"read by hand: {words[worst]}"


def quality_of(fit: ScarFit, spread: tuple[float, float], brightness: FloatArray) -> Quality:
    """Judge a fit.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    spread : tuple of float
        Standard deviations of both axes [points].
    brightness : array, shape (rows, columns)
        The picture, from 0 to 1 [-].

    Returns
    -------
    Quality
        The parts of the score.

    References
    ----------
    Own definition; the limits were set on rendered micrographs other than those that test them.

    Examples
    --------
    A dark scar on a light pin, outlined all the way round and even:

    >>> from pinscar.evidence.scar_outline import Outline
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(ellipse, outline, np.zeros(t.size), np.ones(t.size))
    >>> y, x = np.mgrid[:160, :200]
    >>> brightness = np.where(np.hypot((x - 100) / 60, (y - 80) / 40) < 1, 0.3, 0.7)
    >>> quality_of(fit, (0.2, 0.2), brightness).score
    1.0
    """
    ellipse = fit.ellipse
    near = np.abs(fit.away) < max(0.05 * fit.size, 1.5)
    seen = float((near & (fit.outline.strength > 1.0)).mean())
    rough = float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) / fit.size
    uneven = max(spread[0] / (2 * ellipse.a), spread[1] / (2 * ellipse.b))
    points = ellipse.points(np.linspace(0, 2 * np.pi, 180))
    inside = (points >= 1).all(axis=1) & (points < (brightness.shape[1] - 2, brightness.shape[0] - 2)).all(
        axis=1
    )
    proportion = min(ellipse.a, ellipse.b) / max(ellipse.a, ellipse.b)
    return Quality(
        seen=_ramp(seen, 0.4, 0.85),
        smooth=_ramp(rough, 0.045, 0.015),
        strong=_ramp(float(np.median(fit.outline.strength)), 0.8, 2.0),
        spread=_ramp(uneven, 0.06, 0.015),
        whole=float(inside.mean() > 0.97 and proportion >= SLENDEREST),
        flat=float(not _is_glare(fit, brightness)),
    )


def _is_glare(fit: ScarFit, brightness: FloatArray) -> bool:
    """Tell a lamp's mirror image: much of it blown out, or its middle above its rim by more than the edge."""
    ellipse = fit.ellipse
    y, x = np.indices(brightness.shape)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    along, across = (x - ellipse.x) * c + (y - ellipse.y) * s, (y - ellipse.y) * c - (x - ellipse.x) * s
    level = np.hypot(along / ellipse.a, across / ellipse.b)
    if (brightness[level < 1] > BLOWN_OUT).mean() > MOST_BLOWN_OUT:
        return True
    zones = (level < 0.4, (level > 0.7) & (level < 0.92), (level > 1.08) & (level < 1.3))
    if not all(zone.any() for zone in zones):
        return True
    middle, rim, outside = (float(np.median(brightness[zone])) for zone in zones)
    return middle - rim > SWELLING * abs(rim - outside) and middle - rim > 0.05


def _ramp(value: float, bad: float, good: float) -> float:
    return float(np.clip((value - bad) / (good - bad), 0.0, 1.0))


BLOWN = 0.97
"""Brightness from which a place is blown out and tells nothing of the surface."""
CLIP = 4.0
"""Brightness farther than this from its neighbourhood, in robust standard deviations, is dirt or glare."""


def even_logarithm(brightness: FloatArray) -> FloatArray:
    """Take the logarithm of brightness, the slow fall of light taken off and dirt and glare clipped.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        From 0 to 1 [-].

    Returns
    -------
    array, shape (rows, columns)
        What the features of a scar are made of.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> falling = np.exp(-np.arange(90) / 60) * np.ones((80, 1))
    >>> bool(np.ptp(even_logarithm(0.9 * falling)) < 1e-9)
    True
    """
    return _clipped(np.log(np.maximum(_without_glare(brightness), 0.02)))


def scar_features(logarithm: FloatArray, fine: float) -> FloatArray:
    """Compute the features that change at the outline of a scar.

    Three layers: the logarithm of brightness, smoothed; and the two components of the direction of
    scratches, (Jyy - Jxx) / (Jxx + Jyy + n) and 2 Jxy / (Jxx + Jyy + n) from the structure tensor J, where n
    keeps places without scratches from telling anything. Ground pin and scar are scratched across each
    other, so these change even where brightness doesn't.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it [-].
    fine : float
        Standard deviation of the smoothing of brightness [points]; direction is smoothed over four times
        this.

    Returns
    -------
    array, shape (3, rows, columns)
        The layers, each scaled to a robust standard deviation of 1.

    References
    ----------
    Structure tensor: J. Bigün, G. H. Granlund, Proc. 1st Int. Conf. on Computer Vision, 1987. The choice of
    layers: own.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> scar_features(even_logarithm(rng.random((80, 90))), 2.0).shape
    (3, 80, 90)
    """
    smooth = gaussian_filter(logarithm, fine / 2)
    gy, gx = np.gradient(gaussian_filter(logarithm, max(fine / 2, 1.0)))
    wide = 4 * fine
    # Limit each step, so that one speck of dirt does not outweigh a whole neighbourhood.
    size = np.hypot(gx, gy)
    bound = 3 * float(np.median(size)) + 1e-9
    gx, gy = (
        gx * np.minimum(1, bound / np.maximum(size, 1e-12)),
        gy * np.minimum(1, bound / np.maximum(size, 1e-12)),
    )
    jxx, jyy, jxy = (wide_blurs(product, (wide,))[0] for product in (gx * gx, gy * gy, gx * gy))
    total = jxx + jyy + 0.3 * float(np.median(jxx + jyy)) + 1e-12
    layers = np.stack([gaussian_filter(smooth, fine / 2), (jyy - jxx) / total, 2 * jxy / total])
    spreads = np.array([_spread(layer) for layer in layers])
    return np.asarray(layers / spreads[:, None, None], dtype=np.float64)


def _without_glare(brightness: FloatArray) -> FloatArray:
    """Fill blown-out places, and the rim of their halo, with the brightness around them."""
    blown = binary_dilation(brightness >= BLOWN, iterations=8)
    if not 0 < blown.mean() < 0.5:
        return brightness
    there = (~blown).astype(float)
    filled = brightness
    widths = (40.0, 20.0, 10.0)
    weights, totals = wide_blurs(there, widths), wide_blurs(brightness * there, widths)
    for weight, total in zip(weights, totals, strict=True):
        around = total / np.maximum(weight, 1e-6)
        filled = np.where(blown & (weight > 1e-3), around, filled)
    return np.asarray(filled, dtype=float)


def _clipped(logarithm: FloatArray) -> FloatArray:
    """Take off a smooth fall of light; replace what sticks out far by its neighbourhood's middle."""
    flat = logarithm - _surface(logarithm)
    middle = np.repeat(np.repeat(median_filter(flat[::4, ::4], 9), 4, axis=0), 4, axis=1)
    middle = gaussian_filter(middle[: flat.shape[0], : flat.shape[1]], 4)
    away = flat - middle
    bound = CLIP * robust_sd(away)
    return np.asarray(middle + np.clip(away, -bound, bound), dtype=float)


def _surface(logarithm: FloatArray) -> FloatArray:
    """Fit a surface of second degree, with little heed to what lies far from it."""
    rows, columns = logarithm.shape
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    thin = terms[::4, ::4].reshape(-1, 6)
    values = logarithm[::4, ::4].ravel()
    keep = np.ones(values.size, dtype=bool)
    for _ in range(4):
        found = np.linalg.lstsq(thin[keep], values[keep], rcond=None)[0]
        away = values - thin @ found
        off = away - np.median(away)
        keep = np.abs(off) < 2.5 * robust_sd(off) + 1e-9
    return np.asarray(terms @ found, dtype=float)


def _spread(layer: FloatArray) -> float:
    return robust_sd(layer - np.median(layer)) + 1e-9


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
        The picture, points as wide as high [grey or colour values].
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
    # Both axes share scale and placement, so their contributions add linearly, not as squares.
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

"""How good a fit is, and whether it is a scar: a score from 0 to 1, and its worst part in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.recorder import TO_SD
from pinscar.evidence.scar_features import Layers
from pinscar.evidence.scar_outline import ScarFit
from pinscar.evidence.scar_rim import Rim
from pinscar.evidence.scar_score import measures_of, probability
from pinscar.evidence.scar_size import Size

FloatArray = NDArray[np.float64]
ACCEPTED = 0.85
"""Scores below this are read by hand: of 13 that the score was made from, 4 were off by more than 5 %."""
ENOUGH = 0.5
"""Least product of the parts of an oval that is taken for a scar."""
UNSURE = "an error of more than 5 % is too likely"
BLOWN_OUT, MOST_BLOWN_OUT = 0.93, 0.15
"""Brightness of glare, and the largest share of an oval that may be so bright."""
SWELLING = 1.2
"""Largest rise from the rim of an oval to its middle, over the step across its outline."""
SLENDEREST = 0.2
"""Least width over length of an oval that is taken for a scar."""
WORDS = {
    "whole": "the oval found is cut off by the edge of what is seen",
    "fair": "the oval found is too slender for a scar",
    "worked": "the oval found is a perfect circle, as a drop of oil makes it",
    "flat": "the oval found is glare, not a scar",
    "worn": "no striations along the pin are seen inside the oval found, or they go on around it",
    "alone": "more than one oval could be the scar",
    "seen": "too little of the outline can be seen",
    "formed": "the outline is no oval, and too little of it can be seen to tell its shape",
    "strong": "the outline hardly stands out from scratches and noise",
    "smooth": "the outline found is no smooth curve",
    "spread": "parts of the outline disagree about the axes",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """What a score is made of; each part runs from 0 (bad) to 1.

    Parameters
    ----------
    seen : float
        Share of the outline along which there is an edge, near the fitted curve and of the right sign.
    formed : float
        Whether it is an ellipse, or seen nearly whole: an end that isn't seen may be anywhere.
    smooth : float
        How close the outline keeps to the fitted curve.
    strong : float
        How far the edge stands out from chance.
    spread : float
        How well resampling agrees on the axes.
    whole : float
        Whether the oval lies inside of what is seen.
    fair : float
        Whether it has the proportions of a scar.
    worked : float
        Whether it is no perfect circle: surface tension makes those, wear doesn't.
    flat : float
        Whether it is not itself a lamp's glare, blown out or swelling to its middle.
    worn : float
        Whether marks inside run along the pin, more than those around it.
    alone : float
        Whether nothing else in the picture looks as much like a scar.
    measures : tuple of float
        What a fit tells of how far it may be off, as `probability` takes it.
    """

    seen: float
    formed: float
    smooth: float
    strong: float
    spread: float
    whole: float
    fair: float
    worked: float
    flat: float
    worn: float
    alone: float = 1.0
    measures: tuple[float, ...] = ()

    @property
    def product(self) -> float:
        """The product of the parts."""
        return float(np.prod([getattr(self, part) for part in WORDS]))

    @property
    def score(self) -> float:
        """The probability that both axes are right; with parts that are not good enough, less than that."""
        sure = probability(self.measures) if self.measures else 1.0
        return sure if self.product >= ENOUGH else min(sure, self.product)

    @property
    def cut_off(self) -> bool:
        """Whether it is a scar as far as it is seen, and goes on beyond that."""
        return self.whole == 0 and min(self.worn, self.strong, self.smooth, self.flat) >= CUT

    @property
    def reason(self) -> str:
        """The worst part in words, empty where the score is good enough."""
        if self.score >= ACCEPTED:
            return ""
        if self.product >= ENOUGH:
            return f"read by hand: {UNSURE}"
        worst = min(WORDS, key=lambda name: float(getattr(self, name)))
        return f"read by hand: {WORDS[worst]}"


def quality_of(
    fit: ScarFit, size: Size, brightness: FloatArray, sharp: Layers, excess: FloatArray
) -> Quality:
    """Judge a fit.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    size : Size
        As `size_of` gives it [points].
    brightness : array, shape (rows, columns)
        The picture, from 0 to 1 [-].
    sharp : Layers
        The sharp layers, as `scar_features` gives them.
    excess : array, shape (rows + 1, columns + 1, 2)
        As `excess_along` gives it [1].

    Returns
    -------
    Quality
        The parts of the score.

    References
    ----------
    Own definition; the limits were set on rendered micrographs other than those that test them.

    Examples
    --------
    A dark scar, striated along x, on a light pin, striated across:

    >>> from pinscar.evidence.scar_features import even_logarithm, scar_features
    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(Rim(ellipse), outline, np.zeros(t.size), np.ones(t.size))
    >>> y, x = np.mgrid[:160, :200]
    >>> rng = np.random.default_rng(1)
    >>> scar, pin = 0.3 + 0.02 * rng.normal(size=(160, 1)), 0.6 + 0.02 * rng.normal(size=(1, 200))
    >>> brightness = np.where(np.hypot((x - 100) / 60, (y - 80) / 40) < 1, scar, pin)
    >>> everywhere = np.ones(brightness.shape, dtype=bool)
    >>> _, sharp = scar_features(even_logarithm(brightness), everywhere, 1.0, 2)
    >>> excess = excess_along(sharp, 0.0)
    >>> found = quality_of(fit, Size(120.0, 80.0, ellipse.area, 0.2, 0.2), brightness, sharp, excess)
    >>> found.product, found.score > 0.95
    (1.0, True)
    """
    ellipse = fit.ellipse
    rough = float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) / fit.size
    uneven = max(size.length_spread / size.length, size.width_spread / size.width)
    return Quality(
        seen=_ramp(fit.clear, 0.75, 0.85),
        formed=float(fit.rim.oval or fit.clear >= SHAPE_TOLD),
        smooth=_ramp(rough, 0.045, 0.015),
        strong=_ramp(float(np.median(fit.outline.strength)), 0.8, 2.0),
        spread=_ramp(uneven, 0.06, 0.015),
        whole=_whole(fit, sharp),
        fair=float(min(size.length, size.width) >= SLENDEREST * max(size.length, size.width)),
        worked=float(not (abs(size.width / size.length - 1) < CIRCLE and rough < CIRCLE)),
        flat=float(not _is_glare(ellipse, brightness)),
        worn=worn(ellipse, excess),
        measures=measures_of(fit, size, brightness.shape[1], marks_inside(fit.rim, excess)),
    )


def worn(ellipse: Ellipse, excess: FloatArray) -> float:
    """Tell whether striations along the pin are seen inside an oval, and more of them than around it.

    Parameters
    ----------
    ellipse : Ellipse
        The oval [points].
    excess : array, shape (rows + 1, columns + 1, 2)
        As `excess_along` gives it [1].

    Returns
    -------
    float
        From 0, no such thing, to 1.

    References
    ----------
    Own definition, on what `marks` gives: from one half of three standard errors inside, and from two to six
    in the difference.

    Examples
    --------
    >>> excess = excess_along(Layers(np.zeros((160, 200, 3))), 0.0)
    >>> worn(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0), excess)
    0.0
    """
    along, sure = marks(ellipse, excess)
    return min(_ramp(along, 0.5, 3.0), _ramp(sure, 2.0, 6.0))


SHAPE_TOLD = 0.94
"""Share of the outline that must be clear before an outline that is no oval is accepted."""
CIRCLE = 0.006
"""How far from round, and how rough, a circle may be that is taken for a drop; a worn edge wanders more."""
CUT = 0.5
"""What the other parts must reach at least before an oval is called a scar that is cut off."""


PLACES, BESIDE, NEAR, SIDE = 48, 0.13, 5, 0.07
"""Places round the rim, how far off it marks are looked at, how many are averaged, half of a square's side.

Distances are shares of the short half-axis."""


def marks_inside(rim: Rim, excess: FloatArray) -> float:
    """Tell whether marks just inside of a rim run along the pin everywhere.

    An outline that follows a grinding mark has ground pin inside of it.

    Parameters
    ----------
    rim : Rim
        The rim [points].
    excess : array, shape (rows + 1, columns + 1, 2)
        As `excess_along` gives it [1].

    Returns
    -------
    float
        The least that a stretch just inside shows: 0 is what is usual just outside of the rim, 1 what is
        usual just inside; not under -1.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> layer = np.zeros((160, 200, 3))
    >>> y, x = np.mgrid[:160, :200]
    >>> scar = np.hypot((x - 100) / 60, (y - 80) / 40) < 1
    >>> layer[..., 2], layer[..., 1] = scar, ~scar
    >>> excess = excess_along(Layers(layer), 0.0)
    >>> marks_inside(Rim(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)), excess)
    1.0
    >>> marks_inside(Rim(Ellipse(112.0, 80.0, 72.0, 40.0, 0.0)), excess) < 0.5
    True
    """
    ellipse = rim.ellipse
    short = min(ellipse.a, ellipse.b)
    t = ellipse.even_angles(PLACES)
    points, normals = rim.points(t), rim.normals(t)
    half = max(2.0, SIDE * short)
    inside, outside = (
        _mean_in_squares(excess, points + away * short * normals, half) for away in (-BESIDE, BESIDE)
    )
    low, high = _median(outside), _median(inside)
    if not high - low > 0.01:
        return -1.0
    return max(float(uniform_filter1d((inside - low) / (high - low), NEAR, mode="wrap").min()), -1.0)


def _mean_in_squares(excess: FloatArray, middles: FloatArray, half: float) -> FloatArray:
    """Average over squares round places; 0 where nothing of one is seen."""
    bounds = np.array([excess.shape[1] - 1, excess.shape[0] - 1])
    (left, top), (right, bottom) = (
        np.clip(np.rint(middles + away), 0, bounds).astype(np.intp).T for away in (-half, half)
    )
    sums = excess[bottom, right] - excess[top, right] - excess[bottom, left] + excess[top, left]
    return np.asarray(sums[:, 0] / np.maximum(sums[:, 1], 1.0))


def _whole(fit: ScarFit, sharp: Layers) -> float:
    """Tell whether nearly all of the rim and what lies beyond it is seen."""
    t = np.linspace(0, 2 * np.pi, 180)
    points = fit.rim.points(t) + 2.0 * fit.rim.normals(t)
    there = np.isfinite(sharp.at(points[:, 0], points[:, 1])[:, 0])
    return float(there.mean() > 0.97)


def excess_along(sharp: Layers, direction: float) -> FloatArray:
    """Add up the excess of marks along the pin over marks across it, from the picture's first corner.

    Parameters
    ----------
    sharp : Layers
        The sharp layers, as `scar_features` gives them.
    direction : float
        Direction of the pin's axis in the picture [rad].

    Returns
    -------
    array, shape (rows + 1, columns + 1, 2)
        Sums over all rows above and all columns before, of Jvv - Juu [-] and of the places seen; the sum over
        any rectangle is a difference of four of them.

    References
    ----------
    Summed area tables: F. C. Crow, Computer Graphics 18, 1984.

    Examples
    --------
    >>> layer = np.zeros((4, 5, 3))
    >>> layer[..., 2] = 1.0
    >>> excess_along(Layers(layer), 0.0)[-1, -1].tolist()
    [20.0, 20.0]
    """
    x, y = sharp.values[..., 1], sharp.values[..., 2]
    c, s = np.cos(direction), np.sin(direction)
    # (y c - x s)^2 - (y s + x c)^2, multiplied out.
    excess = (y * y - x * x) * (c * c - s * s) - x * y * (4 * c * s)
    there = np.isfinite(excess)
    rows, columns = excess.shape
    sums = np.zeros((rows + 1, columns + 1, 2))
    if there.all():
        np.cumsum(np.cumsum(excess, axis=0), axis=1, out=sums[1:, 1:, 0])
        sums[..., 1] = np.outer(np.arange(rows + 1), np.arange(columns + 1))
        return sums
    np.cumsum(np.cumsum(np.where(there, excess, 0.0), axis=0), axis=1, out=sums[1:, 1:, 0])
    np.cumsum(np.cumsum(there, axis=0), axis=1, out=sums[1:, 1:, 1])
    return sums


def marks(ellipse: Ellipse, excess: FloatArray) -> tuple[float, float]:
    """Compare the direction of the marks inside an oval with those around it.

    Sliding leaves striations along the pin inside of a scar and takes away the grinding marks, which lie
    across it or wherever they lay before. A drop of oil, a shadow or a stain leaves them as they are.

    Parameters
    ----------
    ellipse : Ellipse
        The oval [points].
    excess : array, shape (rows + 1, columns + 1, 2)
        As `excess_along` gives it [1].

    Returns
    -------
    tuple of float
        Excess of marks along the pin over marks across it inside the oval, over its standard error; and its
        difference from the excess outside, over its standard error.

    References
    ----------
    Own definition: Jvv - Juu in squares a fifth of the half-axis wide, medians over the squares.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> layer = rng.normal(0.0, 0.5, (160, 200, 3))
    >>> y, x = np.mgrid[:160, :200]
    >>> scar = np.hypot((x - 100) / 60, (y - 80) / 40) < 1
    >>> layer[..., 2] *= np.where(scar, 2.0, 1.0)
    >>> layer[..., 1] *= np.where(scar, 1.0, 2.0)
    >>> inside, differ = marks(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0), excess_along(Layers(layer), 0.0))
    >>> inside > 10, differ > 20
    (True, True)
    """
    rows, columns = excess.shape[0] - 1, excess.shape[1] - 1
    block = max(3, round(min(ellipse.a, ellipse.b) / 5))
    reach = 1.7 * max(ellipse.a, ellipse.b)
    top, left = max(int(ellipse.y - reach), 0), max(int(ellipse.x - reach), 0)
    high = (min(int(ellipse.y + reach), rows) - top) // block
    wide = (min(int(ellipse.x + reach), columns) - left) // block
    if high < 2 or wide < 2:
        return 0.0, 0.0
    corners = excess[top : top + high * block + 1 : block, left : left + wide * block + 1 : block]
    sums = np.diff(np.diff(corners, axis=0), axis=1)
    along = np.where(sums[..., 1] == block * block, sums[..., 0] / block**2, np.nan)
    y = top + (np.arange(high)[:, None] + 0.5) * block - 0.5 - ellipse.y
    x = left + (np.arange(wide)[None] + 0.5) * block - 0.5 - ellipse.x
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    level = np.hypot((x * c + y * s) / ellipse.a, (y * c - x * s) / ellipse.b)
    there = np.isfinite(along)
    inside, outside = along[there & (level < 0.82)], along[there & (level > 1.2) & (level < 1.7)]
    if min(inside.size, outside.size) < 8:
        return 0.0, 0.0
    (first, within), (second, beyond) = (_median_and_error(one) for one in (inside, outside))
    return first / within, (first - second) / float(np.hypot(within, beyond))


def _median_and_error(values: FloatArray) -> tuple[float, float]:
    """Give the median and its standard error, 1.25 times that of the mean of normal values."""
    middle = _median(values)
    spread = TO_SD * _median(np.abs(values - middle))
    return middle, 1.25 * max(spread, 0.01) / float(np.sqrt(values.size))


def _median(values: FloatArray) -> float:
    """Give the median, with less work for few values than NumPy's; it is asked for often."""
    half = values.size // 2
    sorted_half = np.partition(values, half)
    below = sorted_half[half] if values.size % 2 else sorted_half[:half].max()
    return float(sorted_half[half] + below) / 2


def _is_glare(ellipse: Ellipse, brightness: FloatArray) -> bool:
    """Tell a lamp's mirror image: much of it blown out, or its middle above its rim by more than the edge."""
    step = max(1, round(min(ellipse.a, ellipse.b) / 40))
    # Nothing is looked at farther out than the last zone reaches.
    reach = 1.3 * max(ellipse.a, ellipse.b)
    top, left = (max(0, int((one - reach) // step) * step) for one in (ellipse.y, ellipse.x))
    bottom, right = int(ellipse.y + reach) + 1, int(ellipse.x + reach) + 1
    light = brightness[top : max(bottom, 0) : step, left : max(right, 0) : step]
    y, x = top + step * np.arange(light.shape[0])[:, None], left + step * np.arange(light.shape[1])[None]
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    along, across = (x - ellipse.x) * c + (y - ellipse.y) * s, (y - ellipse.y) * c - (x - ellipse.x) * s
    level = np.sqrt((along / ellipse.a) ** 2 + (across / ellipse.b) ** 2)
    if not (level < 1).any() or (light[level < 1] > BLOWN_OUT).mean() > MOST_BLOWN_OUT:
        return True
    zones = (level < 0.4, (level > 0.7) & (level < 0.92), (level > 1.08) & (level < 1.3))
    if not all(zone.any() for zone in zones):
        return True
    middle, rim, outside = (float(np.median(light[zone])) for zone in zones)
    return middle - rim > SWELLING * abs(rim - outside) and middle - rim > 0.05


def _ramp(value: float, bad: float, good: float) -> float:
    return float(np.clip((value - bad) / (good - bad), 0.0, 1.0))

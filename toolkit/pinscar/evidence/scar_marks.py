"""Which way the fine marks on a pin run: along it in a scar, across it or anyhow on ground pin.

A mark is a long narrow change of brightness. Each of both kinds is looked for with a bell that is long in its
own direction, so that noise, which has none, averages out, and narrow across it, so that the slow fall of
light over a bowl or a round pin is no mark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fftfreq, irfft2, next_fast_len, rfft2, rfftfreq
from scipy.ndimage import gaussian_filter, uniform_filter1d

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.recorder import TO_SD
from pinscar.evidence.scar_rim import Rim, block_means

FloatArray = NDArray[np.float64]
BLOCK = 2
"""Side of the squares of points that are averaged before marks are looked for [points]."""
LONG, FINE, SLOW = 8.0, 1.5, 6.0
"""Standard deviations of the bells: along a mark, across it, and of the fall of light taken off [grains]."""
AROUND = 8.0
"""Standard deviation of the neighbourhood whose marks are taken as the usual strength [grains]."""
FAINTEST = 0.03
"""Slope that is taken for none, in levels of grey to a point [-]."""
BORDER = 16
"""How many squares the picture is mirrored beyond its border."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Excess of marks along the pin over marks across it, added up from the picture's first corner.

    Parameters
    ----------
    sums : array, shape (rows + 1, columns + 1, 2)
        Sums over all squares above and before, of the excess from -1 to 1 and of the squares seen; that over
        any rectangle is a difference of four of them [1].
    block : int, optional
        Side of a square [points].

    References
    ----------
    Summed area tables: F. C. Crow, Computer Graphics 18, 1984.

    Examples
    --------
    >>> Marks(np.zeros((3, 3, 2))).of_squares(Ellipse(9.5, 7.5, 8.0, 4.0, 0.0))
    Ellipse(x=4.5, y=3.5, a=4.0, b=2.0, angle=0.0)
    """

    sums: FloatArray
    block: int = BLOCK

    def of_squares(self, ellipse: Ellipse) -> Ellipse:
        """Give an oval in squares instead of points.

        Parameters
        ----------
        ellipse : Ellipse
            The oval [points].

        Returns
        -------
        Ellipse
            The same oval [squares].
        """
        x, y = (ellipse.x + 0.5) / self.block - 0.5, (ellipse.y + 0.5) / self.block - 0.5
        return Ellipse(x, y, ellipse.a / self.block, ellipse.b / self.block, ellipse.angle)


def marks_along(
    logarithm: FloatArray, seen: NDArray[np.bool_], direction: float, grain: float = 1.0, level: float = 0.0
) -> Marks:
    """Find the excess of marks along the pin over marks across it everywhere in a picture.

    Parameters
    ----------
    logarithm : array, shape (rows, columns)
        As `even_logarithm` gives it [-].
    seen : array of bool, shape (rows, columns)
        Whether a place is seen.
    direction : float
        Direction of the pin's axis in the picture [rad].
    grain : float, optional
        The finest detail [points].
    level : float, optional
        One level of grey, as a change of the logarithm [-].

    Returns
    -------
    Marks
        The sums.

    References
    ----------
    Filters long in one direction: J. M. Geusebroek, A. W. M. Smeulders, J. van de Weijer, IEEE Trans. Image
    Process. 12, 2003; here by their transfer function. The rest: own.

    Examples
    --------
    >>> rows = np.random.default_rng(1).normal(size=(80, 1)) * np.ones((1, 100))
    >>> found = marks_along(rows, np.ones((80, 100), dtype=bool), 0.0)
    >>> found.sums.shape, bool(found.sums[-1, -1, 0] > 0.5 * found.sums[-1, -1, 1])
    ((41, 51, 2), True)
    """
    small = block_means(logarithm, BLOCK)
    there = block_means(seen.astype(float), BLOCK) > 1 - 0.5 / BLOCK**2
    along, across = _slopes(small, direction, grain)
    size = np.hypot(along, across)
    # One deep scratch must not outweigh a whole neighbourhood.
    bound = 3 * float(np.median(size[there]))
    limit = np.minimum(bound / np.maximum(size, 1e-12), 1.0)
    along, across = along * limit, across * limit
    total = gaussian_filter(along**2 + across**2, AROUND * grain / BLOCK, truncate=3)
    none = max(0.3 * float(np.median(total[there])), (FAINTEST * level) ** 2, 1e-14)
    excess = (along**2 - across**2) / (total + none)
    sums = np.zeros((small.shape[0] + 1, small.shape[1] + 1, 2))
    np.cumsum(np.cumsum(np.where(there, excess, 0.0), axis=0), axis=1, out=sums[1:, 1:, 0])
    np.cumsum(np.cumsum(there, axis=0), axis=1, out=sums[1:, 1:, 1])
    return Marks(sums)


def _slopes(picture: FloatArray, direction: float, grain: float) -> tuple[FloatArray, FloatArray]:
    """Slopes that marks along the pin make, and marks across it, of a picture of squares."""
    padded = np.pad(picture, BORDER, mode="symmetric").astype(np.float32)
    shape = [next_fast_len(side, real=True) for side in padded.shape]
    waves = rfft2(padded, shape)
    down, right = fftfreq(shape[0])[:, None].astype(np.float32), rfftfreq(shape[1])[None].astype(np.float32)
    c, s = np.float32(np.cos(direction)), np.float32(np.sin(direction))
    u, v = right * c + down * s, down * c - right * s
    long, fine, slow = (2 * (np.pi * one * grain / BLOCK) ** 2 for one in (LONG, FINE, SLOW))
    found = []
    for over, way in ((v, u), (u, v)):
        square = over * over
        bell = np.exp(-long * way * way - fine * square) * -np.expm1(-slow * square)
        slope = irfft2(waves * (2j * np.pi * over * bell), shape)
        found.append(slope[BORDER : BORDER + picture.shape[0], BORDER : BORDER + picture.shape[1]])
    return found[0], found[1]


def worn(ellipse: Ellipse, marks: Marks) -> float:
    """Tell whether striations along the pin are seen inside an oval, and more of them than around it.

    Parameters
    ----------
    ellipse : Ellipse
        The oval [points].
    marks : Marks
        As `marks_along` gives them.

    Returns
    -------
    float
        From 0, no such thing, to 1.

    References
    ----------
    Own definition, on what `compared` gives: from one half to three standard errors inside, and from two to
    six in the difference.

    Examples
    --------
    >>> even = marks_along(np.zeros((160, 200)), np.ones((160, 200), dtype=bool), 0.0)
    >>> worn(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0), even)
    0.0
    """
    along, sure = compared(ellipse, marks)
    return min(ramp(along, 0.5, 3.0), ramp(sure, 2.0, 6.0))


def compared(ellipse: Ellipse, marks: Marks) -> tuple[float, float]:
    """Compare the direction of the marks inside an oval with those around it.

    Sliding leaves striations along the pin inside of a scar and takes away the grinding marks, which lie
    across it or wherever they lay before. A drop of oil, a shadow or a stain leaves them as they are.

    Parameters
    ----------
    ellipse : Ellipse
        The oval [points].
    marks : Marks
        As `marks_along` gives them.

    Returns
    -------
    tuple of float
        Excess of marks along the pin over marks across it inside the oval, over its standard error; and its
        difference from the excess outside, over its standard error.

    References
    ----------
    Own definition: the mean excess in squares a fifth of the half-axis wide, medians over the squares.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> y, x = np.mgrid[:160, :200]
    >>> scar = np.hypot((x - 100) / 60, (y - 80) / 40) < 1
    >>> picture = np.where(scar, rng.normal(size=(160, 1)), rng.normal(size=(1, 200)))
    >>> found = marks_along(picture, np.ones(scar.shape, dtype=bool), 0.0)
    >>> inside, differ = compared(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0), found)
    >>> inside > 10, differ > 20
    (True, True)
    """
    sums, ellipse = marks.sums, marks.of_squares(ellipse)
    rows, columns = sums.shape[0] - 1, sums.shape[1] - 1
    side = max(2, round(min(ellipse.a, ellipse.b) / 5))
    reach = 1.7 * max(ellipse.a, ellipse.b)
    top, left = max(int(ellipse.y - reach), 0), max(int(ellipse.x - reach), 0)
    high = (min(int(ellipse.y + reach), rows) - top) // side
    wide = (min(int(ellipse.x + reach), columns) - left) // side
    if high < 2 or wide < 2:
        return 0.0, 0.0
    corners = sums[top : top + high * side + 1 : side, left : left + wide * side + 1 : side]
    found = np.diff(np.diff(corners, axis=0), axis=1)
    along = np.where(found[..., 1] == side * side, found[..., 0] / side**2, np.nan)
    y = top + (np.arange(high)[:, None] + 0.5) * side - 0.5 - ellipse.y
    x = left + (np.arange(wide)[None] + 0.5) * side - 0.5 - ellipse.x
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


RINGS, ROUND = 6, 32
"""Rings of places inside an oval, and places on each, all of one share of its area."""


def striated(ellipse: Ellipse, marks: Marks) -> float:
    """Tell in how much of an oval marks run along the pin.

    A worn face is striated all over. Print on a label and the walls of a hole lie in parts of an oval only.

    Parameters
    ----------
    ellipse : Ellipse
        The oval [points].
    marks : Marks
        As `marks_along` gives them.

    Returns
    -------
    float
        The share of places inside of it with more marks along the pin than across it [1].

    References
    ----------
    Own definition. Without marks half of the places have, by chance.

    Examples
    --------
    >>> rows = np.random.default_rng(1).normal(size=(160, 1)) * np.ones((1, 200))
    >>> part = np.where(np.arange(200) < 60, rows, np.random.default_rng(2).normal(size=(160, 200)))
    >>> everywhere = np.ones(rows.shape, dtype=bool)
    >>> oval = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> [striated(oval, marks_along(one, everywhere, 0.0)) > 0.8 for one in (rows, part)]
    [True, False]
    """
    ring = np.arange(RINGS)[:, None]
    level, t = 0.82 * np.sqrt((ring + 0.5) / RINGS), 2 * np.pi * (np.arange(ROUND) + ring % 2 / 2) / ROUND
    u, v = level * ellipse.a * np.cos(t), level * ellipse.b * np.sin(t)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    places = np.stack([ellipse.x + u * c - v * s, ellipse.y + u * s + v * c], axis=-1).reshape(-1, 2)
    # Squares so wide that noise hardly turns the sign of their mean.
    found = mean_around(marks, places, max(2.0, min(ellipse.a, ellipse.b) / 5))
    return float((found > 0).mean())


PLACES, BESIDE, NEAR, SIDE = 48, 0.13, 5, 0.07
"""Places round the rim, how far off it marks are looked at, how many are averaged, half of a square's side.

Distances are shares of the short half-axis."""


def marks_inside(rim: Rim, marks: Marks) -> float:
    """Tell whether marks just inside of a rim run along the pin everywhere.

    An outline that follows a grinding mark has ground pin inside of it.

    Parameters
    ----------
    rim : Rim
        The rim [points].
    marks : Marks
        As `marks_along` gives them.

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
    >>> rng = np.random.default_rng(1)
    >>> y, x = np.mgrid[:160, :200]
    >>> scar = np.hypot((x - 100) / 60, (y - 80) / 40) < 1
    >>> picture = np.where(scar, rng.normal(size=(160, 1)), rng.normal(size=(1, 200)))
    >>> found = marks_along(picture, np.ones(scar.shape, dtype=bool), 0.0)
    >>> marks_inside(Rim(Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)), found) > 0.5
    True
    >>> marks_inside(Rim(Ellipse(112.0, 80.0, 72.0, 40.0, 0.0)), found) < 0.5
    True
    """
    ellipse = rim.ellipse
    short = min(ellipse.a, ellipse.b)
    t = ellipse.even_angles(PLACES)
    points, normals = rim.points(t), rim.normals(t)
    half = max(2.0, SIDE * short)
    inside, outside = (
        mean_around(marks, points + away * short * normals, half) for away in (-BESIDE, BESIDE)
    )
    low, high = _median(outside), _median(inside)
    if not high - low > 0.01:
        return -1.0
    return max(float(uniform_filter1d((inside - low) / (high - low), NEAR, mode="wrap").min()), -1.0)


ONE_CONTRAST, ONE_INK = 1.19, 1.14
"""Steepest 3 % of slopes over the steepest tenth, under which marks are of one contrast; surely so."""
BROKEN = 0.015
"""Energy of the steepest slopes along the pin, over that across, from which marks are broken along it."""
CLEAN, SURELY_BROKEN = 25.0, 0.1
"""Steepest tenth of slopes over the least 30 %, from which most of an oval is clean; and, of such a one, the
energy along the pin from which it is print."""


def printed(brightness: FloatArray, ellipse: Ellipse) -> bool:
    """Tell whether what is seen inside of an oval is print on paper.

    Striations are of every depth and run on for long. All print is of one ink, so its steepest slopes are
    equal, and it is broken along its lines.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        The picture, from 0 to 1 [-].
    ellipse : Ellipse
        The oval; `a` lies along the pin [points].

    Returns
    -------
    bool
        Whether it is print.

    References
    ----------
    Own definition: the 97th over the 90th percentile is 1.32 for normal slopes, and more for striations.

    Examples
    --------
    >>> y, x = np.mgrid[:160, :200]
    >>> oval = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> printed(np.where((y % 12 < 4) & (x % 15 < 9), 0.2, 0.8), oval)
    True
    >>> lines = 0.05 * np.random.default_rng(1).normal(size=(160, 1)) * np.ones((1, 200))
    >>> printed(0.5 + lines, oval)
    False
    """
    reach = 0.8 * max(ellipse.a, ellipse.b)
    top, left = max(int(ellipse.y - reach), 0), max(int(ellipse.x - reach), 0)
    part = brightness[top : max(int(ellipse.y + reach) + 2, 0), left : max(int(ellipse.x + reach) + 2, 0)]
    if min(part.shape) < 4:
        return False
    gy, gx = np.gradient(gaussian_filter(part, max(1.0, brightness.shape[1] / 480), truncate=3))
    y, x = np.arange(top, top + part.shape[0])[:, None], np.arange(left, left + part.shape[1])[None]
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    dx, dy = x - ellipse.x, y - ellipse.y
    inside = np.hypot((dx * c + dy * s) / ellipse.a, (dy * c - dx * s) / ellipse.b) < 0.8
    along, across = (gx * c + gy * s)[inside], (gy * c - gx * s)[inside]
    size = np.hypot(along, across)
    if not size.any():
        return False
    least, steep, steepest = np.percentile(size, (30, 90, 97))
    most = size >= steep
    broken = float((along[most] ** 2).sum()) / max(float((across[most] ** 2).sum()), 1e-12)
    if steep > CLEAN * least and broken > SURELY_BROKEN:
        return True
    return bool(steepest < (ONE_CONTRAST if broken > BROKEN else ONE_INK) * steep)


def mean_around(marks: Marks, middles: FloatArray, half: float) -> FloatArray:
    """Average the excess of marks along the pin over squares round places.

    Parameters
    ----------
    marks : Marks
        As `marks_along` gives them.
    middles : array, shape (n, 2)
        Columns and rows of the places [points].
    half : float
        Half of a square's side [points].

    Returns
    -------
    array, shape (n,)
        The mean excess, from -1 to 1; 0 where nothing of a square is seen [1].

    References
    ----------
    Summed area tables: F. C. Crow, Computer Graphics 18, 1984.

    Examples
    --------
    >>> sums = np.zeros((5, 5, 2))
    >>> sums[1:, 1:] = np.cumsum(np.cumsum(np.ones((4, 4, 2)), axis=0), axis=1)
    >>> mean_around(Marks(sums), np.array([[3.5, 3.5]]), 2.0).tolist()
    [1.0]
    """
    sums, bounds = marks.sums, np.array([marks.sums.shape[1] - 1, marks.sums.shape[0] - 1])
    (left, top), (right, bottom) = (
        np.clip(np.rint((middles + away + 0.5) / marks.block), 0, bounds).astype(np.intp).T
        for away in (-half, half)
    )
    found = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
    return np.asarray(found[:, 0] / np.maximum(found[:, 1], 1.0))


def ramp(value: float, bad: float, good: float) -> float:
    """Tell how good a value is, from 0 at a bad one to 1 at a good one.

    Parameters
    ----------
    value, bad, good : float
        The value, and where the ramp begins and ends [any unit].

    Returns
    -------
    float
        From 0 to 1.

    References
    ----------
    A straight line with both ends held.

    Examples
    --------
    >>> ramp(2.0, 0.0, 8.0)
    0.25
    """
    return float(np.clip((value - bad) / (good - bad), 0.0, 1.0))

"""The scale of a micrograph from the bar burnt into it: its ends to a fraction of a point."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from pinscar.evidence.bar_search import find_bars, planes
from pinscar.evidence.bar_shape import BarShape, same_place
from pinscar.evidence.second_bar import second_bar

FloatArray = NDArray[np.float64]
EACH = (-1, 1)
"""The way along a bar to its start and to its end."""
MARGIN = 14
"""How far beyond a bar its surroundings are looked at [points]."""
UNEVEN = 0.08
"""Largest standard deviation along a bar, as a share of the step at its ends."""
THIN = 4.5
"""Thickness up to which a bar aslant is summed up across with its sides [points]."""
STRONG, PURE, LONG, EVEN, SLANT = 0.15, 0.9, 0.06, 0.15, 1.0
"""Least step of a bar that is no scratch though its ends are not clear, its least brightness where 1 is white
or black, its least length as a share of the picture's side, its most variation along itself, between the
first and the last tenth, over the step, and how far it may lie aslant from end to end [points]."""
FAINT_SHARP, FAINT_SLANT = 0.45, 0.6
"""Largest standard uncertainty of the length of a bar that is neither white nor black nor of a pure colour,
and how far it may lie aslant from end to end [points]: scratches are soft and aslant, drawn bars are not."""
SHARP = 0.6
"""Largest standard uncertainty of the length of a bar that was cut out of what touches it [points]."""
WHOLE = 1 / np.sqrt(12)
"""Standard deviation of what rounding to whole points does [points]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBarReading:
    """A scale read from a bar.

    Parameters
    ----------
    scale : float
        Size of one point [m].
    relative_uncertainty : float
        Its standard uncertainty [1]. It is that of placing both ends: programs draw a bar to whole points,
        a picture made smaller or larger spreads that over the width of the edge, noise adds to it, and end
        ticks do not show from where the length counts. That of the bar's own length is not in it.
    points : float
        Length of the bar [points].
    ends : array, shape (2, 2)
        Column and row of both ends [points].
    angle : float
        Direction of the bar, from the image's x axis towards its y axis [rad]; near 0 or half of pi.
    ticks : float
        Width of the end ticks [points], 0 where there are none; the length then counts between their middles.
    warnings : tuple of str
        What to look at, in words.
    """

    scale: float
    relative_uncertainty: float
    points: float
    ends: FloatArray
    angle: float
    ticks: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Measured:
    """A bar with its ends along its centre line [columns], and their standard uncertainties [points]."""

    shape: BarShape
    start: float
    end: float
    uncertainty: float

    @property
    def points(self) -> float:
        return (self.end - self.start) * float(np.hypot(1.0, self.shape.slope))


def read_scale_bar(image: NDArray[np.generic], length: float) -> ScaleBarReading:
    """Read the scale from the scale bar burnt into a picture.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture [grey or colour values].
    length : float
        What the bar stands for [m].

    Returns
    -------
    ScaleBarReading
        The scale.

    Raises
    ------
    ValueError
        If no bar is seen, or several that could be meant, or the length is not positive.

    References
    ----------
    Own method. Rounding to whole points as a uniform distribution: JCGM 100:2008 (GUM), 4.3.7.

    Examples
    --------
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> reading = read_scale_bar(picture, 0.3e-3)
    >>> round(reading.points, 6), round(reading.scale * 1e6, 6), round(reading.relative_uncertainty, 4)
    (60.0, 5.0, 0.0068)
    """
    if not (length > 0 and np.isfinite(length)):
        raise ValueError(f"the length of the bar must be positive, not {length}")
    bar = _the_one(_apart([one for shape in find_bars(image) if (one := _measured(shape)) is not None]))
    _refuse_a_second(image, bar)
    points = bar.points
    return ScaleBarReading(
        scale=length / points,
        relative_uncertainty=bar.uncertainty / points,
        points=points,
        ends=_ends(bar),
        angle=_angle(bar.shape),
        ticks=float(bar.shape.ticks),
        warnings=_warnings(bar),
    )


def _apart(bars: list[_Measured]) -> list[_Measured]:
    """Keep each bar once, as read in the colour in which its ends are surest."""
    strongest = max((bar.shape.level - bar.shape.cut for bar in bars), default=0.0)

    def order(bar: _Measured) -> tuple[bool, bool, float]:
        return bar.shape.cut_out, bar.shape.level - bar.shape.cut < 0.5 * strongest, bar.uncertainty

    kept: list[_Measured] = []
    for bar in sorted(bars, key=order):
        if not any(same_place(bar.shape, other.shape) for other in kept):
            kept.append(bar)
    return kept


def _the_one(bars: list[_Measured]) -> _Measured:
    """Give the bar; where there are several, it is not known which of them the length belongs to."""
    if not any(math.isfinite(one.uncertainty) for one in bars):
        raise ValueError("no scale bar is seen: no even, sharp, level or upright bar clear of the border")
    if len(bars) > 1:
        told = ", ".join(f"{one.points:.0f} at {_place(one)}" for one in bars[:4])
        raise ValueError(f"{len(bars)} bars could be meant, long [points]: {told}")
    return bars[0]


def _refuse_a_second(image: NDArray[np.generic], bar: _Measured) -> None:
    """Refuse where anything else may be a bar, even if its length is not seen among scratches."""
    ends = _ends(bar)
    for number, plane in enumerate(planes(image)):
        other = second_bar(plane, number > 0, bar.shape, ends)
        if other is not None:
            column, row, long = other
            told = f"{bar.points:.0f} at {_place(bar)}, {long} at column {column:.0f}, row {row:.0f}"
            raise ValueError(f"2 bars could be meant, long [points]: {told}")


def _place(bar: _Measured) -> str:
    column, row = _ends(bar).mean(axis=0)
    return f"column {column:.0f}, row {row:.0f}"


def _ends(bar: _Measured) -> FloatArray:
    columns = np.array([bar.start, bar.end])
    ends = np.column_stack([columns, bar.shape.middle + bar.shape.slope * columns])
    return ends[:, ::-1] if bar.shape.standing else ends


def _angle(shape: BarShape) -> float:
    turn = float(np.arctan(shape.slope))
    return float(np.pi / 2 - turn) if shape.standing else turn


def _warnings(bar: _Measured) -> tuple[str, ...]:
    found = []
    if bar.shape.ticks:
        share = 100 * bar.shape.ticks / bar.points
        found.append(
            f"the bar has end ticks and is read between their middles; it is {share:.1f} % longer over all"
        )
    share = 100 * bar.uncertainty / bar.points
    if share > 1.0 and not bar.shape.ticks:
        found.append(f"the bar is {bar.points:.0f} points long: its ends leave {share:.1f} % of doubt")
    return tuple(found)


def _measured(shape: BarShape) -> _Measured | None:
    """Place both ends; None where the bar is uneven or its ends or sides fade, as a scratch's do."""
    columns = np.arange(shape.first - MARGIN, shape.last + MARGIN + 1)
    points = _sampled(shape, columns, _rows_across(shape))
    profile = points.mean(axis=0)
    inner = profile[MARGIN + 3 : -MARGIN - 3]
    level, spread = float(np.median(inner)), float(inner.std())
    ends = [one for step in EACH if (one := _end(profile[::step], level, shape.long)) is not None]
    steps = [level - one.outside for one in ends]
    told = len(ends) == len(EACH) and spread <= UNEVEN * min(steps)
    if not told or not _sides_are_sharp(shape, max(one.rise for one in ends)):
        return _unmeasured(shape, inner)
    whole = [WHOLE * max(1.0, one.rise) for one in ends]
    noise = spread / min(steps)
    # With ticks, the length may be meant from the outer or the inner edge, the same at both ends.
    open_ = shape.ticks / np.sqrt(3)
    uncertainty = float(np.sqrt(whole[0] ** 2 + whole[1] ** 2 + 2 * noise**2 + open_**2))
    start = float(columns[-1]) - ends[0].place + shape.ticks / 2
    end = float(columns[0]) + ends[1].place - shape.ticks / 2
    if shape.cut_out and uncertainty > SHARP:
        return _unmeasured(shape, inner)
    sure = float(np.hypot(whole[0], whole[1]))
    if shape.level < PURE and max(sure / FAINT_SHARP, abs(shape.slope) * shape.long / FAINT_SLANT) > 1.0:
        return None
    return _Measured(shape, start, end, uncertainty)


def _unmeasured(shape: BarShape, inner: FloatArray) -> _Measured | None:
    """Keep a strong and even bar whose ends lie in scratches: it is one, but its length is not known."""
    step = 2.0 * (shape.level - shape.cut)
    low, high = np.quantile(inner, (0.1, 0.9))
    strong = step > STRONG and shape.level > PURE and shape.long > LONG * shape.plane.shape[1]
    level = abs(shape.slope) * shape.long < SLANT
    if not (level and strong and high - low < EVEN * step):
        return None
    return _Measured(shape, float(shape.first), float(shape.last), math.inf)


def _rows_across(shape: BarShape) -> FloatArray:
    """Distances from the centre line at which the ends are looked for.

    Well inside of the bar; of a thin one that runs aslant between the rows of points, its sides too, so that
    the sum across it is the same all along.
    """
    aslant = abs(shape.slope) * shape.long > 0.3
    half = shape.height / 2 + 0.5 if aslant and shape.height <= THIN else max(0.0, shape.height / 2 - 1)
    return np.linspace(-half, half, round(2 * half) + 1)


def _sampled(shape: BarShape, columns: NDArray[np.intp], across: FloatArray) -> FloatArray:
    """Brightness along the centre line and beside it; shape (across, columns)."""
    row = shape.middle + shape.slope * columns[None, :] + across[:, None]
    column = np.broadcast_to(columns[None, :].astype(float), row.shape)
    return np.asarray(map_coordinates(shape.plane, [row, column], order=1, mode="nearest"), dtype=float)


@dataclass(frozen=True, slots=True)
class _End:
    """The end of a bar: place along the profile, brightness outside, and width of the edge [points]."""

    place: float
    outside: float
    rise: int


def _end(profile: FloatArray, level: float, long: int) -> _End | None:
    """Find the right-hand end: whole points of the bar, and the share covered of those on the edge."""
    last = len(profile) - 1 - MARGIN
    rise = 1
    for _ in range(3):
        outside = float(np.median(profile[last + 1 + rise : last + 3 + rise]))
        if level - outside < 1e-3:
            return None
        share = np.clip((profile - outside) / (level - outside), 0.0, 1.0)
        full = last
        while full > len(profile) // 2 and share[full] < 0.9:
            full -= 1
        empty = full + 1
        while empty < len(share) - 1 and share[empty] > 0.1:
            empty += 1
        found = empty - full - 1
        if found <= rise:
            break
        rise = min(found, MARGIN - 4)
    if found > max(4.0, 0.03 * long) or found > MARGIN - 4:
        return None
    return _End(full + 0.5 + float(share[full + 1 : empty].sum()), outside, found)


def _sides_are_sharp(shape: BarShape, rise: int) -> bool:
    columns = np.arange(shape.first + 3, shape.last - 2)
    beyond = shape.height / 2 + 1.5 + max(1, rise) / 2
    beside = np.median(_sampled(shape, columns, np.array([-beyond, beyond])), axis=1)
    # The limit is half the step; beside the bar three quarters of the step must be reached.
    return bool((shape.level - beside > 1.5 * (shape.level - shape.cut)).all())

"""The scale of a microscope from a picture of a graticule: pitch by spectrum, checked line by line."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft2
from scipy.ndimage import gaussian_filter, map_coordinates, uniform_filter1d
from scipy.optimize import minimize_scalar
from scipy.signal import find_peaks
from scipy.stats import t as student

from pinscar.evidence.grey import grey, seen_part, wide_blurs
from pinscar.evidence.recorder import robust_sd
from pinscar.evidence.short_lines import band_of_lines, stand_alone

FloatArray = NDArray[np.float64]
FEWEST = 5
"""Fewest lines that a scale is read from."""
AGREED = 0.02
"""Largest relative difference of spectrum and lines."""
WARNED = 0.005
"""Relative difference of axes, or of the two sides of the picture, that is warned of."""

MOST_BROKEN = 0.3
"""Largest share of a line that may be missing between its ends: letters leave about half of theirs."""

UNEVEN_PITCH, UNEVEN_POINTS = 0.025, 0.2
"""How far lines may lie off even places, as a standard deviation: a share of their distance, and points more.
The teeth of combs, fences and cloth lie off by 5 % and more."""

UNEVEN, OVER_BESIDE = 0.12, 2.5
"""Variation along a line, over its darkness, and over the variation beside it, from which on it is no line of
one make: rows of letters that are out of focus vary so."""
RAGGED, OVER_NOISE = 0.045, 3.0
"""Variation along a line or between two, over the darkness of a line and over the noise of the picture, from
which on something lies there: other lines of a grid, or letters."""

_TEXT = "the lines are broken all along, as those of a page of text are"
ASKEW = 1e-5
"""What a direction that is off by a quarter of a degree does to the pitch, 1 - cos [1]."""
ASKEW_SHORT = 4e-5
"""What a direction that is off by half a degree does to it, as that of short lines may be [1]."""
FINE_STEPS = 81
"""Directions that are tried for the foot of short lines: it is long, so that it is sharp in one only."""

STRIPS, FEWEST_STRIPS, LEAST_STRENGTH = 6, 4, 0.4
"""Strips across the lines whose pitches are compared, how many must have lines, and the least contrast of
such a strip over that of the best one."""

FEWEST_ALONG = 30
"""Fewest points along a line on which it is looked at."""

FEWEST_FOR_A_BEND, SURE = 5, 2.5
"""Lines from which a bend is looked for, and standard errors by which it must be seen."""

ENOUGH_POINTS = 2_000_000
"""Points that the direction of the lines is sought on; of a larger picture every so many along the lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GraticuleReading:
    """A scale read from a graticule.

    Parameters
    ----------
    scale : float
        Size of one point [m].
    relative_uncertainty : float
        Its standard uncertainty from the places of the lines; that of the pitch itself is not in it [1].
    angle : float
        Direction across the lines, from the image's x axis towards its y axis [rad].
    lines : int
        How many lines it rests on.
    spectrum_scale : float
        The scale by the spectrum alone [m].
    across : float or None
        Scale across the other lines of a crossed grid [m].
    warnings : tuple of str
        Tilt and unequal axes, in words.
    """

    scale: float
    relative_uncertainty: float
    angle: float
    lines: int
    spectrum_scale: float
    across: float | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Family:
    """A family of parallel lines: pitch [points], direction, how the pitch changes, whether others cross."""

    pitch: float
    uncertainty: float
    angle: float
    lines: int
    by_spectrum: float
    change: float
    change_uncertainty: float
    crossed: bool = False
    short: bool = False


def read_graticule(image: NDArray[np.generic], pitch: float) -> GraticuleReading:
    """Read the scale from a picture of parallel lines, or of a crossed grid.

    Where only a part of the picture shows detail, since it is half lit or half in focus, that part is read.
    Short lines are read in the band of rows or columns that they lie in, if the rest of the picture is bare.

    Parameters
    ----------
    image : array
        The picture [grey or colour values].
    pitch : float
        Distance of the lines [m].

    Returns
    -------
    GraticuleReading
        The scale.

    Raises
    ------
    ValueError
        If there are no regular lines, fewer than five, or spectrum and lines disagree by over 2 %; or if
        the lines are broken or vary along themselves, as rows of letters do.

    References
    ----------
    Own method. Straight line through the places of lines: ordinary least squares.

    Examples
    --------
    >>> x = np.arange(300) * np.ones((200, 1))
    >>> picture = 0.8 - 0.6 * np.exp(-(((x + 12.5) % 25.0 - 12.5) / 1.5) ** 2)
    >>> round(read_graticule(picture, 0.1e-3).scale * 1e6, 3)
    4.0
    """
    if not pitch > 0:
        raise ValueError(f"the pitch must be a positive length, not {pitch}")
    brightness = grey(image)
    shown, told = seen_part(brightness)
    brightness = brightness[shown]
    flat = brightness - wide_blurs(brightness, (min(brightness.shape) / 8,))[0]
    try:
        main = _family(flat, None)
    except ValueError as why:
        main = _short_lines(flat, why)
    try:
        other = None if main.short else _family(flat, main.angle + np.pi / 2)
    except ValueError:
        other = None
    if main.crossed and other is None:
        raise ValueError(_TEXT)
    across = None if other is None else pitch / other.pitch
    return GraticuleReading(
        scale=pitch / main.pitch,
        relative_uncertainty=main.uncertainty / main.pitch,
        angle=main.angle,
        lines=main.lines,
        spectrum_scale=pitch / main.by_spectrum,
        across=across,
        warnings=(*told, *_warnings(main, other)),
    )


def _warnings(main: _Family, other: _Family | None) -> tuple[str, ...]:
    found = []
    for one in (main, other):
        if one and abs(one.change) > max(WARNED, 3 * one.change_uncertainty):
            share = 100 * abs(one.change)
            found.append(f"the pitch changes by {share:.1f} % over the picture: tilted, or the lens distorts")
    if other and abs(other.pitch / main.pitch - 1) > WARNED:
        share = 100 * abs(other.pitch / main.pitch - 1)
        found.append(
            f"the two directions differ by {share:.1f} %: points not square, tilted, or another pitch"
        )
    return tuple(found)


def _short_lines(flat: FloatArray, why: ValueError) -> _Family:
    """Read short lines in the band that they lie in; else say why the whole picture was not read."""
    try:
        band = band_of_lines(flat)
    except ValueError:
        raise why from None
    part, wider = flat[band.place], flat[band.around]
    # Their foot, or their ends, make a longer edge than they are themselves; where there is none, they tell.
    foot = _aligned(wider, band.angle + np.pi / 2, max(wider.shape), FINE_STEPS) - np.pi / 2
    tried = []
    for angle in (foot, _aligned(part, band.angle, 1 / band.frequency)):
        try:
            centres = _centres(part, band.frequency, angle)
            tried.append((_from_lines(centres, angle, 1 / band.frequency), angle, centres))
        except ValueError:
            continue
    if not tried:
        raise why
    # The foot's direction is the surer one, unless the lines are much less even along it.
    found, angle, centres = min(tried, key=lambda one: one[0].uncertainty * (1.0 if one[1] == foot else 3.0))
    rows, columns = band.place
    if not stand_alone(flat, angle, centres + columns.start * math.cos(angle) + rows.start * math.sin(angle)):
        raise why
    return replace(found, uncertainty=math.hypot(found.uncertainty, ASKEW_SHORT * found.pitch), short=True)


def _family(flat: FloatArray, near: float | None) -> _Family:
    frequency, angle = _spectral_peak(flat, near)
    angle = _aligned(flat, angle, 1 / frequency)
    centres = _centres(flat, frequency, angle)
    broken, crossed = _broken(flat, angle, centres)
    if broken > MOST_BROKEN:
        raise ValueError(_TEXT)
    found = _from_lines(centres, angle, 1 / frequency)
    apart, within = _over_picture(flat, angle, 1 / frequency)
    total = float(np.linalg.norm([max(found.uncertainty, within), apart, ASKEW * found.pitch]))
    return replace(found, uncertainty=total, crossed=crossed)


def _centres(flat: FloatArray, frequency: float, angle: float) -> FloatArray:
    """Give the places of the lines across them."""
    places, profile = _profile(flat, angle)
    centres = _line_centres(places, profile, 1 / frequency)
    if len(centres) < FEWEST:
        raise ValueError(f"only {len(centres)} regular lines are seen, {FEWEST} are needed")
    return centres


def _broken(flat: FloatArray, angle: float, centres: FloatArray) -> tuple[float, bool]:
    """Tell how much of a line is not seen between its ends, median of lines, and whether something crosses.

    The share is 1 where most lines vary along themselves as letters do.
    """
    pitch = float(np.median(np.diff(centres)))
    reach = math.hypot(*flat.shape)
    along = np.arange(-reach, reach, max(1.0, pitch / 30))
    missing, uneven, crossed = [], [], []
    noise = robust_sd(np.diff(flat, 2, axis=0)) / math.sqrt(6.0)
    for centre in centres[:: max(len(centres) // 30, 1)]:
        column = centre * math.cos(angle) - along * math.sin(angle)
        row = centre * math.sin(angle) + along * math.cos(angle)
        shift = 0.5 * pitch * np.array([math.sin(angle), math.cos(angle)])
        inside = (row >= pitch) & (row < flat.shape[0] - pitch) & (column >= pitch)
        inside &= column < flat.shape[1] - pitch
        if np.count_nonzero(inside) < FEWEST_ALONG:
            continue
        place = np.array([row[inside], column[inside]])
        on = map_coordinates(flat, place, order=1)
        beside = [map_coordinates(flat, place + side * shift[:, None], order=1) for side in (-1, 1)]
        step = uniform_filter1d(on - 0.5 * (beside[0] + beside[1]), 3)
        step *= np.sign(np.median(step)) or 1.0
        wide = max(3, round(2 * pitch / float(along[1] - along[0])))
        varies = [robust_sd(one - uniform_filter1d(one, wide)) for one in (on, *beside)]
        darkness = float(np.quantile(step, 0.75))
        ragged = max(RAGGED * darkness, OVER_NOISE * noise)
        uneven.append(varies[0] > max(UNEVEN * darkness, OVER_BESIDE * max(varies[1:])))
        crossed.append(varies[0] > ragged or min(varies[1:]) > ragged)
        seen = np.flatnonzero(step > 0.4 * np.quantile(step, 0.9))
        missing.append(1.0 - seen.size / (seen[-1] - seen[0] + 1) if seen.size else 1.0)
    if not missing:
        return 0.0, False
    share = 1.0 if np.mean(uneven) > 0.5 else float(np.median(missing))
    return share, bool(np.mean(crossed) > 0.5)


def _over_picture(flat: FloatArray, angle: float, pitch: float) -> tuple[float, float]:
    """Tell how the pitch differs between strips along the way across the lines, and within one [points].

    The first as a standard deviation: a lens that distorts changes the pitch over the picture, and a scar
    lies anywhere in it. The second as its median.
    """
    rows, columns = (np.arange(side, dtype=float) for side in flat.shape)
    along = rows[:, None] * math.cos(angle) - columns[None, :] * math.sin(angle)
    reach = 0.5 * (flat.shape[0] * abs(math.cos(angle)) + flat.shape[1] * abs(math.sin(angle)))
    strip = np.floor((along - np.median(along)) / (2.0 * reach) * STRIPS + 0.5 * STRIPS)
    profiles = [_profile(flat, angle, kept=strip == number) for number in range(STRIPS)]
    strengths = np.array([np.std(profile) for _, profile in profiles])
    pitches, bends = [], []
    # Short lines reach into some strips only; what is found in the others is noise.
    for number in np.flatnonzero(strengths > LEAST_STRENGTH * strengths.max()):
        centres = _line_centres(*profiles[number], pitch)
        if len(centres) >= FEWEST:
            count = np.rint((centres - centres[0]) / np.median(np.diff(centres)))
            pitches.append(float(np.polyfit(count, centres, 1)[0]))
            bends.append(_distortion(count - count.mean(), centres))
    if len(pitches) < FEWEST_STRIPS:
        return 0.0, 0.0
    return float(np.std(pitches, ddof=1)), float(np.median(bends))


def _spectral_peak(flat: FloatArray, near: float | None) -> tuple[float, float]:
    """Frequency [1/points] and direction of the strongest period, lowest of its harmonics."""
    # Single precision is enough here, and halves the memory that a large picture takes.
    rows, columns = (np.hanning(side).astype(np.float32) for side in flat.shape)
    size = [2 * side for side in flat.shape]
    power = np.abs(rfft2(flat.astype(np.float32) * rows[:, None] * columns, size)) ** 2
    fy = np.fft.fftfreq(size[0]).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(size[1]).astype(np.float32)[None, :]
    radius = np.hypot(fx, fy)
    power[(radius <= 4 / min(flat.shape)) | (radius >= 0.35)] = 0.0
    if near is not None:
        off = np.abs((np.arctan2(fy, fx) - near + np.pi / 2) % np.pi - np.pi / 2)
        power[off >= np.radians(10)] = 0.0
    peak = np.unravel_index(power.argmax(), power.shape)
    if power[peak] < 200 * power[power > 0].mean(dtype=float):
        raise ValueError("no regular lines stand out in the picture")
    for part in (3, 2):
        near_part = power * _around(fx, fy, peak, 1.5 / min(flat.shape), part)
        if near_part.max() > 0.1 * power[peak]:
            peak = np.unravel_index(near_part.argmax(), power.shape)
            break
    weight = power * _around(fx, fy, peak, 1.5 / min(flat.shape))
    x, y = (float((weight * f).sum(dtype=float) / weight.sum(dtype=float)) for f in (fx, fy))
    return math.hypot(x, y), math.atan2(y, x)


def _around(
    fx: NDArray[np.float32], fy: NDArray[np.float32], peak: tuple[np.intp, ...], reach: float, part: int = 1
) -> NDArray[np.bool_]:
    """Where the spectrum is near a peak, or near that share of its frequency."""
    return np.asarray(np.hypot(fx - fx[0, peak[1]] / part, fy - fy[peak[0], 0] / part) < reach)


def _aligned(flat: FloatArray, angle: float, pitch: float, steps: int = 15) -> float:
    """Turn the direction until the lines, added up along themselves, are sharpest."""
    reach = min(0.05, 0.5 * pitch / min(flat.shape) + 0.01)
    apart = math.ceil(flat.size / ENOUGH_POINTS)
    every = (apart, 1) if abs(math.cos(angle)) > abs(math.sin(angle)) else (1, apart)

    def blur(turn: float) -> float:
        return -float(_profile(flat, turn, every)[1].var())

    tried = np.linspace(angle - reach, angle + reach, steps)
    best = tried[int(np.argmin([blur(turn) for turn in tried]))]
    step = tried[1] - tried[0]
    found = minimize_scalar(blur, bounds=(best - step, best + step), method="bounded")
    return float(found.x)


def _profile(
    flat: FloatArray,
    angle: float,
    every: tuple[int, int] = (1, 1),
    kept: NDArray[np.bool_] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Mean brightness along the lines, by place across them in quarter points, of some of the points."""
    down, along = every
    rows = np.arange(0, flat.shape[0], down)[:, None]
    columns = np.arange(0, flat.shape[1], along)[None, :]
    flat = flat[::down, ::along]
    place = 4 * (columns * np.cos(angle) + rows * np.sin(angle))
    if kept is not None:
        place, flat = place[kept], flat[kept]
    low = np.floor(place - place.min()).astype(int)
    count = np.bincount(low.ravel())
    total = np.bincount(low.ravel(), flat.ravel())
    enough = np.flatnonzero(count > 0.3 * np.median(count[count > 0]))
    # Lines parallel to rows or columns leave some bins empty; fill them from their neighbours.
    bins = np.arange(enough[0], enough[-1] + 1)
    profile = np.interp(bins, enough, total[enough] / count[enough])
    return (place.min() + bins + 0.5) / 4, profile


def _line_centres(places: FloatArray, profile: FloatArray, pitch: float) -> FloatArray:
    """Centres of lines, dark or bright, as centroids of what stands out."""
    away = profile - np.median(profile)
    sign = 1.0 if (away**3).sum() > 0 else -1.0
    smooth = gaussian_filter(sign * away, 2.0)
    height = 0.4 * np.quantile(smooth, 0.98)
    peaks, _ = find_peaks(smooth, height=height, distance=max(1, int(0.6 * pitch * 4)))
    centres = []
    for peak in peaks:
        near = np.abs(places - places[peak]) < 0.3 * pitch
        if places[peak] - 0.3 * pitch < places[0] or places[peak] + 0.3 * pitch > places[-1]:
            continue
        weight = np.maximum(smooth[near] - 0.3 * smooth[peak], 0)
        centres.append(float((weight * places[near]).sum() / weight.sum()))
    return np.array(centres)


def _distortion(number: FloatArray, centres: FloatArray) -> float:
    """Tell how the pitch varies over the picture, where a bend of third order is surely there [points]."""
    if len(centres) < FEWEST_FOR_A_BEND:
        return 0.0
    fit, spread = np.polyfit(number, centres, 3, cov=True)
    bent = np.abs(fit[:2]) > SURE * np.sqrt(np.diag(spread)[:2])
    if not bent.any():
        return 0.0
    return float(np.std(np.polyval(np.polyder(fit), number))) * _for_few(len(centres) - 4)


def _for_few(freedom: int) -> float:
    """Factor on a standard uncertainty, so that twice it covers as Student's t does with few lines.

    JCGM 100:2008 (GUM), annex G.3.
    """
    return float(student.ppf(0.975, max(freedom, 1)) / student.ppf(0.975, np.inf))


def _from_lines(centres: FloatArray, angle: float, by_spectrum: float) -> _Family:
    number = np.rint((centres - centres[0]) / np.median(np.diff(centres)))
    middle = number - number.mean()
    (bend, slope, _), spread = np.polyfit(middle, centres, 2, cov="unscaled")
    pitch, start = np.polyfit(middle, centres, 1)
    left = centres - start - pitch * middle
    noise = float(np.sqrt((left**2).sum() / max(len(centres) - 2, 1)))
    if abs(pitch / by_spectrum - 1) > AGREED:
        raise ValueError(f"the spectrum gives a pitch of {by_spectrum:.2f} points, the lines {pitch:.2f}")
    curved = centres - np.polyval(np.polyfit(middle, centres, 2), middle)
    curve_noise = float(np.sqrt((curved**2).sum() / max(len(centres) - 3, 1)))
    bent = np.polyfit(middle, centres, min(3, len(centres) - 2))
    uneven = float(np.std(centres - np.polyval(bent, middle))) / abs(float(pitch))
    if uneven > UNEVEN_PITCH + UNEVEN_POINTS / abs(float(pitch)):
        raise ValueError(
            f"the lines are not evenly spaced: {100 * uneven:.1f} % of their distance off even places"
        )
    span = float(np.ptp(middle))
    plain = noise / float(np.sqrt((middle**2).sum())) * _for_few(len(centres) - 2)
    return _Family(
        pitch=float(pitch),
        uncertainty=float(np.hypot(plain, _distortion(middle, centres))),
        angle=angle,
        lines=len(centres),
        by_spectrum=by_spectrum,
        change=2 * float(bend) * span / float(slope),
        change_uncertainty=2 * curve_noise * float(np.sqrt(spread[0, 0])) * span / float(slope),
    )

"""The pitch of tracked lines as a mean over the picture, with tilt and distortion where they show."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from pinscar.evidence.line_strips import FEWEST, Strips
from pinscar.evidence.line_tracks import Tracks
from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
SURE = 4.0
"""Standard errors by which tilt or distortion must be seen."""
LONG = 0.2
"""Least length of the lines over the picture's from which on a change along them is looked for."""
FAR = 0.4
"""Least length of the row of lines over the picture's shorter side from which on any change is looked for."""
SOFT = 1.4
"""Width from which on a line counts as out of focus, over that of the sharper ones: its place may be off."""
OUTLIER, NEAREST = 4.0, 0.02
"""Standard deviations beyond which a place of a line is left out, and least distance for that [points]."""
FEWEST_STRIPS = 3
"""Fewest strips from which the direction of lines is known."""
ASKEW = 1e-5
"""What a direction that is off by a quarter of a degree does to the pitch, 1 - cos [1]."""
ROUNDED = 0.003
"""Standard uncertainty of the distance of the first and the last line however many points they rest on:
points of the picture share one grid with the lines' places [points]."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """The pitch of lines, and how far they lie off where they should.

    Parameters
    ----------
    pitch : float
        Mean over the picture [points].
    uncertainty : float
        Its standard uncertainty [points].
    turn : float
        How far the lines are turned against the strips [rad].
    change : float
        Largest less smallest scale over the picture, over the mean, by tilt and distortion [1].
    off_line : array, shape (lines,)
        Mean distance of each line from its even place [points]; NaN where it is hardly seen.
    wavy : float
        Standard deviation of places of a line about its own mean distance [points].
    """

    pitch: float
    uncertainty: float
    turn: float
    change: float
    off_line: FloatArray
    wavy: float


def even_pitch(strips: Strips, tracks: Tracks, shape: tuple[int, int]) -> Pitch:
    r"""Fit the numbers of lines as a function of their places.

    With :math:`u` across and :math:`v` along the lines from the picture's middle and
    :math:`r^2 = u^2 + v^2`,

    .. math:: n = a_0 + a_1 u + a_2 v + a_3 u^2 + a_4 u v + a_5 v^2 + a_6 u r^2

    The quadratic terms are those of tilt, the last one that of a lens that distorts alike in all directions.
    Of these, only what is seen by four standard errors is kept. The pitch is one over the mean of the slope
    over the picture, where distortion counts with its mean in both directions, :math:`1 + 2 a_6 r^2 / a_1`.
    What the scale changes by over the picture is in the uncertainty, as a scar lies anywhere in it.

    Parameters
    ----------
    strips : Strips
        The picture in strips.
    tracks : Tracks
        Lines in it.
    shape : tuple of int
        Rows and columns of the picture.

    Returns
    -------
    Pitch
        The pitch.

    Raises
    ------
    ValueError
        If the lines are seen in fewer than three strips, or are fewer than five.

    References
    ----------
    Covariance with the places of one line as a cluster: K.-Y. Liang and S. L. Zeger, Biometrika 73, 1986.
    Few lines: Student's t, JCGM 100:2008 (GUM), annex G.3. Radial distortion: D. C. Brown,
    Photogrammetric Engineering 37, 1971 (from memory).

    Examples
    --------
    >>> from pinscar.evidence.line_strips import longest_row, strips_across
    >>> from pinscar.evidence.line_tracks import follow
    >>> picture = np.tile(np.where(np.arange(200) % 20 < 4, 0.1, 0.9), (100, 1))
    >>> strips = strips_across(picture, 0.0, 0.0)
    >>> round(even_pitch(strips, follow(strips, longest_row(strips)), picture.shape).pitch, 6)
    20.0
    """
    seen = np.isfinite(tracks.place) & _in_focus(tracks)
    often = seen.sum(axis=0)
    often = often >= max(2.0, 0.25 * often.max())
    if len(tracks.strips) < FEWEST_STRIPS or np.count_nonzero(often) < FEWEST:
        raise ValueError("no regular lines stand out in the picture")
    strip, line = np.nonzero(seen & often)
    unit = 0.5 * math.hypot(*shape)
    u, v = tracks.place[strip, line] / unit, strips.along[tracks.strips][strip] / unit
    columns = _columns(u, v, int(np.count_nonzero(often)), min(shape) / unit)
    number = np.asarray(line - line.mean(), dtype=np.float64)
    kept = np.ones(u.size, dtype=bool)
    fitted = _fitted(columns, number, line, kept)
    for _ in range(3):
        left = np.abs(fitted.left) * tracks.pitch
        kept = left < max(OUTLIER * robust_sd(fitted.left[kept]) * tracks.pitch, NEAREST)
        fitted = _fitted(columns, number, line, kept)
        while (doubtful := fitted.doubtful()) is not None:
            columns = {name: values for name, values in columns.items() if name != doubtful}
            fitted = _fitted(columns, number, line, kept)
    return _told(fitted, (line, kept, seen.shape[1]), shape, (float(np.ptp(u)), tracks.pitch))


def _columns(u: FloatArray, v: FloatArray, lines: int, shorter: float) -> dict[str, FloatArray]:
    """Terms of the fit, as many as so many lines bear."""
    # What bends a short row of lines is hardly known, and would be carried on over the whole picture.
    bends = [("uu", u * u), ("ur", u * (u * u + v * v))]
    if float(np.ptp(v)) > LONG * shorter:
        bends += [("uv", u * v), ("vv", v * v)]
    most = max((lines - 3) // 2, 0) if float(np.ptp(u)) > FAR * shorter else 0
    return {"0": np.ones_like(u), "u": u, "v": v, **dict(bends[:most])}


def _in_focus(tracks: Tracks) -> NDArray[np.bool_]:
    """Where lines are about as narrow as the sharper ones; everywhere, if those are too few."""
    sharp = tracks.width < SOFT * float(np.nanquantile(tracks.width, 0.25))
    enough = np.count_nonzero(sharp.sum(axis=0) >= FEWEST_STRIPS) >= FEWEST
    return sharp if enough else np.ones_like(sharp)


@dataclass(frozen=True, slots=True)
class _Fitted:
    """What least squares gave: values of the terms, their covariance, and what is left at each place."""

    names: tuple[str, ...]
    values: FloatArray
    covariance: FloatArray
    left: FloatArray

    def value(self, name: str) -> float:
        return float(self.values[self.names.index(name)]) if name in self.names else 0.0

    def error(self, name: str) -> float:
        at = self.names.index(name)
        return math.sqrt(max(float(self.covariance[at, at]), 1e-30))

    def doubtful(self) -> str | None:
        """Give the least sure term of those that bend the lines; None if all are sure."""
        bends = [(abs(self.value(name)) / self.error(name), name) for name in self.names if len(name) > 1]
        sure, name = min(bends, default=(math.inf, ""))
        return name if sure < SURE else None


def _fitted(
    columns: dict[str, FloatArray],
    number: FloatArray,
    line: NDArray[np.intp],
    used: NDArray[np.bool_],
) -> _Fitted:
    """Least squares, with a covariance that takes the places of one line as hanging together."""
    matrix = np.stack(list(columns.values()), axis=1)
    inner = np.linalg.pinv(matrix[used].T @ matrix[used])
    values = inner @ (matrix[used].T @ number[used])
    left = number - matrix @ values
    scores = np.zeros((int(line.max()) + 1, matrix.shape[1]))
    np.add.at(scores, line[used], matrix[used] * left[used, None])
    lines = np.unique(line[used]).size
    spread = lines / max(lines - matrix.shape[1], 1) * (scores.T @ scores)
    return _Fitted(tuple(columns), values, inner @ spread @ inner, left)


def _told(
    fitted: _Fitted,
    numbered: tuple[NDArray[np.intp], NDArray[np.bool_], int],
    shape: tuple[int, int],
    seen: tuple[float, float],
) -> Pitch:
    """Turn the terms of the fit into a pitch with its uncertainty, and into what each line lies off."""
    line, kept, lines = numbered
    span, about = seen
    unit = 0.5 * math.hypot(*shape)
    slope, aside = fitted.value("u"), fitted.value("v")
    # The mean of r^2 over a rectangle is a third of its half diagonal's square.
    mean = np.array([{"u": 1.0, "ur": 2.0 / 3.0}.get(name, 0.0) for name in fitted.names])
    steep = math.hypot(float(mean @ fitted.values), aside)
    error = math.sqrt(max(float(mean @ fitted.covariance @ mean), 0.0)) / steep
    count = np.unique(line[kept]).size
    freedom = max(count - len(fitted.names), 1)
    error *= float(student.ppf(0.975, freedom) / student.ppf(0.975, np.inf))
    turned = math.atan2(aside, slope)
    reach = 0.5 * np.array(shape) / unit
    y, x = np.meshgrid(*(np.linspace(-one, one, 9) for one in reach), indexing="ij")
    # Across and along are turned against the picture, which hardly changes how much the scale varies.
    local = slope + 2 * fitted.value("uu") * x + fitted.value("uv") * y
    local = local + fitted.value("ur") * (3 * x**2 + y**2)
    spread = float(np.std(local)) / steep
    total = float(np.linalg.norm([error, spread, ASKEW, ROUNDED / (span * unit)]))
    pitch = unit / steep
    left = fitted.left * about
    often = np.bincount(line[kept], minlength=lines)
    off = np.bincount(line[kept], left[kept], minlength=lines) / np.maximum(often, 1)
    wavy = robust_sd(left[kept] - off[line[kept]])
    return Pitch(
        pitch=pitch,
        uncertainty=pitch * total,
        turn=turned,
        change=float(np.ptp(local)) / steep,
        off_line=np.where(often > 0, off, np.nan),
        wavy=wavy,
    )

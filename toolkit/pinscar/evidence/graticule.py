"""The scale of a microscope from a picture of a graticule: its lines one by one, checked by the spectrum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.grey import reduced, wide_blurs
from pinscar.evidence.line_checks import refuse_other_things
from pinscar.evidence.line_directions import line_directions
from pinscar.evidence.line_pitch import Pitch, even_pitch
from pinscar.evidence.line_strips import Strips, longest_row, strips_across
from pinscar.evidence.line_tracks import Tracks, follow
from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
AGREED = 0.02
"""Largest relative difference of spectrum and lines."""
WARNED = 0.005
"""Relative difference of axes, or of the scale over the picture, that is warned of."""
LONGEST = 2048
"""Longest side that lines are followed on [points]; a larger picture is averaged over squares."""
DIRECTIONS = 3
"""Directions that are tried."""
SAME = math.radians(3.0)
"""Directions that are one [rad]."""
TURNS, STRAIGHT, NEARLY_STRAIGHT = 6, 2e-3, 2e-2
"""How often the strips are turned to lie across the lines, when they do, and what is left at most [rad]: the
fit takes the rest into account, and short lines do not tell it better."""
DARK = 0.1
"""Brightness that light is raised by, over the strongest, before it is divided by."""
PART = 0.85
"""Share of what the lines would reach over from which on nothing is said of the part that was read."""


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


@dataclass(frozen=True, slots=True)
class _Family:
    """A family of parallel lines: in a picture of some shape, with the pitch by the spectrum [points]."""

    shape: tuple[int, int]
    strips: Strips
    tracks: Tracks
    found: Pitch
    by_spectrum: float

    @property
    def lines(self) -> int:
        return int(np.isfinite(self.found.off_line).sum())

    @property
    def angle(self) -> float:
        return self.strips.angle + self.found.turn


def read_graticule(image: NDArray[np.generic], pitch: float) -> GraticuleReading:
    """Read the scale from a picture of parallel lines, of a ruler with lines of some lengths, or a grid.

    Directions come from the spectrum. In each, the picture is added up in strips across the lines; from the
    strip with the longest row of even lines, they are followed as far as they are seen. So short lines, and
    those that are half lit or half in focus, are read where they are. What is no ruler is refused: lines that
    are not even, straight and whole.

    Parameters
    ----------
    image : array
        The picture [grey or colour values].
    pitch : float
        Distance of the lines [m].

    Returns
    -------
    GraticuleReading
        The scale, as a mean over the picture.

    Raises
    ------
    ValueError
        If there are no regular lines, fewer than five, or spectrum and lines disagree by over 2 %; or if
        the lines are uneven, wavy, broken or vary along themselves, as teeth, threads and letters do.

    References
    ----------
    Own method; the fit and its uncertainty stand in `line_pitch`.

    Examples
    --------
    >>> x = np.arange(300) * np.ones((200, 1))
    >>> picture = 0.8 - 0.6 * np.exp(-(((x + 12.5) % 25.0 - 12.5) / 1.5) ** 2)
    >>> round(read_graticule(picture, 0.1e-3).scale * 1e6, 3)
    4.0
    """
    if not pitch > 0:
        raise ValueError(f"the pitch must be a positive length, not {pitch}")
    brightness, side = reduced(image, LONGEST)
    light = wide_blurs(brightness, (min(brightness.shape) / 8,))[0]
    even = (brightness - light) / (light + DARK * float(light.max()) + 1e-6)
    noise = robust_sd(np.diff(brightness[::2], 2, axis=1)) / math.sqrt(6.0)
    main = _main(brightness, even, noise)
    try:
        other: _Family | None = _family(brightness, main.angle + 0.5 * math.pi, noise)
    except ValueError:
        other = None
    scale = pitch / (main.found.pitch * side)
    return GraticuleReading(
        scale=scale,
        relative_uncertainty=main.found.uncertainty / main.found.pitch,
        angle=main.angle % math.pi,
        lines=main.lines,
        spectrum_scale=pitch / (main.by_spectrum * side),
        across=None if other is None else pitch / (other.found.pitch * side),
        warnings=(*_part_read(main, side), *_warnings(main, other)),
    )


def _main(brightness: FloatArray, even: FloatArray, noise: float) -> _Family:
    """Give the lines of the first direction that are those of a ruler; else say why the first are not."""
    told: ValueError | None = None
    for angle in line_directions(even, DIRECTIONS):
        try:
            return _family(brightness, angle, noise)
        except ValueError as why:
            told = told or why
    raise told or ValueError("no regular lines stand out in the picture")


def _family(brightness: FloatArray, angle: float, noise: float) -> _Family:
    """Turn the strips until they lie across the lines; check the lines then."""
    near, shape = None, (brightness.shape[0], brightness.shape[1])
    turn = 0.0
    for _ in range(TURNS):
        angle += turn
        strips = strips_across(brightness, angle, noise)
        row = longest_row(strips, near)
        tracks = follow(strips, row)
        found = even_pitch(strips, tracks, shape)
        if abs(found.turn) < STRAIGHT:
            break
        turn, near = found.turn, float(strips.along[row.strip])
    if abs(found.turn) > NEARLY_STRAIGHT:
        raise ValueError("no regular lines stand out in the picture")
    refuse_other_things(brightness, strips, tracks, found)
    by_spectrum = _spectral_pitch(strips, tracks, row.strip)
    if abs(tracks.pitch / by_spectrum - 1.0) > AGREED:
        raise ValueError(
            f"the spectrum gives a pitch of {by_spectrum:.2f} points, the lines {tracks.pitch:.2f}"
        )
    return _Family(shape, strips, tracks, found, by_spectrum)


def _spectral_pitch(strips: Strips, tracks: Tracks, strip: int) -> float:
    """Give the period with the most power in the strip that the lines were found in, about theirs."""
    row = tracks.place[int(np.flatnonzero(tracks.strips == strip)[0])]
    first, last = np.nanmin(row) - 0.5 * tracks.pitch, np.nanmax(row) + 0.5 * tracks.pitch
    inside = (strips.across > first) & (strips.across < last)
    profile = strips.brightness[strip, inside]
    straight = np.polyval(np.polyfit(strips.across[inside], profile, 2), strips.across[inside])
    shown = (profile - straight) * np.hanning(profile.size)
    frequencies = np.linspace(0.6, 1.7, 2201) / tracks.pitch
    waves = np.exp(-2j * np.pi * np.outer(frequencies, strips.across[inside]))
    return float(1.0 / frequencies[int(np.abs(waves @ shown).argmax())])


def _part_read(main: _Family, side: int) -> tuple[str, ...]:
    """Say where the lines are read if they do not go on to the picture's border."""
    strips, tracks = main.strips, main.tracks
    ends = strips.ends[tracks.strips]
    reach = np.nanmax(tracks.place, axis=1) - np.nanmin(tracks.place, axis=1) + 2.0 * tracks.pitch
    if float(np.median(reach / (ends[:, 1] - ends[:, 0]))) > PART:
        return ()
    u, v = tracks.place, np.broadcast_to(strips.along[tracks.strips][:, None], tracks.place.shape)
    cos, sin = math.cos(strips.angle), math.sin(strips.angle)
    columns, rows = u * cos - v * sin, u * sin + v * cos
    shape = main.shape
    spans = [
        (side * (float(np.nanmin(one)) + 0.5 * size), side * (float(np.nanmax(one)) + 0.5 * size))
        for one, size in ((columns, shape[1]), (rows, shape[0]))
    ]
    told = " and ".join(
        f"{name} {low:.0f} to {high:.0f}"
        for name, (low, high) in zip(("columns", "rows"), spans, strict=True)
    )
    return (f"read from {told}: beyond its lines it is dark or out of focus, or the ruler ends",)


def _warnings(main: _Family, other: _Family | None) -> tuple[str, ...]:
    found = []
    for one in (main, other):
        if one and one.found.change > WARNED:
            share = 100 * one.found.change
            found.append(f"the pitch changes by {share:.1f} % over the picture: tilted, or the lens distorts")
    if other and abs(other.found.pitch / main.found.pitch - 1) > WARNED:
        share = 100 * abs(other.found.pitch / main.found.pitch - 1)
        found.append(
            f"the two directions differ by {share:.1f} %: points not square, tilted, or another pitch"
        )
    return tuple(found)

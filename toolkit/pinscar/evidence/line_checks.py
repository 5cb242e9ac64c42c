"""Whether tracked lines are those of a ruler: even, straight, whole, and what the picture mostly shows."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    gaussian_filter1d,
    map_coordinates,
    median_filter,
    uniform_filter1d,
)

from pinscar.evidence.line_pitch import Pitch
from pinscar.evidence.line_strips import FEWEST, Strips, row_in
from pinscar.evidence.line_tracks import Tracks
from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
UNEVEN_PITCH, UNEVEN_POINTS = 0.0015, 0.07
"""How far lines may lie off even places, as a standard deviation: a share of their distance, and points more.
A good graticule is even to a thousandth; the teeth of combs, fences and cloth lie off by 1 % and more."""
WAVY_PITCH, WAVY_POINTS = 0.003, 0.12
"""How far places of one line may lie off a straight one, in the same way: threads and letters do."""
SEEN = 0.8
"""Least share of the lines, from the first to the last, that must be seen."""
VARIED = 0.15
"""Most variation of the lines' darkness from place to place, over the darkness: letters vary by more."""
STRONG = 0.35
"""Least step at the lines over the strongest ones in the picture: a ruler is what the picture shows."""
MOST_BROKEN = 0.3
"""Largest share of a line that may be missing between its ends: letters leave about half of theirs."""
LITTER, MOST_LITTER = 0.25, 0.02
"""Step of what lies between two lines and not between the others, over the lines' own, and the share of the
way along a line that may have it, median of lines: joints of bricks and the edges of keys do."""
BETWEEN, MOST_BETWEEN = 0.3, 0.08
"""Step of what lies between two lines over the lines' own, and the share of the way between them that it may
take: rows of figures between the lines of a table take more."""
SHIFTED = 0.15
"""How far other lines of about the same distance may lie beside these, over that distance: courses of bricks
and rows of keys are set off against each other."""
ALIKE, AS_STRONG = 0.1, 0.4
"""How much their distance may differ to be about the same, and their least step over that of these."""
LOOKED_AT = 30
"""Lines that are looked at along themselves."""

TEXT = "the lines are broken all along, as those of a page of text are"


def refuse_other_things(brightness: FloatArray, strips: Strips, tracks: Tracks, found: Pitch) -> None:
    """Refuse lines that are not those of a ruler.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness [-].
    strips : Strips
        The picture in strips.
    tracks : Tracks
        Lines in it.
    found : Pitch
        What was fitted to them.

    Raises
    ------
    ValueError
        If the lines are not even, straight, whole or alike, or others are much stronger.

    References
    ----------
    Own rules.

    Examples
    --------
    >>> from pinscar.evidence.line_pitch import even_pitch
    >>> from pinscar.evidence.line_strips import longest_row, strips_across
    >>> from pinscar.evidence.line_tracks import follow
    >>> picture = np.tile(np.where(np.arange(200) % 20 < 4, 0.1, 0.9), (100, 1))
    >>> strips = strips_across(picture, 0.0, 0.0)
    >>> tracks = follow(strips, longest_row(strips))
    >>> refuse_other_things(picture, strips, tracks, even_pitch(strips, tracks, picture.shape))
    """
    seen = np.isfinite(found.off_line)
    uneven = float(np.std(found.off_line[seen]))
    ends = np.flatnonzero(seen)
    seen = seen[ends[0] : ends[-1] + 1]
    if uneven > UNEVEN_PITCH * tracks.pitch + UNEVEN_POINTS:
        share = 100 * uneven / tracks.pitch
        raise ValueError(f"the lines are not evenly spaced: {share:.1f} % of their distance off even places")
    if found.wavy > WAVY_PITCH * tracks.pitch + WAVY_POINTS:
        share = 100 * found.wavy / tracks.pitch
        raise ValueError(f"the lines are not straight: {share:.1f} % of their distance off straight ones")
    if np.mean(seen) < SEEN:
        raise ValueError(f"of {seen.size} lines in a row, {np.count_nonzero(~seen)} are missing")
    if _varied(tracks.step) > VARIED * tracks.usual or _broken(brightness, strips, tracks) > MOST_BROKEN:
        raise ValueError(TEXT)
    other = _litter(brightness, strips, tracks) > MOST_LITTER or _between(strips, tracks) > MOST_BETWEEN
    if other or _set_off(strips, tracks):
        raise ValueError("among the lines are others, set off against them, as on bricks or keys")
    step = float(np.nanmedian(tracks.step * tracks.ground))
    if step < STRONG * _strongest(strips, tracks.pitch):
        raise ValueError("the regular lines are much fainter than others in the picture")


def _varied(step: FloatArray) -> float:
    """Variation of a table that neither its rows nor its columns explain."""
    table = step - np.nanmedian(step, axis=1, keepdims=True)
    table = table - np.nanmedian(table, axis=0, keepdims=True)
    return robust_sd(table[np.isfinite(table)])


def _litter(brightness: FloatArray, strips: Strips, tracks: Tracks) -> float:
    """Share of the way along a line with things beside it and not beside the next; median of lines."""
    shares = []
    wide = 2 * int(0.4 * tracks.pitch) + 1
    for _, here, there in _along(brightness, strips, tracks, (0.0, 0.5, 1.5)):
        struck = []
        for ground in (here, there):
            usual = median_filter(ground, wide, mode="nearest")
            struck.append(np.abs(ground - usual) > LITTER * min(tracks.usual, 1.0) * np.maximum(usual, 1e-3))
        alone = struck[0] & ~binary_dilation(struck[1], iterations=max(4, round(0.15 * tracks.pitch)))
        shares.append(float(np.mean(alone)))
    return float(np.median(shares)) if shares else 0.0


def _between(strips: Strips, tracks: Tracks) -> float:
    """Share of the way from line to line on which something else is seen."""
    ways = np.linspace(0.3, 0.7, 17)
    shares = []
    for strip in range(tracks.strips[0], tracks.strips[-1] + 1):
        # Strips that do not show the lines are looked at too, where the lines would be.
        place = tracks.place[int(np.abs(tracks.strips - strip).argmin())]
        gaps = np.flatnonzero(np.isfinite(place[:-1]) & np.isfinite(place[1:]))
        start, apart = place[gaps, None], np.diff(place)[gaps, None]
        inside = (start[:, 0] > strips.ends[strip, 0]) & (start[:, 0] + apart[:, 0] < strips.ends[strip, 1])
        if np.count_nonzero(inside) < 3:
            continue
        shown = np.interp((start + apart * ways)[inside], strips.across, strips.brightness[strip])
        ends = np.maximum(shown[:, :1], 1e-3), np.maximum(shown[:, -1:], 1e-3)
        even = np.exp(np.log(ends[0]) + np.log(ends[1] / ends[0]) * np.linspace(0.0, 1.0, ways.size))
        shares.append(float(np.mean(np.abs(shown / even - 1.0) > BETWEEN * min(tracks.usual, 1.0))))
    return float(np.mean(shares)) if shares else 0.0


def _set_off(strips: Strips, tracks: Tracks) -> bool:
    """Tell whether strips without these lines have others of the same distance between them."""
    step = float(np.nanmedian(tracks.step * tracks.ground))
    for ways in (np.arange(tracks.strips[-1] + 1, len(strips.along)), np.arange(tracks.strips[0])[::-1]):
        edge = tracks.place[-1 if ways.size and ways[0] > tracks.strips[0] else 0]
        known = edge[np.isfinite(edge)]
        for strip in ways[:: max(len(ways) // 12, 1)]:
            try:
                row = row_in(strips, int(strip))
            except ValueError:
                continue
            inside = row.places[(row.places > known[0]) & (row.places < known[-1])]
            alike = abs(float(np.median(np.diff(row.places))) / tracks.pitch - 1.0) < ALIKE
            profile = strips.brightness[strip]
            at, beside = (
                np.interp(row.places + way * tracks.pitch, strips.across, profile) for way in (0.0, 0.5)
            )
            if not alike or inside.size < FEWEST or abs(float(np.mean(at - beside))) < AS_STRONG * step:
                continue
            turn = np.exp(2j * np.pi * np.interp(inside, known, np.arange(known.size)))
            if abs(turn.mean()) > 0.8 and abs(np.angle(turn.mean())) > 2 * np.pi * SHIFTED:
                return True
    return False


def _strongest(strips: Strips, pitch: float) -> float:
    """Step of the strongest lines of about one width in any strip."""
    inside = np.isfinite(strips.ends[:, 0])
    shown = strips.brightness[inside] - gaussian_filter1d(strips.brightness[inside], 1.5 * pitch, axis=1)
    out = (strips.across < strips.ends[inside, :1] + pitch) | (
        strips.across > strips.ends[inside, 1:] - pitch
    )
    shown = np.abs(np.where(out, 0.0, shown))
    return float(np.quantile(np.quantile(shown, 0.98, axis=1), 0.95))


def _broken(brightness: FloatArray, strips: Strips, tracks: Tracks) -> float:
    """Tell how much of a line is not seen between its ends, point by point; median of lines."""
    missing = []
    for on, before, after in _along(brightness, strips, tracks, (0.0, -0.5, 0.5)):
        step = uniform_filter1d(on / np.maximum(0.5 * (before + after), 1e-3) - 1.0, 3)
        step *= np.sign(np.median(step)) or 1.0
        missing.append(float(np.mean(step < 0.4 * np.quantile(step, 0.9))))
    return float(np.median(missing)) if missing else 1.0


def _along(
    brightness: FloatArray, strips: Strips, tracks: Tracks, sides: tuple[float, ...]
) -> Iterator[list[FloatArray]]:
    """Brightness along some of the lines, point by point, and so many of their distances beside them."""
    rows, columns = brightness.shape
    along = strips.along[tracks.strips]
    cos, sin = math.cos(strips.angle), math.sin(strips.angle)
    count = np.isfinite(tracks.place).sum(axis=0)
    chosen = np.flatnonzero(count >= max(3, 0.5 * count.max()))
    for line in chosen[:: max(len(chosen) // LOOKED_AT, 1)]:
        there = np.isfinite(tracks.place[:, line])
        v = np.arange(along[there][0] - 0.5 * strips.high, along[there][-1] + 0.5 * strips.high)
        u = np.interp(v, along[there], tracks.place[there, line])
        yield [
            map_coordinates(
                brightness,
                [
                    (u + side * tracks.pitch) * sin + v * cos + 0.5 * (rows - 1),
                    (u + side * tracks.pitch) * cos - v * sin + 0.5 * (columns - 1),
                ],
                order=1,
                mode="nearest",
            )
            for side in sides
        ]

"""How far a pale halo, once blurred, moves the line of half darkness out, told by the edges of all drops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.optimize import brentq, least_squares
from scipy.special import chndtr, ndtr

FloatArray = NDArray[np.float64]
REACH, INSIDE = 1.8e-3, 3.0
"""How far beyond a drop its edge is looked at [m], and how far inside, in blurs."""
FEWEST_DROPS, MOST_DROPS = 5, 30
"""Lone drops from which on the edge is told, and how many of them are looked at, the largest first."""
ROUND = 2.2
"""Least radius of such a drop, in blurs: smaller ones are pale in their middle."""
ROUNDEST = 0.85
"""Least radius of the largest circle inside such a drop, over that of a circle of its area."""
GROUPS = 3
"""Sizes of drops whose darkness is averaged apart."""
OUR_BLUR = 0.96
"""Blur of the drops over that of the card's edge: set on rendered cards."""
SOFT_COSTS, HALO_COSTS = (300.0, 100.0), 0.2
"""What a soft edge [1/m], in two fits of which the first rather takes it for a halo, and a halo [1] cost, in
darkness: set on rendered cards."""
STEP = 1.0
"""Distances are put together so far apart [points]."""
MOST_HALO, WIDEST, NARROWEST = 0.45, 1.6e-3, 1.5
"""Most darkness of a halo over that of its drop, most width of it [m], and least width in blurs: a narrower
one looks like a soft edge."""
LEAST_RADIUS, MOST_RADIUS, RADII = 0.6, 12.0, 40
"""Radii over blur at which the shift is computed."""


@dataclass(frozen=True, slots=True)
class DropEdge:
    """How dark it is across the edges of a card's drops.

    Parameters
    ----------
    halo : float
        Darkness of the halo over that of its drop [1].
    width : float
        How far the halo reaches beyond its drop [points].
    spread : float
        Standard deviation of the bell that softens the edges in the smoothed picture [points].
    softness : float
        What of that is the drops' own, beyond the blur of the picture [points].
    drops : int
        How many drops told it; with 0, no halo is taken.
    """

    halo: float
    width: float
    spread: float
    softness: float
    drops: int

    @property
    def half_line(self) -> float:
        """How far beyond a drop's edge half of its darkness would lie in a sharp picture [points]."""
        if self.halo <= 0.0:
            return 0.0
        soft = max(self.softness, 1e-3)

        def over(away: float) -> float:
            drop, wide = ndtr(-away / soft), ndtr((self.width - away) / soft)
            return float((1 - self.halo) * drop + self.halo * wide - 0.5)

        return float(brentq(over, -8.0 * soft, 8.0 * soft))


def edges_of_drops(
    lost: FloatArray, regions: Sequence[Any], seen: NDArray[np.bool_], blur: float, point: float
) -> tuple[DropEdge, ...]:
    """Find how dark it is across the edges of lone drops.

    The darkness at equal distances from the line of half darkness is averaged over the largest drops that
    have bare paper around them, and two steps softened by one bell are fitted to it: drop and halo.

    Parameters
    ----------
    lost : array, shape (rows, columns)
        Share of the paper's light that is lost, smoothed [1].
    regions : sequence of RegionProperties
        The stains, with what they lose [1].
    seen : array of bool, shape (rows, columns)
        All that is darker than the paper.
    blur : float
        Blur of the smoothed card, as the standard deviation of a bell [points].
    point : float
        Size of a point [m].

    Returns
    -------
    tuple of DropEdge
        The edge as it may be, where what blurs it is rather a halo and where it is rather soft: both look
        alike once blurred, and the truth lies between. One with no halo where fewer than five drops tell it.

    References
    ----------
    Own derivation.

    Examples
    --------
    >>> none = np.zeros((90, 90))
    >>> [one.drops for one in edges_of_drops(none, [], none > 0, 1.5, 1e-4)]
    [0]
    """
    reach = max(4, round(REACH / point))
    ends = np.arange(-INSIDE * max(blur, 1.0), reach, STEP)
    radii: list[float] = []
    profiles: list[FloatArray] = []
    for one in sorted(regions, key=lambda each: -each.area):
        if len(radii) == MOST_DROPS or one.area < np.pi * (ROUND * blur) ** 2:
            break
        told = _around(lost, one, seen, reach)
        if told is None:
            continue
        radii.append(told[0])
        profiles.append(_profile(*told[1:], ends))
    if len(radii) < FEWEST_DROPS:
        return (DropEdge(0.0, 0.0, blur, 0.0, 0),)
    dark, sizes = np.array(profiles), np.array(radii)
    return tuple(_fitted(ends, dark, sizes, blur, point, costs) for costs in SOFT_COSTS)


def _profile(away: FloatArray, dark: FloatArray, ends: FloatArray) -> FloatArray:
    """Mean darkness at each distance; NaN where the drop isn't so wide."""
    index = np.rint((away - ends[0]) / STEP).astype(int)
    good = (index >= 0) & (index < len(ends))
    counts = np.bincount(index[good], minlength=len(ends))
    sums = np.bincount(index[good], dark[good], len(ends))
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def _around(
    lost: FloatArray, one: Any, seen: NDArray[np.bool_], reach: int
) -> tuple[float, FloatArray, FloatArray] | None:
    """Radius of a drop, distances from its edge, darkness there; None if it isn't alone, or not round."""
    low, left, high, right = one.bbox
    if min(low, left) < reach or high + reach > lost.shape[0] or right + reach > lost.shape[1]:
        return None
    here = np.s_[low - reach : high + reach, left - reach : right + reach]
    if seen[here].sum() != one.area:
        return None
    values = lost[here]
    dark = float(np.quantile(values[seen[here]], 0.9))
    body = values > 0.5 * dark
    away = distance_transform_edt(~body) - distance_transform_edt(body)
    away = np.where(away > 0, away - 0.5, away + 0.5)
    radius = float(np.sqrt(body.sum() / np.pi))
    if -float(away.min()) < ROUNDEST * radius:
        return None
    return radius, np.asarray(away, dtype=np.float64), values / dark


def _fitted(
    away: FloatArray, profiles: FloatArray, radii: FloatArray, blur: float, point: float, soft_costs: float
) -> DropEdge:
    """Fit drop and halo to the mean darkness of drops of about one size, all sizes at once."""
    parts = np.array_split(np.argsort(radii), min(GROUPS, len(radii)))
    sizes = np.array([radii[part].mean() for part in parts])
    seen = np.array([_mean(profiles[part]) for part in parts])
    there = np.isfinite(seen)
    radius = np.maximum(sizes[:, None] + away, 0.0)
    narrowest, widest = NARROWEST * max(blur, 1.0), max(WIDEST / point, 3 * NARROWEST * blur)

    sharp = max(OUR_BLUR * blur, 0.3)

    def misfit(given: FloatArray) -> FloatArray:
        base, halo, width, soft = given[:4]
        heights, places = given[4:].reshape(2, -1)
        spread = np.hypot(sharp, soft)
        own = np.maximum(sizes + places, 0.1)[:, None] / spread
        at = (radius / spread) ** 2
        drop, wide = (chndtr(one**2, 2.0, at) for one in (own, own + width / spread))
        dark = base + heights[:, None] * ((1 - halo) * drop + halo * wide)
        # A soft edge and a halo look alike where the picture is blurred: no more of either than is seen.
        return np.append((dark - seen)[there], [soft_costs * soft * point, HALO_COSTS * halo])

    one = np.ones(len(parts))
    start = [0.0, 0.1, max(0.5e-3 / point, 1.1 * narrowest), 0.05e-3 / point, *one, *0 * one]
    low = [-0.05, 0.0, narrowest, 0.0, *0.7 * one, *-4 * one]
    high = [0.05, MOST_HALO, widest, 4.0 * max(blur, 1.0), *1.5 * one, *4 * one]
    scale = [0.1, 0.1, 4.0, 1.0, *one, *one]
    fit = least_squares(misfit, start, bounds=(low, high), x_scale=scale, xtol=1e-4, ftol=1e-4)
    _, halo, width, soft = (float(each) for each in fit.x[:4])
    return DropEdge(halo, width, float(np.hypot(sharp, soft)), soft, len(radii))


def _mean(profiles: FloatArray) -> FloatArray:
    """Mean of what is known at each distance; NaN where less than half of the drops are so wide."""
    known = np.isfinite(profiles)
    counts = known.sum(axis=0)
    sums = np.where(known, profiles, 0.0).sum(axis=0)
    return np.where(counts > len(profiles) / 2, sums / np.maximum(counts, 1), np.nan)


def shifts(radii: FloatArray, edge: DropEdge) -> FloatArray:
    """Give how far the halo moves the line of half darkness of round drops out.

    Parameters
    ----------
    radii : array, shape (n,)
        Radii at the line of half darkness [points].
    edge : DropEdge
        How dark it is across their edges.

    Returns
    -------
    array, shape (n,)
        The shift [points]; the smaller a drop, the larger.

    References
    ----------
    A blurred disc: as `pinscar.evidence.fling_drops.true_areas`.

    Examples
    --------
    >>> shifts(np.array([5.0, 50.0]), DropEdge(0.15, 4.0, 2.0, 0.0, 9)).round(2).tolist()
    [0.44, 0.41]
    """
    if edge.halo <= 0.0:
        return np.zeros_like(radii)
    grid = np.geomspace(LEAST_RADIUS, MOST_RADIUS, RADII)
    away = np.linspace(0.0, MOST_RADIUS + 3.0, 601)
    bare = chndtr(grid[:, None] ** 2, 2.0, away**2)
    wide = chndtr((grid[:, None] + edge.width / edge.spread) ** 2, 2.0, away**2)
    lines = [
        np.array([np.interp(0.5 * row[0], row[::-1], away[::-1]) for row in each])
        for each in (bare, (1 - edge.halo) * bare + edge.halo * wide)
    ]
    return np.asarray(np.interp(radii / edge.spread, lines[1], lines[1] - lines[0]) * edge.spread)

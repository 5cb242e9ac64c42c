"""Bands round a scar: polished, tinted or oily metal whose outer edge is easily taken for the scar's.

A worn face shows one closed step of brightness, where it ends, and striations along the pin as far as there.
An outline on the outer edge of a band has a second closed step inside of it, or hardly any striations on its
inner side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.scar_marks import Marks, mean_around
from pinscar.evidence.scar_rim import Layers, Rim

FloatArray = NDArray[np.float64]

STRETCHES, EACH = 24, 12
"""Stretches of the rim that must agree on a step, and profiles averaged in each."""
DEEPEST, FARTHEST = 0.45, 0.3
"""How far inside and outside of the rim a second step is looked for [shares of the short half-axis]."""
BESIDE = 3
"""Places on each side whose means make a step [grains]."""
AGREE = 0.83
"""Share of the stretches in which a closed step has one sign; by chance 20 of 24 have it in 1 of 600."""
AS_HIGH, HALF_AS_HIGH = 0.35, 0.2
"""Height of a second step over the highest, from which it counts; and where striations grow weak as well."""
OWN = 0.065
"""A step so near is the rim's own [shares of the short half-axis]."""
NEXT = 0.13
"""A step outside that is nearer may be the rim as well as the outline is [shares of the short half-axis]."""
FEW, WEAK = 0.6, 0.8
"""Striations on the inner side of a rim, over those deep inside, that are too few, and that are weak."""
AT_RIM = 0.5
"""Striations at the rim itself from which a step farther outside is a band beyond the scar."""
CORE, BEYOND = -0.35, 0.2
"""Where the core of a scar begins, and where ground pin does [shares of the short half-axis]."""
ZONES = (0.1, 0.16, 0.24)
"""Widths of the zones inside of the rim whose striations are looked at [shares of the short half-axis]."""
CLEAR = 4.0
"""The rim's own change of brightness reaches so far [grains]."""
FLANK = 0.6
"""Striations are looked at where the rim's normal has at least that component across the pin."""


@dataclass(frozen=True, slots=True)
class Bands:
    """What lies beside an outline.

    Parameters
    ----------
    doubtful : bool
        Whether another closed line may be the rim of the scar.
    inner : tuple of float
        Where it may lie inside of the outline, the likeliest first [shares of the short half-axis, negative].

    References
    ----------
    Own definition.

    Examples
    --------
    >>> Bands(True, (-0.2,)).inner
    (-0.2,)
    """

    doubtful: bool
    inner: tuple[float, ...] = ()


def bands_beside(rim: Rim, tone: Layers, marks: Marks, direction: float = 0.0, grain: float = 1.0) -> Bands:
    """Look for a second closed line beside an outline, and how far striations reach towards it.

    Parameters
    ----------
    rim : Rim
        The outline [points].
    tone : Layers
        Brightness, the first of the layers [-].
    marks : Marks
        As `marks_along` gives them.
    direction : float, optional
        Direction of the pin's axis in the picture [rad].
    grain : float, optional
        The finest detail [points].

    Returns
    -------
    Bands
        Whether there is one, and where it lies.

    References
    ----------
    Own definition. Chance of agreement by the sign test.

    Examples
    --------
    A scar with striations along x, and one inside of a smooth bright band:

    >>> from pinscar.evidence.scar_marks import marks_along
    >>> rng = np.random.default_rng(1)
    >>> y, x = np.mgrid[:160, :200]
    >>> level = np.hypot((x - 100) / 70, (y - 80) / 50)
    >>> pin, worn = 0.05 * rng.normal(size=(1, 200)), 0.05 * rng.normal(size=(160, 1)) - 0.3
    >>> plain = np.where(level < 1, worn, pin)
    >>> band = np.where(level < 0.7, worn, np.where(level < 1, 0.3, pin))
    >>> rim, everywhere = Rim(Ellipse(100.0, 80.0, 70.0, 50.0, 0.0)), np.ones(plain.shape, dtype=bool)
    >>> for picture in (plain, band):
    ...     bands_beside(rim, Layers(picture[..., None]), marks_along(picture, everywhere, 0.0)).doubtful
    False
    True
    """
    depths, steps = _closed_steps(rim, tone, grain)
    places, along = _striations(rim, marks, direction, grain)
    short = min(rim.ellipse.a, rim.ellipse.b)
    own = max(BESIDE * grain / short, OWN)
    inside_rim = float(np.mean([_least_zone(places, side, CLEAR * grain / short) for side in along]))
    at_rim = float(np.mean([side[np.abs(places) < max(0.021, 1.5 * grain / short)] for side in along]))
    found = [
        (depth, height)
        for depth, height in zip(depths, steps, strict=True)
        if abs(depth) > own and height > (HALF_AS_HIGH if depth < 0 and inside_rim < WEAK else AS_HIGH)
    ]
    inner = [depth for depth, _ in sorted(found, key=lambda one: -one[1]) if depth < 0]
    outer = any(depth > 0 and (depth < NEXT or at_rim < AT_RIM) for depth, _ in found)
    few = inside_rim < FEW
    if few or (inner and inside_rim < WEAK):
        inner.append(_end_of_striations(places, np.mean(along, axis=0)))
    return Bands(bool(inner) or few or outer, tuple(inner))


def _closed_steps(rim: Rim, tone: Layers, grain: float) -> tuple[FloatArray, FloatArray]:
    """Find steps of brightness that run all round beside a rim: where, and how high over the highest."""
    ellipse = rim.ellipse
    short = min(ellipse.a, ellipse.b)
    t = ellipse.even_angles(STRETCHES * EACH)
    first, last = (round(share * short / grain) + BESIDE for share in (-DEEPEST, FARTHEST))
    away = np.arange(first - 2 * BESIDE, last + 1) * grain
    places = rim.points(t) + away[:, None, None] * rim.normals(t)
    shades = tone.at(places[..., 0], places[..., 1])[..., 0].reshape(away.size, STRETCHES, EACH).mean(axis=2)
    shades = shades[:, np.isfinite(shades).all(axis=0)]
    none = np.zeros(0)
    if shades.shape[1] < STRETCHES / 2:
        return none, none
    sums = np.cumsum(np.vstack([np.zeros((1, shades.shape[1])), shades]), axis=0)
    means = (sums[BESIDE:] - sums[:-BESIDE]) / BESIDE
    step = means[BESIDE + 1 :] - means[: -BESIDE - 1]  # the place itself lies on neither side
    depth = away[BESIDE:-BESIDE] / short
    middle = np.abs(np.median(step, axis=1))
    agree = np.maximum((step > 0).mean(axis=1), (step < 0).mean(axis=1)) >= AGREE
    own = np.abs(depth) <= max(BESIDE * grain / short, OWN)
    at_rim = float(np.median(np.abs(step[np.argmin(np.abs(depth))])))
    highest = max(at_rim, float(middle[own].max()), float(np.where(agree, middle, 0.0).max()))
    if not highest > 0:
        return none, none
    crest = np.zeros(depth.size, dtype=bool)
    crest[1:-1] = (middle[1:-1] >= middle[:-2]) & (middle[1:-1] > middle[2:])
    chosen = crest & agree
    return depth[chosen], middle[chosen] / highest


def _striations(
    rim: Rim, marks: Marks, direction: float, grain: float
) -> tuple[FloatArray, list[FloatArray]]:
    """How much marks run along the pin at each depth, on both flanks: 0 is ground pin, 1 deep inside."""
    ellipse = rim.ellipse
    short = min(ellipse.a, ellipse.b)
    t = ellipse.even_angles(96)
    points, normals = rim.points(t), rim.normals(t)
    across = normals @ np.array([-np.sin(direction), np.cos(direction)])
    depths = np.arange(-0.6, 0.45, 0.02)
    half = max(2.0, 1.5 * grain)
    found = np.array([mean_around(marks, points + depth * short * normals, half) for depth in depths])
    sides = [found[:, across > FLANK].mean(axis=1), found[:, across < -FLANK].mean(axis=1)]
    both = found[:, np.abs(across) > FLANK].mean(axis=1)
    core, ground = float(np.median(both[depths < CORE])), float(np.median(both[depths > BEYOND]))
    if not core - ground > 0.01:
        return depths, [np.ones(depths.size)] * 2
    return depths, [(side - ground) / (core - ground) for side in sides]


def _least_zone(depths: FloatArray, along: FloatArray, clear: float) -> float:
    """Give the least that a zone inside of the rim shows, beyond the reach of the rim's own change."""
    zones = [along[(depths < -clear) & (depths > -clear - wide)] for wide in ZONES]
    return min((float(np.median(zone)) for zone in zones if zone.size), default=1.0)


def _end_of_striations(depths: FloatArray, along: FloatArray) -> float:
    """Place the step from striations to none that leaves the least squares."""
    inside = (depths > -0.6) & (depths < -OWN)
    places, values = depths[inside], along[inside]
    left = [
        float(
            ((values[:cut] - values[:cut].mean()) ** 2).sum()
            + ((values[cut:] - values[cut:].mean()) ** 2).sum()
        )
        for cut in range(2, values.size - 2)
    ]
    cut = 2 + int(np.argmin(left))
    return float((places[cut - 1] + places[cut]) / 2)


def inside_of(rim: Rim, depth: float) -> Rim:
    """Give the oval that lies inside of a rim, all round as deep.

    Parameters
    ----------
    rim : Rim
        The rim [points].
    depth : float
        Where it lies, negative inside [shares of the short half-axis].

    Returns
    -------
    Rim
        The oval [points].

    References
    ----------
    Definition of this package.

    Examples
    --------
    >>> inside_of(Rim(Ellipse(100.0, 80.0, 70.0, 50.0, 0.0)), -0.2).ellipse
    Ellipse(x=100.0, y=80.0, a=60.0, b=40.0, angle=0.0)
    """
    e = rim.ellipse
    away = depth * min(e.a, e.b)
    return Rim(Ellipse(e.x, e.y, e.a + away, e.b + away, e.angle))

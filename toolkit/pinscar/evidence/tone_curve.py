"""Whether a photograph holds light itself or tones that are bent as cameras do, told by the edge of a card.

A lens blurs light, and it blurs both sides of an edge alike. So the step from bench to paper is symmetrical
in light, and in nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.special import ndtr

from pinscar.evidence.card_outline import CardOutline

FloatArray = NDArray[np.float64]
PLACES, STEP = 800, 0.25
"""Places on a side at which the step is looked at, and steps across it [points]."""
NEAR, NEXT, FURTHER = 1.0, 3.0, 6.0
"""The step reaches so many points and so many blurs from the edge; beyond it, on so many points more, paper
and bench are followed by straight lines."""
TOLD = 2.0
"""By how many standard errors the step must be nearer to that of light, or of tones, for that to be told."""
FINE, REACH = 0.05, 20.0
"""Steps of a step drawn in tones, and how far it reaches [points]."""
ROUNDS, SHARPEST = 4, 0.2
"""Rounds in which that is made as wide as the one seen, and its least width in light, as the standard
deviation of a bell [points]."""
BETWEEN = np.maximum(1.0 - np.abs(np.arange(-1.0, 1.0 + FINE / 2, FINE)), 0.0) * FINE
"""Weights of what lies nearer than a point, between two points."""
DISTURBED = 1.5
"""A step that is lopsided by so much more or less than halfway to tones is so by something else: a shadow."""
SHARPEST_TOLD = 0.83
"""Least blur of the card's edges at which its shape is seen [points]: set on rendered edges."""
FEWEST_SIDES = 3
"""Sides of the card that must show a step."""


def light_of_tones(tones: FloatArray) -> FloatArray:
    """Turn the tones that cameras store to light.

    Parameters
    ----------
    tones : array
        Stored brightness from 0 to 1 [-].

    Returns
    -------
    array
        Light, from 0 to 1.

    References
    ----------
    IEC 61966-2-1:1999, 5.2.

    Examples
    --------
    >>> light_of_tones(np.array([0.0, 0.04045, 0.5, 1.0])).round(4).tolist()
    [0.0, 0.0031, 0.214, 1.0]
    """
    bent = ((tones + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(tones <= 0.04045, tones / 12.92, bent), dtype=np.float64)


def tones_of_light(light: FloatArray) -> FloatArray:
    """Turn light to the tones that cameras store.

    Parameters
    ----------
    light : array
        Light from 0 to 1 [-].

    Returns
    -------
    array
        Stored brightness, from 0 to 1.

    References
    ----------
    IEC 61966-2-1:1999, 5.2.

    Examples
    --------
    >>> tones_of_light(light_of_tones(np.array([0.02, 0.5]))).round(9).tolist()
    [0.02, 0.5]
    """
    bent = 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, bent), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Tone:
    """What the numbers of a picture are.

    Parameters
    ----------
    bent : bool
        Whether they are tones as cameras store them, and no light itself.
    sure : bool
        Whether the card's edge tells so for sure.
    """

    bent: bool
    sure: bool


def tone_of(brightness: FloatArray, outline: CardOutline) -> Tone:
    """Tell from a card's edge whether a picture holds light or tones.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness from 0 to 1 [-].
    outline : CardOutline
        Where the card lies in the picture.

    Returns
    -------
    Tone
        Whichever the step is nearer to; tones where less than three sides show one, or where the picture is
        so sharp that the step lies between two points.

    References
    ----------
    Own derivation; the tones: IEC 61966-2-1:1999.

    Examples
    --------
    >>> from scipy.ndimage import gaussian_filter
    >>> from pinscar.evidence.card_outline import find_card
    >>> light = np.full((240, 340), 0.05)
    >>> light[20:220, 20:320] = 0.6
    >>> light = gaussian_filter(light, 1.5)
    >>> tone_of(light, find_card(light, 1.5))
    Tone(bent=False, sure=True)
    """
    if outline.blur < SHARPEST_TOLD:
        return Tone(bent=True, sure=False)
    told = np.array([_bend(*step) for step in _steps(brightness, outline)]).reshape(-1, 2)
    told = told[np.abs(told[:, 0] - 0.5) < DISTURBED]
    if len(told) < FEWEST_SIDES:
        return Tone(bent=True, sure=False)
    bends, weights = told[:, 0], told[:, 1] / told[:, 1].sum()
    mean = float(weights @ bends)
    freedom = len(told) / (len(told) - 1)
    error = float(np.sqrt(freedom * (weights**2 @ (bends - mean) ** 2)))
    # Between 0, light, and 1, tones, lies a half.
    beyond = (mean - 0.5) / max(error, 1e-9)
    return Tone(bent=beyond > 0.0, sure=abs(beyond) > TOLD)


def _steps(brightness: FloatArray, outline: CardOutline) -> list[tuple[FloatArray, FloatArray, float, float]]:
    """Mean step of each side: distance outwards [points], share of the way to paper, paper and bench."""
    near = NEAR + NEXT * outline.blur
    away = np.arange(-near - FURTHER, near + FURTHER + STEP / 2, STEP)
    inner, outer = away < -near, away > near
    found = []
    for start, end in zip(outline.corners, np.roll(outline.corners, -1, axis=0), strict=True):
        along = (end - start) / np.hypot(*(end - start))
        out = np.array([along[1], -along[0]])
        feet = start + np.linspace(0.06, 0.94, PLACES)[:, None] * (end - start)
        points = feet[:, None, :] + away[None, :, None] * out
        values = map_coordinates(brightness, [points[..., 1], points[..., 0]], order=1, mode="nearest")
        # A finger or a label on a part of the side must not count: the usual places only.
        depth = values[:, inner].mean(axis=1) - values[:, outer].mean(axis=1)
        usual = np.abs(depth - np.median(depth)) < 0.5 * abs(float(np.median(depth)))
        if not usual.any():
            continue
        mean = values[usual].mean(axis=0)
        paper, bench = (np.polyval(np.polyfit(away[far], mean[far], 1), away) for far in (inner, outer))
        share = np.asarray((mean - bench) / np.maximum(paper - bench, 1e-6), dtype=np.float64)
        found.append((away, share, float(np.median(paper)), float(np.median(bench))))
    return found


def _bend(away: FloatArray, share: FloatArray, paper: float, bench: float) -> tuple[float, float]:
    """How lopsided a step is, over how lopsided it would be in tones; and how much that tells."""
    width = _width(away, share)
    light = light_of_tones(np.array([paper, bench]))
    outer = np.arange(-REACH - 1.0, REACH + 1.0 + FINE / 2, FINE)
    # Between two points of the picture it is followed in a straight line, which takes shares of both.
    places, spread = outer[len(BETWEEN) // 2 : -(len(BETWEEN) // 2)], width / 1.349
    for _ in range(ROUNDS):
        tones = tones_of_light(light[1] + (light[0] - light[1]) * ndtr(-outer / spread))
        drawn = np.convolve((tones - bench) / (paper - bench), BETWEEN, mode="valid")
        spread = float(np.clip(spread * width / _width(places, drawn), SHARPEST, REACH / 3.0))
    model = _lopsided(places, drawn, width)
    tells = float(model @ model)
    return float(_lopsided(away, share, width) @ model) / tells, tells


def _width(away: FloatArray, share: FloatArray) -> float:
    """How wide a step is from three quarters to a quarter."""
    ends = np.interp([-0.75, -0.25], -np.minimum.accumulate(share), away)
    return max(float(ends[1] - ends[0]), STEP)


def _lopsided(away: FloatArray, share: FloatArray, width: float) -> FloatArray:
    """Tell by how much the two sides of a step differ from each other, by distance from its middle."""
    reach = np.linspace(0.0, 2.5, 26) * width
    middles = float(np.interp(-0.5, -np.minimum.accumulate(share), away)) + np.linspace(-0.3, 0.3, 61) * width
    both = [
        np.interp(middle + reach, away, share) + np.interp(middle - reach, away, share) - 1.0
        for middle in middles
    ]
    return np.asarray(min(both, key=lambda one: float(one @ one)), dtype=np.float64)

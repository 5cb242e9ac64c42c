"""The rolled lip round a scar: a band, brighter or darker than both sides, whose crest is the scar's rim."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.scar_features import Layers
from pinscar.evidence.scar_rim import Rim

FloatArray = NDArray[np.float64]
STRETCHES, POINTS = 24, 10
"""Stretches of the rim, and points of each that are averaged."""
REACH, NEAR = 24, 12
"""How far from the rim brightness is looked at, and how far off a crest may lie [grains]."""
FAINT_LIP, CLEAR_LIP = 0.28, 0.4
"""Height of the band over the sum of its height and the step across the rim: no lip, and surely one."""
STANDS_OUT = 4.0
"""Height of the band, over the unevenness beside it, from which there is a lip."""


def lip_offset(sharp: Layers, rim: Rim, t: FloatArray, grain: float) -> FloatArray:
    """Tell how far the crest of a lip lies from a traced rim.

    Brightness changes most on one of a lip's flanks, so an outline traced there lies beside the crest. The
    centre of what is brighter or darker than both sides is found in stretches of the rim; a wave of one turn
    at most is laid through them.

    Parameters
    ----------
    sharp : Layers
        The sharp layers, as `scar_features` gives them; brightness is the first.
    rim : Rim
        The traced rim [points].
    t : array, shape (n,)
        Eccentric angles where the offset is wanted [rad].
    grain : float
        The finest detail [points].

    Returns
    -------
    array, shape (n,)
        Distance of the crest from the rim, positive outside; 0 where there is no lip [points].

    References
    ----------
    Own definition.

    Examples
    --------
    A bright band at a radius of 40 points, the rim traced at 43:

    >>> from pinscar.evidence.ellipse import Ellipse
    >>> y, x = np.mgrid[:140, :160]
    >>> band = np.exp(-(((np.hypot(x - 80, y - 70) - 40) / 3) ** 2))
    >>> rim = Rim(Ellipse(80.0, 70.0, 43.0, 43.0, 0.0))
    >>> lip_offset(Layers(band[..., None]), rim, np.array([0.0, 2.0]), 1.0).round(1).tolist()
    [-3.0, -3.0]
    """
    even = rim.ellipse.even_angles(STRETCHES * POINTS)
    away = np.asarray(np.arange(-REACH, REACH + 1) * grain, dtype=np.float64)
    places = rim.points(even)[:, None] + away[None, :, None] * rim.normals(even)[:, None]
    tone = sharp.at(places[..., 0], places[..., 1])[..., 0].reshape(STRETCHES, POINTS, away.size).mean(axis=1)
    seen = np.isfinite(tone).all(axis=1)
    if seen.mean() < 0.5:
        return np.zeros(len(t))
    tone, middle = tone[seen], even.reshape(STRETCHES, POINTS)[seen, POINTS // 2]
    ridge, centre, share = _band(tone, away[REACH - NEAR : REACH + NEAR + 1])
    sure = float(np.clip((share - FAINT_LIP) / (CLEAR_LIP - FAINT_LIP), 0.0, 1.0))
    if sure == 0:
        return np.zeros(len(t))
    terms = _terms(middle)
    left = (ridge[:, None] * terms).T @ terms
    stiff = 0.05 * float(ridge.sum()) * np.diag([0.0, 1.0, 1.0])
    waves = np.linalg.solve(left + stiff, (ridge[:, None] * terms).T @ centre)
    return np.asarray(sure * (_terms(t) @ waves))


def _band(tone: FloatArray, near: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Height and centre of the band in each stretch, and the usual height over height and step."""
    edge = REACH - NEAR - 2
    inside, outside = tone[:, :edge], tone[:, -edge:]
    level = np.column_stack([inside.mean(axis=1), outside.mean(axis=1)])
    low, high = level.min(axis=1, keepdims=True), level.max(axis=1, keepdims=True)
    middle = tone[:, REACH - NEAR : REACH + NEAR + 1]
    beyond = np.maximum(np.maximum(middle - high, low - middle), 0.0)
    ridge = beyond.max(axis=1)
    uneven = float(np.std(np.diff(inside, axis=1)) + np.std(np.diff(outside, axis=1)))
    centre = (beyond * near).sum(axis=1) / np.maximum(beyond.sum(axis=1), 1e-12)
    height, step = float(np.median(ridge)), high[:, 0] - low[:, 0]
    if height <= STANDS_OUT * uneven or height <= 0:
        return ridge, centre, 0.0
    return ridge, centre, float(np.median(ridge / np.maximum(ridge + step, 1e-12)))


def _terms(t: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(t)), np.cos(t), np.sin(t)])

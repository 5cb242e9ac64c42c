"""How far an automatic reading can be trusted: a score from 0 to 1, and in words what is wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.scar_fit import ScarFit

FloatArray = NDArray[np.float64]
ACCEPTED = 0.5
"""Scores below this are read by hand."""
BLOWN_OUT, MOST_BLOWN_OUT = 0.93, 0.15
"""Brightness of glare, and the largest share of an oval that may be so bright."""
SWELLING = 1.2
"""Largest rise from the rim of an oval to its middle, over the step across its outline."""
SLENDEREST = 0.3
"""Least width over length of an oval that is taken for a scar."""


@dataclass(frozen=True, slots=True)
class Quality:
    """What a score is made of; each part runs from 0 (bad) to 1.

    Parameters
    ----------
    seen : float
        Share of the outline along which there is an edge, near the ellipse and of the right sign.
    smooth : float
        How close the outline keeps to the ellipse.
    strong : float
        How far the edge stands out from chance.
    spread : int or float
        How well resampling agrees on the axes.
    whole : float
        Whether the oval lies inside the picture and has the proportions of a scar.
    flat : float
        Whether it is not itself a lamp's glare, blown out or swelling to its middle.
    """

    seen: float
    smooth: float
    strong: float
    spread: float
    whole: float
    flat: float

    @property
    def score(self) -> float:
        """The product of the parts."""
        return self.seen * self.smooth * self.strong * self.spread * self.whole * self.flat

    @property
    def reason(self) -> str:
        """The worst part in words, empty where the score is good enough."""
        if self.score >= ACCEPTED:
            return ""
        words = {
            "whole": "the oval found is cut off by the picture's edge, or too slender for a scar",
            "flat": "the oval found is glare, not a scar",
            "seen": "too little of the outline can be seen",
            "strong": "the outline hardly stands out from scratches and noise",
            "smooth": "the outline found is no smooth oval",
            "spread": "parts of the outline disagree about the axes",
        }
        worst = min(words, key=lambda name: float(getattr(self, name)))
        return f"read by hand: {words[worst]}"


def quality_of(fit: ScarFit, spread: tuple[float, float], brightness: FloatArray) -> Quality:
    """Judge a fit.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    spread : tuple of float
        Standard deviations of both axes [points].
    brightness : array, shape (rows, columns)
        The picture, from 0 to 1.

    Returns
    -------
    Quality
        The parts of the score.

    References
    ----------
    Own definition; the limits were set on rendered micrographs other than those that test them.
    """
    ellipse = fit.ellipse
    near = np.abs(fit.away) < max(0.05 * fit.size, 1.5)
    seen = float((near & (fit.outline.strength > 1.0)).mean())
    rough = float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) / fit.size
    uneven = max(spread[0] / (2 * ellipse.a), spread[1] / (2 * ellipse.b))
    points = ellipse.points(np.linspace(0, 2 * np.pi, 180))
    inside = (points >= 1).all(axis=1) & (points < (brightness.shape[1] - 2, brightness.shape[0] - 2)).all(
        axis=1
    )
    proportion = min(ellipse.a, ellipse.b) / max(ellipse.a, ellipse.b)
    return Quality(
        seen=_ramp(seen, 0.4, 0.85),
        smooth=_ramp(rough, 0.045, 0.015),
        strong=_ramp(float(np.median(fit.outline.strength)), 0.8, 2.0),
        spread=_ramp(uneven, 0.06, 0.015),
        whole=float(inside.mean() > 0.97 and proportion >= SLENDEREST),
        flat=float(not _is_glare(fit, brightness)),
    )


def _is_glare(fit: ScarFit, brightness: FloatArray) -> bool:
    """Tell a lamp's mirror image: much of it blown out, or its middle above its rim by more than the edge."""
    ellipse = fit.ellipse
    y, x = np.indices(brightness.shape)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    along, across = (x - ellipse.x) * c + (y - ellipse.y) * s, (y - ellipse.y) * c - (x - ellipse.x) * s
    level = np.hypot(along / ellipse.a, across / ellipse.b)
    if (brightness[level < 1] > BLOWN_OUT).mean() > MOST_BLOWN_OUT:
        return True
    zones = (level < 0.4, (level > 0.7) & (level < 0.92), (level > 1.08) & (level < 1.3))
    if not all(zone.any() for zone in zones):
        return True
    middle, rim, outside = (float(np.median(brightness[zone])) for zone in zones)
    return middle - rim > SWELLING * abs(rim - outside) and middle - rim > 0.05


def _ramp(value: float, bad: float, good: float) -> float:
    return float(np.clip((value - bad) / (good - bad), 0.0, 1.0))

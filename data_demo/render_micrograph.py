"""Rendered micrographs of wear scars whose axes are known, because no lab has to give away its own.

A ground pin lies along the image's x axis, turned by a few degrees. Its grinding lines run around it, so
across the picture; the scratches inside the scar run along the sliding direction, so along the pin. On that
come uneven light, the fall of light over the cylinder, a ragged outline, a rolled lip, an oil film, glare,
debris, fibres, defocus and noise. Everything is drawn from a seed; nothing is a photograph.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, gaussian_filter1d

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """How a micrograph looks; lengths in points of the picture, brightness from 0 to 1."""

    shape: tuple[int, int] = (360, 480)
    length: float = 260.0
    width: float = 140.0
    angle: float = 0.0
    centre: tuple[float, float] = (240.0, 180.0)
    brightness: float = 0.5
    contrast: float = 0.25
    grinding: float = 0.06
    scratches: float = 0.05
    ragged: float = 0.006
    rim: float = 0.05
    light: float = 0.2
    curvature: float = 0.2
    film: int = 1
    glare: int = 1
    debris: int = 6
    fibres: int = 0
    blur: float = 1.0
    noise: float = 0.015


def varied_look(rng: np.random.Generator) -> Look:
    """Draw a look: sizes, light, dirt and sharpness over the range that a bench microscope gives."""
    length = rng.uniform(170, 330)
    width = length * rng.uniform(0.48, 0.62)
    return Look(
        length=length,
        width=width,
        angle=np.radians(rng.uniform(-15, 15)),
        centre=(240 + rng.uniform(-30, 30), 180 + rng.uniform(-25, 25)),
        brightness=rng.uniform(0.35, 0.6),
        contrast=float(rng.choice([-1, 1])) * rng.uniform(0.06, 0.35),
        grinding=rng.uniform(0.02, 0.1),
        scratches=rng.uniform(0.02, 0.08),
        ragged=rng.uniform(0.002, 0.012),
        rim=rng.uniform(-0.1, 0.1),
        light=rng.uniform(0, 0.4),
        curvature=rng.uniform(0, 0.5),
        film=int(rng.integers(0, 3)),
        glare=int(rng.integers(0, 3)),
        debris=int(rng.integers(0, 25)),
        fibres=int(rng.integers(0, 3)),
        blur=rng.uniform(0.5, 3.0),
        noise=rng.uniform(0.004, 0.04),
    )


def render(look: Look, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Draw the picture: grey, 8 bits."""
    y, x = np.mgrid[: look.shape[0], : look.shape[1]].astype(float)
    along, across = _turned(x - look.centre[0], y - look.centre[1], look.angle)
    outside = _distance(along, across, look, rng)
    inside = 1 / (1 + np.exp(np.clip(outside / 0.5, -50, 50)))
    pin = 1 + look.grinding * _lines(along, across, rng)
    scar = (1 + look.contrast) * (1 + look.scratches * _lines(across, along, rng))
    picture = pin + inside * (scar - pin)
    # The lip is rolled out at the end where the ring leaves the scar.
    picture += look.rim * np.exp(-((outside / 3) ** 2)) * (1 + np.tanh(along / look.length * 4))
    for _ in range(look.film):
        picture *= 1 - rng.uniform(0.03, 0.15) * _patch(look.shape, rng)
    picture *= look.brightness * _light(x, across, look, rng)
    for _ in range(look.debris):
        _drop(picture, x, y, rng)
    for _ in range(look.fibres):
        _fibre(picture, x, y, rng)
    for _ in range(look.glare):
        picture += _glare(x, y, look, rng)
    picture = gaussian_filter(picture, look.blur)
    picture += look.noise * rng.standard_normal(look.shape)
    return np.clip(np.rint(picture * 255), 0, 255).astype(np.uint8)


def varied(seed: int) -> tuple[NDArray[np.uint8], Look]:
    """Draw one picture of the varied series, with its truth."""
    rng = np.random.default_rng([20260414, seed])
    look = varied_look(rng)
    return render(look, rng), look


def coloured(grey: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Tint a grey picture as warm light and a thin oil film do."""
    tint = np.array([1.04, 1.0, 0.93]) * (1 + 0.01 * rng.standard_normal(3))
    return np.clip(np.rint(grey[..., None] * tint), 0, 255).astype(np.uint8)


def resized(look: Look, length: float, width: float) -> Look:
    """The same look with another scar."""
    return replace(look, length=length, width=width)


def _turned(x: Array, y: Array, angle: float) -> tuple[Array, Array]:
    return x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)


def _distance(along: Array, across: Array, look: Look, rng: np.random.Generator) -> Array:
    """Distance outwards from the ragged outline, near it; negative inside."""
    a, b = look.length / 2, look.width / 2
    turn = np.arctan2(across / b, along / a)
    orders = np.arange(3, 40)
    # Orders above 2 only: they leave both axes of the fitted ellipse where they are.
    weights = rng.standard_normal((2, orders.size)) / orders**0.8
    weights *= look.ragged / np.sqrt((weights**2).sum() / 2)
    steps = np.linspace(-np.pi, np.pi, 2048)
    wave = weights[0] @ np.cos(np.outer(orders, steps)) + weights[1] @ np.sin(np.outer(orders, steps))
    level = np.hypot(along / a, across / b)
    steepness = np.hypot(along / a**2, across / b**2) / np.maximum(level, 1e-9)
    return (level - 1 - np.interp(turn, steps, wave)) / np.maximum(steepness, 1e-9)


def _lines(position: Array, along: Array, rng: np.random.Generator) -> Array:
    """Parallel scratches, fine and coarse, that wander and end; standard deviation 1."""
    count = 2048
    total = np.zeros(position.shape)
    for fine, length in ((0.8, 300.0), (2.0, 150.0), (5.0, 500.0)):
        rows = 6
        profile = gaussian_filter1d(rng.standard_normal((rows, count)), fine, axis=1)
        profile /= profile.std()
        place = (np.rint(position + count / 2)).astype(int) % count
        row = (along / length) % rows
        low = np.floor(row).astype(int)
        share = row - low
        total += (1 - share) * profile[low % rows, place] + share * profile[(low + 1) % rows, place]
    return total / total.std()


def _patch(shape: tuple[int, int], rng: np.random.Generator) -> Array:
    """A film of oil: one side of a smooth random landscape, with a fairly sharp shore."""
    land = gaussian_filter(rng.standard_normal(shape), 45)
    land /= land.std()
    return 1 / (1 + np.exp(-(land - rng.uniform(0.2, 1.2)) / 0.05))


def _light(x: Array, across: Array, look: Look, rng: np.random.Generator) -> Array:
    half = look.shape[0] / 2
    side = rng.uniform(-1, 1)
    slope = look.light * (np.cos(side) * (x / look.shape[1] - 0.5) + np.sin(side) * across / half / 2)
    offset = rng.uniform(-0.3, 0.3)
    return (1 + slope) * (1 - look.curvature * (across / half - offset) ** 2 / 2)


def _drop(picture: Array, x: Array, y: Array, rng: np.random.Generator) -> None:
    cx, cy = rng.uniform(0, x.shape[1]), rng.uniform(0, x.shape[0])
    turn = np.arctan2(y - cy, x - cx)
    size = rng.lognormal(1.1, 0.6)
    edge = size * (
        1 + 0.3 * np.sin(2 * turn + rng.uniform(0, 6)) + 0.2 * np.sin(3 * turn + rng.uniform(0, 6))
    )
    here = np.hypot(x - cx, y - cy) < edge
    picture[here] *= rng.uniform(0.15, 0.6) if rng.random() < 0.8 else 1.6


def _fibre(picture: Array, x: Array, y: Array, rng: np.random.Generator) -> None:
    cx, cy = rng.uniform(0, x.shape[1]), rng.uniform(0, x.shape[0])
    u, v = _turned(x - cx, y - cy, rng.uniform(0, np.pi))
    bend = v - 15 * np.sin(u / rng.uniform(25, 60))
    picture[(np.abs(bend) < 1.2) & (np.abs(u) < rng.uniform(20, 70))] *= 0.35


def _glare(x: Array, y: Array, look: Look, rng: np.random.Generator) -> Array:
    """A lamp mirrored in the cylinder: drawn out along the pin."""
    cx, cy = rng.uniform(0, x.shape[1]), rng.uniform(0, x.shape[0])
    u, v = _turned(x - cx, y - cy, look.angle)
    return rng.uniform(0.2, 1.2) * np.exp(-((u / rng.uniform(15, 60)) ** 2) - (v / rng.uniform(5, 18)) ** 2)

"""Rendered photographs of fling cards whose covered area is known, because no lab has to give away its own.

A white card lies on a dark bench, seen a little aslant. Drops soak into the paper: they are darker than it,
with soft edges and a pale halo, some drawn out, some run together. On that come uneven light, a shadow at an
edge, specks, fibres, writing in pen, defocus and noise. Everything is drawn from a seed; nothing is a
photograph.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter
from scipy.optimize import brentq
from scipy.special import erfc

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CardLook:
    """How a photograph of a card looks; lengths on the card in mm, blur in points, brightness from 0 to 1."""

    shape: tuple[int, int] = (900, 1200)
    sides: tuple[float, float] = (150.0, 100.0)
    fill: float = 0.8
    turn: float = 0.0
    slant: tuple[float, float] = (0.0, 0.0)
    paper: float = 0.82
    bench: float = 0.16
    light: float = 0.15
    shadow: float = 0.0
    shadow_width: float = 15.0
    shadow_edge: float = 8.0
    soft: float = 0.12
    halo: float = 0.15
    halo_width: float = 0.5
    specks: int = 0
    fibres: int = 0
    writing: str = ""
    blur: float = 0.8
    noise: float = 0.01


@dataclass(frozen=True)
class Drops:
    """Drops on a card: centres, half axes, and how much darker than the paper they are."""

    centres: Array
    axes: Array
    turns: Array
    depths: Array


def drawn_drops(
    rng: np.random.Generator, wanted: float, sides: tuple[float, float] = (150.0, 100.0)
) -> Drops:
    """Draw drops until they cover an area.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    wanted : float
        Area to cover [mm²]; the last drop may take it a little beyond.
    sides : tuple of float
        Sides of the card [mm].

    Returns
    -------
    Drops
        The drops, most of them in the band that the ring throws to.
    """
    found: list[list[float]] = []
    total = 0.0
    while total < wanted:
        mean = float(np.clip(rng.lognormal(np.log(0.8), 0.55), 0.3, 4.5))
        out = rng.choice([1.0, 1.0, 1.15, 1.5])
        u = rng.uniform(-0.46, 0.46) * sides[0]
        v = float(np.clip(rng.normal(0.0, 0.2), -0.46, 0.46)) * sides[1]
        found.append([u, v, mean * out**0.5, mean / out**0.5, rng.normal(0, 0.4), rng.uniform(0.2, 0.45)])
        total += np.pi * mean**2
    table = np.array(found, dtype=float).reshape(-1, 6)
    return Drops(table[:, :2], table[:, 2:4], table[:, 4], table[:, 5])


def covered(look: CardLook, drops: Drops, step: float = 0.05) -> float:
    """Area on the card that any drop makes half as dark as its own middle [mm²]."""
    sides, edge = look.sides, float(brentq(lambda away: _profile(look, away) - 0.5, -3.0, 3.0))
    width, height = (round(side / step) for side in sides)
    mask = np.zeros((height, width), dtype=bool)
    for index in range(len(drops.depths)):
        (u, v), reach = drops.centres[index], float(drops.axes[index].max()) + 1.0
        rows, columns = (
            slice(*(int(np.clip(round((c + side / 2 + sign * reach) / step), 0, count)) for sign in (-1, 1)))
            for c, side, count in ((v, sides[1], height), (u, sides[0], width))
        )
        y, x = np.mgrid[rows, columns]
        own = _outside(drops, index, (x + 0.5) * step - sides[0] / 2, (y + 0.5) * step - sides[1] / 2) < edge
        mask[rows, columns] |= own
    return float(mask.sum()) * step**2


def photograph(look: CardLook, drops: Drops, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Draw the photograph: grey, 8 bits."""
    matrix = _to_card(look)
    y, x = np.mgrid[: look.shape[0], : look.shape[1]].astype(float)
    u, v = _mapped(matrix, x, y)
    point = look.sides[0] / (look.fill * look.shape[1])
    light = _light(look, u, v, rng)
    card = look.paper * light * _passed(look, drops, matrix, u, v)
    card *= _dirt(look, matrix, u, v, rng)
    inside = np.minimum(look.sides[0] / 2 - np.abs(u), look.sides[1] / 2 - np.abs(v))
    share = np.clip(0.5 + inside / point, 0, 1)
    grain = gaussian_filter(rng.standard_normal(look.shape), 1.5)
    bench = look.bench * (1 + 0.15 * grain / grain.std())
    picture = gaussian_filter(share * card + (1 - share) * bench, look.blur)
    picture += look.noise * rng.standard_normal(look.shape)
    return np.clip(np.rint(picture * 255), 0, 255).astype(np.uint8)


def varied(seed: int, shape: tuple[int, int] = (900, 1200)) -> tuple[NDArray[np.uint8], float, CardLook]:
    """Draw one card of the varied series, with its covered area [mm²] and its look."""
    rng = np.random.default_rng([20260418, seed])
    look = CardLook(
        shape=shape,
        fill=rng.uniform(0.6, 0.85),
        turn=rng.uniform(-0.12, 0.12),
        slant=(rng.uniform(-0.12, 0.12), rng.uniform(-0.12, 0.12)),
        paper=rng.uniform(0.65, 0.9),
        bench=rng.uniform(0.05, 0.25),
        light=rng.uniform(0, 0.35),
        shadow=float(rng.choice([0.0, 0.25])),
        soft=rng.uniform(0.05, 0.3),
        halo=rng.uniform(0, 0.25),
        specks=int(rng.integers(0, 15)),
        fibres=int(rng.integers(0, 3)),
        blur=rng.uniform(0.6, 2.0) * shape[1] / 1200,
        noise=rng.uniform(0.004, 0.025),
    )
    drops = drawn_drops(rng, rng.uniform(30, 900))
    return photograph(look, drops, rng), covered(look, drops), look


def _profile(look: CardLook, away: Array) -> Array:
    """How dark a drop is at a distance outwards from its edge: a soft edge, and a pale halo beyond it."""
    core, wide = (0.5 * erfc((away - shift) / (look.soft * 2**0.5)) for shift in (0.0, look.halo_width))
    return np.asarray((1 - look.halo) * core + look.halo * wide, dtype=np.float64)


def _outside(drops: Drops, index: int, u: Array, v: Array) -> Array:
    """Distance outwards from a drop's edge, near it [mm]."""
    du, dv, turn = u - drops.centres[index, 0], v - drops.centres[index, 1], drops.turns[index]
    along, across = du * np.cos(turn) + dv * np.sin(turn), dv * np.cos(turn) - du * np.sin(turn)
    a, b = drops.axes[index]
    level = np.hypot(along / a, across / b)
    return (level - 1) * level / np.maximum(np.hypot(along / a**2, across / b**2), 1e-9)


def _passed(look: CardLook, drops: Drops, matrix: Array, u: Array, v: Array) -> Array:
    """Share of light that the drops leave."""
    left = np.ones(u.shape)
    for index in range(len(drops.depths)):
        place = _window(drops.centres[index], float(drops.axes[index].max()) + 1.5, matrix, u.shape)
        away = _outside(drops, index, u[place], v[place])
        left[place] *= 1 - drops.depths[index] * _profile(look, away)
    return left


def _light(look: CardLook, u: Array, v: Array, rng: np.random.Generator) -> Array:
    side = rng.uniform(0, 2 * np.pi)
    slope = (u * np.cos(side) + v * np.sin(side)) / look.sides[0]
    bulge = (u**2 + v**2) / (look.sides[0] / 2) ** 2
    light = 1 - look.light * (0.5 + slope + 0.25 * bulge)
    edge = look.sides[1] / 2 - look.shadow_width - v + 0.05 * u
    return np.asarray(light * (1 - look.shadow * 0.5 * erfc(edge / look.shadow_edge)), dtype=np.float64)


def _dirt(look: CardLook, matrix: Array, u: Array, v: Array, rng: np.random.Generator) -> Array:
    """Specks, fibres and writing: share of light that they leave."""
    left = np.ones(u.shape)
    half = np.array(look.sides) / 2
    for _ in range(look.specks):
        centre, size = rng.uniform(-0.95, 0.95, 2) * half, rng.uniform(0.1, 0.3)
        place = _window(centre, 1.0, matrix, u.shape)
        left[place][np.hypot(u[place] - centre[0], v[place] - centre[1]) < size] *= 0.5
    for _ in range(look.fibres):
        centre, turn, length = rng.uniform(-0.8, 0.8, 2) * half, rng.uniform(0, np.pi), rng.uniform(3, 9)
        place = _window(centre, length + 3, matrix, u.shape)
        du, dv = u[place] - centre[0], v[place] - centre[1]
        along, across = du * np.cos(turn) + dv * np.sin(turn), dv * np.cos(turn) - du * np.sin(turn)
        bend = across - 1.5 * np.sin(along / 3)
        left[place][(np.abs(bend) < 0.12) & (np.abs(along) < length)] *= 0.4
    if look.writing:
        left *= 1 - 0.8 * _written(look, u, v)
    return left


def _written(look: CardLook, u: Array, v: Array) -> Array:
    """Strokes of a pen near the card's upper left corner."""
    page = Image.new("L", (800, 200), 0)
    ImageDraw.Draw(page).text((5, 5), look.writing, fill=255, font=ImageFont.load_default(size=120))
    ink = np.asarray(page, dtype=float) / 255
    columns = np.rint((u + look.sides[0] / 2 - 6) * 16).astype(int)
    rows = np.rint((v + look.sides[1] / 2 - 5) * 16).astype(int)
    there = (columns >= 0) & (columns < 800) & (rows >= 0) & (rows < 200)
    found = np.zeros(u.shape)
    found[there] = ink[rows[there], columns[there]]
    return found


def _to_card(look: CardLook) -> Array:
    """Matrix from points of the picture to mm on the card, its middle being 0."""
    scale = look.fill * look.shape[1] / look.sides[0]
    c, s = np.cos(look.turn), np.sin(look.turn)
    turned = np.array([[scale * c, -scale * s, 0], [scale * s, scale * c, 0], [0, 0, 1]])
    aslant = np.eye(3)
    aslant[2, :2] = np.array(look.slant) / look.shape[1]
    moved = np.eye(3)
    moved[:2, 2] = (look.shape[1] - 1) / 2, (look.shape[0] - 1) / 2
    return np.asarray(np.linalg.inv(moved @ aslant @ turned), dtype=np.float64)


def _mapped(matrix: Array, x: Array, y: Array) -> tuple[Array, Array]:
    u, v, w = (row[0] * x + row[1] * y + row[2] for row in matrix)
    return u / w, v / w


def _window(centre: Array, reach: float, matrix: Array, shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Part of the picture around a place of the card."""
    ends = centre + reach * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    x, y = _mapped(np.linalg.inv(matrix), ends[:, 0], ends[:, 1])
    rows, columns = (
        slice(int(np.clip(one.min(), 0, size)), int(np.clip(one.max() + 2, 0, size)))
        for one, size in ((y, shape[0]), (x, shape[1]))
    )
    return rows, columns

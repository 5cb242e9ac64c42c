"""How well scale bars are read: errors, coverage, and what becomes of pictures with two bars or none.

Run from the repository's root: ``python tests/benchmarks/bar_table.py --count 24``. Bars are rectangles whose
covered share of each point is worked out exactly, on grounds of scratches, grains or soft clouds; no limit
was set with them. Two bars differ in length by 8 % or more: which of them the length belongs to isn't seen.
"""

from __future__ import annotations

import argparse

import numpy as np

from pinscar.evidence.scale_bar import read_scale_bar

SHAPE = (520, 720)
LENGTH = 2e-4


def ground(rng: np.random.Generator) -> np.ndarray:
    """Something like a surface under the microscope, three colours from 0 to 1."""
    kind, picture = rng.integers(3), np.full(SHAPE, rng.uniform(0.25, 0.6))
    rows, columns = np.indices(SHAPE, dtype=float)
    if kind == 0:  # scratches along one direction
        turn = rng.uniform(-0.6, 0.6)
        across = rows * np.cos(turn) - columns * np.sin(turn)
        for _ in range(60):
            picture += rng.normal(0, 0.02) * np.cos(across * rng.uniform(0.05, 1.2) + rng.uniform(0, 6.3))
    elif kind == 1:  # grains
        for _ in range(150):
            row, column, size = rng.uniform(0, SHAPE[0]), rng.uniform(0, SHAPE[1]), rng.uniform(2, 14)
            picture[np.hypot(rows - row, columns - column) < size] += rng.normal(0, 0.08)
    else:  # clouds
        for _ in range(8):
            picture += 0.05 * np.sin(rows * rng.uniform(-0.03, 0.03) + columns * rng.uniform(-0.03, 0.03))
    tint = 1.0 + rng.uniform(-0.08, 0.08, 3)
    return np.clip(picture[..., None] * tint, 0.05, 0.8)


def share(low: float, high: float, side: int) -> np.ndarray:
    """Share of each point of a side that lies between two places."""
    at = np.arange(side)
    return np.clip(np.minimum(at + 1.0, high) - np.maximum(at, low), 0.0, 1.0)


def with_bar(
    picture: np.ndarray,
    rng: np.random.Generator,
    long: float,
    place: tuple[float, float],
    look: tuple[bool, str],
) -> np.ndarray:
    """Lay a bar over a picture, from a place on: upright or not, and of what colour."""
    upright, colour = look
    thick = float(rng.integers(3, 9))
    row, column = place
    high, wide = (long, thick) if upright else (thick, long)
    cover = np.outer(share(row, row + high, SHAPE[0]), share(column, column + wide, SHAPE[1]))[..., None]
    inks = {
        "white": (1.0, 1.0, 1.0),
        "black": (0.0, 0.0, 0.0),
        "red": (0.9, 0.1, 0.1),
        "yellow": (1.0, 0.9, 0.1),
    }
    return picture * (1 - cover) + np.array(inks[colour]) * cover


def drawn(kind: str, rng: np.random.Generator) -> tuple[np.ndarray, float | None]:
    """A picture and the length of its bar [points]; None with two of them, or with none."""
    picture, long = ground(rng), rng.uniform(70, 260)
    ink = str(rng.choice(["red", "yellow"])) if kind == "coloured" else str(rng.choice(["white", "black"]))
    upright = kind == "upright"
    place = rng.uniform(40, SHAPE[0] - (320 if upright else 60)), rng.uniform(40, SHAPE[1] - 320)
    truth: float | None = long
    if kind != "no bar":
        whole = np.rint(place) if rng.random() < 0.5 else np.array(place)
        picture = with_bar(picture, rng, long, tuple(whole), (upright, ink))
    else:
        truth = None
    if kind == "two bars":
        other = long * rng.choice([rng.uniform(0.4, 0.92), rng.uniform(1.08, 1.6)])
        stands = bool(rng.random() < 0.3)
        # The second lies clear of the first: in the other half of the picture, or standing at its right side.
        row = rng.uniform(20, 60) if stands else (place[0] + 230) % 440 + 30
        column = SHAPE[1] - 45.0 if stands else rng.uniform(30, 250)
        same = ink if rng.random() < 0.7 else ("black" if ink == "white" else "white")
        picture = with_bar(picture, rng, other, (row, column), (stands, same))
        truth = None
    noisy = picture + rng.normal(0, rng.uniform(0.002, 0.02), picture.shape)
    return np.rint(255 * np.clip(noisy, 0, 1)).astype(np.uint8), truth


KINDS = ("level", "upright", "coloured", "two bars", "no bar")


def row(kind: str, count: int, seed: int) -> str:
    """Read so many bars: a line of the table."""
    read, off, u = 0, [], []
    for number in range(count):
        picture, truth = drawn(kind, np.random.default_rng([seed, KINDS.index(kind), number]))
        try:
            found = read_scale_bar(picture, LENGTH)
        except ValueError:
            continue
        read += 1
        if truth is not None:
            off.append(found.points / truth - 1.0)
            u.append(found.relative_uncertainty)
    if not off:
        return f"| {kind} | {read} of {count} | | | |"
    error, told = np.abs(off), np.array(u)
    held = np.mean(error <= 2 * told)
    return f"| {kind} | {read} of {count} | {np.median(error):.2%} | {error.max():.2%} | {held:.0%} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=24)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", default="")
    chosen = parser.parse_args()
    print("| Scale bars | Read | Median error | Largest error | Within 2 u |")
    print("|:--|:--|:--|:--|:--|")
    for kind in KINDS:
        if kind.startswith(chosen.kinds):
            print(row(kind, chosen.count, chosen.seed), flush=True)


if __name__ == "__main__":
    main()

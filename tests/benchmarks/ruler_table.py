"""How well rulers are read: errors, refusals and coverage on drawn graticules, and what is read of text.

Run from the repository's root: ``python tests/benchmarks/ruler_table.py --count 20``. Two ways of drawing
that share no code: lines as bells of brightness at each point, and bars on a fine sheet that is made smaller.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from pinscar.evidence.graticule import read_graticule

PITCH = 1e-4
Drawn = tuple[np.ndarray, float | None]


def bells(kind: str, rng: np.random.Generator) -> Drawn:
    """Lines whose brightness is a bell, at each point of the picture; their pitch [points].

    The lens distorts; the pitch is the mean over the picture, as the reader gives it: lengths grow by
    1 + 2 k r^2 in the mean of both directions, and r^2 is (640^2 + 480^2) / 12 in the mean.
    """
    y, x = np.mgrid[0:480, 0:640] - np.array([240.0, 320.0])[:, None, None]
    pitch, turn = rng.uniform(14.0, 40.0), np.radians(rng.uniform(-30, 30) if kind == "rotated" else 0.3)
    lens = rng.uniform(0.0, 0.003)
    bent = lens * (x**2 + y**2) / 320**2
    half = rng.uniform(-60, 60)
    shown = np.zeros(x.shape)
    for way in (0.0, np.pi / 2) if kind == "grid" else (0.0,):
        place = (x * np.cos(turn + way) + y * np.sin(turn + way)) * (1.0 + bent)
        off = ((place / pitch + 0.5) % 1.0 - 0.5) * pitch
        width = np.full(x.shape, rng.uniform(1.2, 2.2))
        if kind == "half in focus":
            width = width + 0.35 * pitch * np.clip((x - half) / 100.0, 0, 1)
        shown = np.maximum(shown, np.exp(-((off / width) ** 2)) * np.minimum(1.0, 2.0 / width))
    light = np.full(x.shape, 0.8)
    if kind == "half lit":
        light = 0.04 + 0.76 / (1.0 + np.exp((x - half) / 12.0))
    if kind == "short":
        shown = shown * (np.abs(y - rng.uniform(-80, 80)) < rng.uniform(30, 60))
    grown = light * (1.0 - 0.7 * shown)
    mean = 1.0 + 2.0 * lens * (640**2 + 480**2) / 12 / 320**2
    return np.clip(grown + rng.normal(0, 0.02, x.shape), 0, 1), pitch / mean


def sheets(kind: str, rng: np.random.Generator) -> Drawn:
    """Lines drawn as bars on a fine sheet, which is turned, made four times smaller, and blurred."""
    pitch = rng.uniform(14.0, 40.0)
    sheet = Image.new("L", (4000, 3200), 215)
    pen = ImageDraw.Draw(sheet)
    wide = 4 * rng.uniform(1.5, 3.0)
    top, end = (1400, 1400 + 4 * rng.uniform(70, 120)) if kind == "short" else (-10, 3300)
    for number in range(int(4000 / (4 * pitch)) + 1):
        at = 4 * pitch * number + 3.3
        pen.rectangle([at - wide / 2, top, at + wide / 2, end], fill=40)
        if kind == "grid" and at < 3200:
            pen.rectangle([-10, at - wide / 2, 4010, at + wide / 2], fill=40)
    # a bar's whole points on the fine sheet leave the pitch free of any error that grows
    turn = rng.uniform(-30, 30) if kind == "rotated" else 0.2
    sheet = sheet.rotate(turn, Image.Resampling.BICUBIC).crop((720, 640, 3280, 2560))
    small = sheet.resize((640, 480), Image.Resampling.BOX)
    if kind == "half in focus":
        soft = small.filter(ImageFilter.GaussianBlur(0.45 * pitch))
        mask = Image.linear_gradient("L").rotate(90).resize(small.size)
        steep = mask.point([int(np.clip((v - 128) * 4 + 128, 0, 255)) for v in range(256)])
        small = Image.composite(soft, small, steep)
    grown = np.asarray(small, dtype=float) / 255
    if kind == "half lit":
        grown = grown * np.where(np.arange(640) < rng.integers(240, 400), 1.0, 0.05)
    return np.clip(grown + rng.normal(0, 0.015, grown.shape), 0, 1), pitch


def text(kind: str, rng: np.random.Generator) -> Drawn:
    """A page of printed lines, turned a little or not."""
    del kind
    page = Image.new("L", (900, 700), 245)
    pen = ImageDraw.Draw(page)
    font = ImageFont.load_default(size=int(rng.integers(11, 30)))
    apart = font.size * rng.uniform(1.1, 1.6)
    letters = list("abcdefghijklmnopqrstuvwxyz" if rng.random() < 0.5 else "minulrHIEAT|")
    row = 15.0
    while row < 690:
        words = ["".join(rng.choice(letters, rng.integers(2, 9))) for _ in range(20)]
        pen.text((25, row), " ".join(words), font=font, fill=20)
        row += apart
    turned = page.rotate(
        rng.uniform(-3, 3) if rng.random() < 0.5 else 90.0 * rng.integers(0, 2), fillcolor=245
    )
    return np.asarray(turned.filter(ImageFilter.GaussianBlur(rng.uniform(0, 3)))), None


RULERS = ("level", "rotated", "grid", "short", "half lit", "half in focus")
KINDS: tuple[tuple[str, Callable[[str, np.random.Generator], Drawn]], ...] = (
    *((kind, draw) for kind in RULERS for draw in (bells, sheets)),
    ("page of text", text),
)


def row(kind: str, draw: Callable[[str, np.random.Generator], Drawn], count: int, seed: int) -> str:
    """Read so many rulers: a line of the table."""
    off, u, read = [], [], 0
    for number in range(count):
        picture, pitch = draw(kind, np.random.default_rng([seed, number, len(kind)]))
        try:
            found = read_graticule(picture, PITCH)
        except ValueError:
            continue
        read += 1
        if pitch is not None:
            off.append(found.scale / (PITCH / pitch) - 1.0)
            u.append(found.relative_uncertainty)
    if not off:
        return f"| {kind}, {draw.__name__} | {read} of {count} | | | |"
    error, told = np.abs(off), np.array(u)
    return (
        f"| {kind}, {draw.__name__} | {read} of {count} | {np.median(error):.2%} | {error.max():.2%} "
        f"| {np.mean(error <= 2 * told):.0%} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print("| Rulers | Read | Median error | Largest error | Within 2 u |")
    print("|:--|:--|:--|:--|:--|")
    for kind, draw in KINDS:
        print(row(kind, draw, chosen.count, chosen.seed), flush=True)


if __name__ == "__main__":
    main()

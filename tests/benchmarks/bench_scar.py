"""How much faster parts of a scar reading are than the plain ways that they replace, in one run.

Run it from the repository's root: ``python tests/benchmarks/bench_scar.py``. Two parts of `measure_scar` have
a plain way beside them that gives the same numbers: wide smoothing (by cosine transforms; plain: SciPy's
Gaussian filter, point by point) and the spread of the axes (by sums over stretches of the outline; plain: a
least-squares fit of each resample). Then a photograph of 12 megapixels is opened and measured in processes of
its own, in turns with one that opens it only. The exit status is 1 where the ways disagree, a part is not
faster, or the photograph takes 3 s of processor or 1 GiB.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scar_table
from PIL import Image
from scipy.ndimage import gaussian_filter

from pinscar.evidence.ellipse import Ellipse, tukey_weights
from pinscar.evidence.grey import wide_blurs
from pinscar.evidence.scar_outline import Outline, ScarFit
from pinscar.evidence.scar_quality import BLOCKS, RESAMPLES, axis_spread
from pinscar.evidence.scar_rim import Rim

WIDTHS = (40.0, 20.0, 10.0)
AGREEMENT = 1e-8
"""Largest relative difference of the two ways."""


def drawn_fit(seed: int) -> ScarFit:
    """An outline of 480 points round an ellipse, ragged, with a few points far off."""
    rng = np.random.default_rng(seed)
    ellipse = Ellipse(240.0, 180.0, 130.0, 70.0, 0.1)
    t = ellipse.even_angles(480)
    off = rng.normal(0.0, 1.0, t.size) + 15.0 * (rng.random(t.size) < 0.02)
    points = ellipse.points(t) + off[:, None] * ellipse.normals(t)
    away = ellipse.distances(points)
    return ScarFit(Rim(ellipse), Outline(points, np.ones(t.size)), away, tukey_weights(away))


def spread_one_by_one(fit: ScarFit, seed: int) -> np.ndarray:
    """The spread of both axes by a least-squares fit of each resample."""
    ellipse, rng = fit.ellipse, np.random.default_rng(seed)
    t = ellipse.nearest_angles(fit.outline.points)
    normal, c, s = ellipse.normals(t), np.cos(ellipse.angle), np.sin(ellipse.angle)
    along, across = normal[:, 0] * c + normal[:, 1] * s, normal[:, 1] * c - normal[:, 0] * s
    turned = across * ellipse.a * np.cos(t) - along * ellipse.b * np.sin(t)
    slopes = np.column_stack([along, across, along * np.cos(t), across * np.sin(t), turned])
    root = np.sqrt(fit.weights)
    blocks = np.array_split(np.arange(t.size), BLOCKS)
    steps = []
    for _ in range(RESAMPLES):
        drawn = np.concatenate([blocks[i] for i in rng.integers(0, BLOCKS, BLOCKS)])
        left, right = root[drawn, None] * slopes[drawn], root[drawn] * fit.away[drawn]
        steps.append(np.linalg.lstsq(left, right)[0][2:4])
    return 2 * np.std(steps, axis=0, ddof=1)


def compared(name: str, fast: Callable[[], np.ndarray], plain: Callable[[], np.ndarray], rounds: int) -> bool:
    """Time both ways in turns, so that a busy machine slows both, and say how they compare."""
    times: tuple[list[float], list[float]] = ([], [])
    apart = 0.0
    for _ in range(rounds):
        results = []
        for way, taken in zip((fast, plain), times, strict=True):
            start = time.process_time()
            results.append(way())
            taken.append(time.process_time() - start)
        apart = max(apart, float(np.max(np.abs(results[0] - results[1])) / np.max(np.abs(results[1]))))
    ours, theirs = float(np.median(times[0])), float(np.median(times[1]))
    print(
        f"{name}: {ours * 1e3:.1f} ms against {theirs * 1e3:.1f} ms, {theirs / ours:.1f} times; {apart:.0e}"
    )
    return apart < AGREEMENT and ours < theirs


WIDE, HIGH = 4000, 3000
MOST_SECONDS, MOST_MEMORY = 3.0, 1.0
"""Most processor time [s] and memory [GiB] that reading a photograph of that size may take."""
OPENED = """
import resource, sys, time
from pathlib import Path
from pinscar.decision.media import read_picture
from pinscar.evidence.scar_image import measure_scar
start = time.process_time()
pixels = read_picture(Path(sys.argv[1]))
if sys.argv[2] == "measured":
    assert measure_scar(pixels, 1e-6).accepted
print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20)
"""


def photograph(rounds: int) -> bool:
    """Measure a scar of 12 megapixels: processor time and largest memory, beside opening the file alone."""
    drawn, _ = scar_table.module("painted").painted_picture(3)
    found: dict[str, list[list[float]]] = {"measured": [], "opened": []}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "large.jpg"
        Image.fromarray(drawn).convert("RGB").resize((WIDE, HIGH), Image.Resampling.BICUBIC).save(file)
        for _ in range(rounds):
            for way, kept in found.items():
                words = [sys.executable, "-c", OPENED, str(file), way]
                told = subprocess.run(words, capture_output=True, text=True, check=True).stdout
                kept.append([float(one) for one in told.split()])
    (ours, memory), (theirs, _) = (np.median(kept, axis=0) for kept in found.values())
    print(
        f"photograph of 12 megapixels: {ours:.2f} s and {memory:.2f} GiB, "
        f"{ours / theirs:.1f} times as long as opening it"
    )
    return bool(ours < MOST_SECONDS and memory < MOST_MEMORY)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    picture = np.random.default_rng(chosen.seed).random((360, 480))
    fit = drawn_fit(chosen.seed)
    well = [
        compared(
            "wide smoothing",
            lambda: np.stack(wide_blurs(picture, WIDTHS)),
            lambda: np.stack([gaussian_filter(picture, width) for width in WIDTHS]),
            chosen.rounds,
        ),
        compared(
            "spread of axes",
            lambda: np.array(axis_spread(fit, np.random.default_rng(chosen.seed))),
            lambda: spread_one_by_one(fit, chosen.seed),
            chosen.rounds,
        ),
        photograph(min(chosen.rounds, 3)),
    ]
    if not all(well):
        told = "the ways disagree, a part is no faster than the plain way, or a photograph takes too much"
        print(f"FAILED: {told}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())

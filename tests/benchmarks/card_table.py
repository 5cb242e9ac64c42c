"""How well fling cards are read: area, number of refusals and coverage, by renderers that share no code.

Run from the repository's root, with the cards a kind: ``python tests/benchmarks/card_table.py --count 20``.
``--kinds strewn`` takes only kinds whose name begins so. A row: cards accepted, median and 95th percentile of
the error of the covered area, its median with the sign, the share of truths within twice the stated
standard uncertainty, and on how many cards the number of drops is exact, off by one at most, and its error's
95th percentile, where the renderer tells how many it drew; of clean cards, how many read no drop.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

import numpy as np
from scar_table import DEMO, module

from pinscar.evidence.fling_card import FlingReading, read_fling_card

Drawn = tuple[np.ndarray, float, int | None]
Card = Callable[[int], Drawn]


def demo_kinds() -> dict[str, Card]:
    """The renderer of the demo data."""
    demo = module("render_card", DEMO)

    def written(seed: int) -> Drawn:
        rng = np.random.default_rng([31, seed])
        look = demo.CardLook(writing="c07-12", turn=rng.uniform(-0.1, 0.1), blur=rng.uniform(0.6, 1.6))
        drops = demo.drawn_drops(rng, rng.uniform(40, 300))
        return demo.photograph(look, drops, rng), demo.covered(look, drops), len(drops.depths)

    def pale(seed: int) -> Drawn:
        rng = np.random.default_rng([32, seed])
        look = demo.CardLook(noise=rng.uniform(0.004, 0.02), blur=rng.uniform(0.6, 1.6))
        drops = demo.drawn_drops(rng, 11.0)
        drops = demo.Drops(drops.centres, drops.axes, drops.turns, rng.uniform(0.12, 0.3) * drops.depths)
        return demo.photograph(look, drops, rng), demo.covered(look, drops), len(drops.depths)

    def clean(seed: int) -> Drawn:
        rng = np.random.default_rng([33, seed])
        look = demo.CardLook(noise=rng.uniform(0.004, 0.02), light=rng.uniform(0, 0.35), fibres=seed % 2)
        return demo.photograph(look, demo.drawn_drops(rng, 0.0), rng), 0.0, 0

    return {
        "demo, varied": lambda seed: (*demo.varied(5000 + seed)[:2], None),
        "demo, writing": written,
        "demo, pale": pale,
        "demo, clean": clean,
    }


def dabbed_kinds() -> dict[str, Card]:
    """Polygons on a fine sheet."""
    dabbed = module("dabbed_cards")

    def one(**given: Any) -> Card:
        def draw(seed: int) -> Drawn:
            rng = np.random.default_rng([41, seed])
            drawn = {
                "wanted": rng.uniform(30, 500),
                "blur": rng.uniform(0.7, 2.0),
                "soak": rng.uniform(0.02, 0.25),
                "noise": rng.uniform(0.003, 0.012),
                "jpeg": int(rng.choice([0, 85])),
            }
            return dabbed.dabbed_card(seed, dabbed.Sheet(**{**drawn, **given}))

        return draw

    return {
        "dabbed, varied": one(),
        "dabbed, few": one(wanted=11.0),
        "dabbed, small": one(largest=0.7, wanted=60.0),
        "dabbed, writing": one(letters=8),
        "dabbed, pale": one(wanted=11.0, depth=(0.03, 0.12)),
        "dabbed, clean": one(wanted=0.0),
        "dabbed, clean, writing": one(wanted=0.0, letters=6),
    }


def row(name: str, draw: Card, count: int, start: int) -> str:
    """Read so many cards of a kind: its line of the table."""
    read, truths, counts = [], [], []
    for seed in range(start, start + count):
        picture, truth, drops = draw(seed)
        try:
            found = read_fling_card(picture, 0.15, 0.10)
        except ValueError:
            continue
        if found.accepted:
            read.append(found)
            truths.append(truth)
            counts.append(drops)
    area = np.array([one.fling_area for one in read], dtype=float) * 1e6
    u = np.array([one.fling_area_uncertainty for one in read], dtype=float) * 1e6
    truth = np.array(truths, dtype=float)
    if not read:
        return f"| {name} | 0 of {count} | | | | |"
    if not truth.any():
        none = sum(one.count == 0 for one in read)
        held = np.mean(area <= 2 * u + 1e-9)
        told = f"{none} read no drop, most {area.max():.2g} mm²"
        return f"| {name} | {len(read)} of {count} | {told} | | {held:.0%} | |"
    off = area / truth - 1
    held = np.mean(np.abs(area - truth) <= 2 * u)
    return (
        f"| {name} | {len(read)} of {count} | {np.median(np.abs(off)):.1%} ({np.median(off):+.1%}) "
        f"| {np.quantile(np.abs(off), 0.95):.1%} | {held:.0%} | {counted(read, counts)} |"
    )


def counted(read: list[FlingReading], drawn: list[int | None]) -> str:
    """Tell how well the drops were counted; nothing where it is not known how many there are."""
    told = [(one.count, drops) for one, drops in zip(read, drawn, strict=True) if drops is not None]
    if not told:
        return ""
    found, truth = np.array(told, dtype=float).T
    off = np.abs(found - truth)
    share = np.quantile(off / truth, 0.95)
    return f"{np.sum(off == 0)}, {np.sum(off <= 1)} of {off.size}, {share:.0%}"


def strewn_kinds() -> dict[str, Card]:
    """Drops by distances: no limit was set with these."""
    strewn = module("strewn_cards")

    def one(low: float, high: float, **given: Any) -> Card:
        def draw(seed: int) -> Drawn:
            return strewn.strewn_card(seed, np.random.default_rng([51, seed]).uniform(low, high), **given)

        return draw

    return {
        "strewn, varied": one(30.0, 400.0),
        "strewn, few": one(5.0, 20.0),
        "strewn, pale": one(8.0, 20.0, loss=(0.02, 0.055)),
        "strewn, writing": one(30.0, 200.0, written=True),
        "strewn, clean": one(0.0, 0.0),
    }


KINDS = (demo_kinds, dabbed_kinds, strewn_kinds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--kinds", default="")
    chosen = parser.parse_args()
    number = "Number: exact, off by one at most, 95th percentile of its error"
    print(f"| Cards | Accepted | Median error (with sign) | 95th percentile | Within 2 u | {number} |")
    print("|:--|:--|:--|:--|:--|:--|")
    for kinds in KINDS:
        for name, draw in kinds().items():
            if name.startswith(chosen.kinds):
                print(row(name, draw, chosen.count, chosen.start), flush=True)


if __name__ == "__main__":
    main()

"""How likely an accepted scar is off by less than 5 %: fits the table in
``pinscar/evidence/scar_quality.py``.

Run it from the repository's root: ``python tests/benchmarks/scar_score.py``. Pictures of four renderers and
of the demo's are read (`POOL`; ``strokes`` and ``lit`` are kept out of it); a logistic curve of what a fit
tells about itself is laid through whether both axes were within 5 % of the truth. Rims that are seen too
little to be accepted are among them, so that there are more errors to learn from. ``--check FILE`` takes
the readings that ``scar_table.py --json FILE`` kept of other pictures and tells how well the scores hold.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

import numpy as np
import scar_table

from pinscar.evidence.grey import reduced
from pinscar.evidence.scar_image import WORKING, _best_fit
from pinscar.evidence.scar_quality import ENOUGH, WORDS, Quality

OFF = 0.05
POOL = {
    "mirrored": (*range(300, 305), *range(310, 313)),
    "relief": range(9),
    "painted": range(7),
    "demo": range(22),
    "filtered": range(6),
}
"""Seeds of the pictures that the curve is made from."""
SEEN = 0.6
"""Share of the rim that must be clear: less than the reader asks for, because errors are rare."""
EDGES = (0.0, 0.8, 0.9, 0.95, 0.98, 1.0)


def others(quality: Quality) -> float:
    """The product of all parts but those that ask how much of the rim is seen, and how well it agrees."""
    left_out = ("seen", "formed", "spread")
    return float(np.prod([getattr(quality, part) for part in WORDS if part not in left_out]))


def measured(kinds: dict[str, scar_table.Kind], seeds: Iterable[int]) -> list[list[float]]:
    """Read pictures; give the measures of each fit whose parts are good enough, and whether it is right."""
    rows = []
    for name, draw in kinds.items():
        for seed in seeds:
            picture, truth = draw(seed)
            if truth is None:
                continue
            found = _best_fit(reduced(picture, WORKING)[0], 0.0, 0)
            if found is None or found[0].seen_either_way < SEEN or others(found[2]) < ENOUGH:
                continue
            _, size, quality = found
            off = max(abs(size.length / truth[0] - 1), abs(size.width / truth[1] - 1))
            rows.append([*quality.measures, float(off < OFF)])
        print(name, len(rows), file=sys.stderr, flush=True)
    return rows


def logistic(terms: np.ndarray, right: np.ndarray, stiff: float = 1.0) -> np.ndarray:
    """Fit by Newton steps, slopes held back by a normal prior of standard deviation 1 on scaled measures."""
    slopes = np.zeros(terms.shape[1])
    hold = stiff * np.diag([0.0] + [1.0] * (terms.shape[1] - 1))
    for _ in range(50):
        share = 1 / (1 + np.exp(-terms @ slopes))
        gain = terms.T @ (right - share) - hold @ slopes
        step = np.linalg.solve((terms.T * (share * (1 - share))) @ terms + hold, gain)
        slopes = slopes + step
        if np.abs(step).max() < 1e-10:
            break
    return slopes


def diagram(scores: np.ndarray, right: np.ndarray) -> list[str]:
    """Tell by classes of the score how many there are, the mean score, and the share that is right."""
    lines = ["| Score | Pictures | Mean score | Within 5 % |", "|:--|--:|--:|--:|"]
    for low, high in pairwise(EDGES):
        here = (scores > low) & (scores <= high)
        if here.any():
            told = f"{here.sum()} | {scores[here].mean():.3f} | {right[here].mean():.3f}"
            lines.append(f"| {low:g} to {high:g} | {told} |")
    lines.append(f"| all | {len(scores)} | {scores.mean():.3f} | {right.mean():.3f} |")
    return lines


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", type=Path, nargs="*")
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    if chosen.check:
        kept = [
            one for file in chosen.check for found in json.loads(file.read_text()).values() for one in found
        ]
        read = [one for one in kept if one["accepted"] and one["truth"]]
        off = [max(abs(np.array(one["read"][:2]) / one["truth"][:2] - 1)) for one in read]
        print("\n".join(diagram(np.array([one["score"] for one in read]), np.array(off) < OFF)))
        return 0
    rows = np.array(
        [row for name, seeds in POOL.items() for row in measured(scar_table.MAKERS[name](), seeds)]
    )
    if chosen.keep:
        np.save(chosen.keep, rows)
    measures, right = rows[:, :-1], rows[:, -1]
    middle, spread = measures.mean(axis=0), measures.std(axis=0)
    slopes = logistic(np.column_stack([np.ones(len(rows)), (measures - middle) / spread]), right)
    print("MIDDLE =", tuple(round(float(one), 4) for one in middle))
    print("SPREAD =", tuple(round(float(one), 4) for one in spread))
    print("SLOPES =", tuple(round(float(one), 3) for one in slopes))
    scores = 1 / (1 + np.exp(-slopes[0] - ((measures - middle) / spread) @ slopes[1:]))
    print("\n".join(diagram(scores, right)))
    return 0


if __name__ == "__main__":
    sys.exit(main())

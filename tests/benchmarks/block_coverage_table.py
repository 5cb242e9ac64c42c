"""Make the table of coverage of censored medians and ratios in random blocks, as a CSV file.

Run from the repository's top folder (about twenty minutes on one core), with the file to write; a second
argument scales the number of campaigns:

    export PYTHONPATH=toolkit OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
    python tests/benchmarks/block_coverage_table.py toolkit/pinscar/stats/data/block_coverage.csv 1
"""

from __future__ import annotations

import csv
import sys
from itertools import product
from pathlib import Path

import numpy as np
from scipy.stats import norm

from pinscar.stats.censored import censoring_shift, deviance_cut
from pinscar.stats.censored_blocks import blocked_cut, guarded_cut
from pinscar.stats.random_blocks import BlockedRuns, fit_in_blocks

MEDIAN, RATIOS = ("median",), ("ratio", "one spread")
LAYOUTS = ((MEDIAN, 3, 2), (RATIOS, 3, 2))
CAMPAIGNS = {MEDIAN: 4000, RATIOS: 2000}
BETWEEN = (0.0, 1.0, 2.0)
CENSORED = ((0.4, 1.0), (0.6, 1.0))
CONFIDENCE, SEED = 0.95, 20240301
HEAD = """\
# Simulated coverage of intervals of left-censored log-normal runs in random blocks, nominal 0.95.
# Source: tests/benchmarks/block_coverage_table.py, own simulation.
# kind: median of one group; ratio of two groups, each with its own spread as a report judges by default; one
# spread: the ratio where campaign.toml says that all oils share one. days: blocks; per_day: runs of a group
# in each block.
# between: standard deviation between blocks over that within. censored_share, limit_scatter: as in
# censored_coverage.csv, the scatter in standard deviations within blocks. intervals: share of the campaigns
# that yield an interval. coverage: share of them that hold the truth. low_above, high_below: share of the
# campaigns drawn whose low end lies above the truth, whose high end lies below it.
"""
COLUMNS = (
    "kind", "days", "per_day", "between", "censored_share", "limit_scatter", "campaigns", "intervals",
    "coverage", "low_above", "high_below",
)  # fmt: skip


def draw(rng, groups: int, days: int, per_day: int, between: float, share: float, scatter: float):
    n = days * per_day * groups
    blocks = np.repeat(np.arange(days), per_day * groups)
    film = rng.standard_normal(n) + between * rng.standard_normal(days)[blocks]
    limit = norm.ppf(share) * np.sqrt(1 + between**2 + scatter**2) + scatter * rng.standard_normal(n)
    return np.maximum(film, limit), film < limit, blocks, np.arange(n) % groups


def sides(kinds, days: int, per_day: int, logs, mask, blocks, group) -> list[tuple[bool, bool]] | None:
    """Whether the low end lies above the truth and the high end below it, by kind; None without intervals."""
    size = days * per_day
    if kinds == MEDIAN:
        if size - mask.sum() < 2:
            return None
        fit = fit_in_blocks(BlockedRuns(logs, mask, np.ones((size, 1)), blocks))
        held = fit_in_blocks(BlockedRuns(logs, mask, np.zeros((size, 0)), blocks))
        difference, shifts = fit.coefficients[0], (censoring_shift(size, int(mask.sum())), 0.0)
        cuts = [[blocked_cut(CONFIDENCE, size, days, held, shift) for shift in shifts]]
    else:
        seen = ~mask
        design = np.stack([group == 1, group == 0], axis=1).astype(float)
        columns = np.column_stack([design, blocks[:, None] == np.arange(days)])[seen]
        if (
            min(seen[group == 0].sum(), seen[group == 1].sum()) < 1
            or seen.sum() - np.linalg.matrix_rank(columns) < 2
        ):
            return None
        fit = fit_in_blocks(BlockedRuns(logs, mask, design, blocks))
        held = fit_in_blocks(BlockedRuns(logs, mask, np.ones((2 * size, 1)), blocks))
        difference = fit.coefficients[0] - fit.coefficients[1]
        shifts = tuple(censoring_shift(size, int(mask[group == g].sum())) for g in (1, 0))
        places = tuple(blocks[group == g].tolist() for g in (1, 0))
        cuts = [
            [guarded_cut(places, CONFIDENCE, 2 * size, shift) for shift in shifts],
            [deviance_cut(CONFIDENCE, 2 * size, days + 1, "student", shift) for shift in shifts],
        ]
    deviance = 2 * (fit.log_likelihood - held.log_likelihood)
    return [(bool(difference > 0 and deviance > a), bool(difference < 0 and deviance > b)) for a, b in cuts]


def main(target: Path, factor: float) -> None:
    with target.open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for (kinds, days, per_day), between, (share, scatter) in product(LAYOUTS, BETWEEN, CENSORED):
            campaigns = max(20, round(factor * CAMPAIGNS[kinds]))
            groups = 1 if kinds == MEDIAN else 2
            rng = np.random.default_rng([SEED, days, round(10 * between), round(10 * share), groups - 1])
            found = [
                sides(kinds, days, per_day, *draw(rng, groups, days, per_day, between, share, scatter))
                for _ in range(campaigns)
            ]
            told = np.array([one for one in found if one is not None])
            for kind, ends in zip(kinds, told.transpose(1, 0, 2), strict=True):
                above, below = ends.sum(axis=0)
                shares = (len(ends), len(ends) - above - below, above, below)
                of = (campaigns, len(ends), campaigns, campaigns)
                numbers = (f"{one / whole:.4f}" for one, whole in zip(shares, of, strict=True))
                writer.writerow((kind, days, per_day, between, share, scatter, campaigns, *numbers))
            file.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 1.0)

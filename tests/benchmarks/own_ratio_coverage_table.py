"""Make the table of coverage of ratios with censored runs where each group keeps its own spread.

This is the comparison that a report makes by default; `coverage_table.py` is about one spread. Run from the
repository's top folder (a few minutes on one core), with the file to write; a second argument scales the
number of campaigns:

    export PYTHONPATH=toolkit OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
    python tests/benchmarks/own_ratio_coverage_table.py toolkit/pinscar/stats/data/own_ratio_coverage.csv 1
"""

from __future__ import annotations

import csv
import sys
from itertools import product
from pathlib import Path

import numpy as np
from scipy.special import ndtri

from pinscar.stats.censored_own_batch import apart, fit_groups_apart

SIZES = ((3, 3), (4, 4), (5, 5))
SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
SCATTERS = (0.0, 0.5, 1.0)
SPREADS = (1.0, 3.0)
CONFIDENCE, SEED, CAMPAIGNS = 0.95, 20261129, 4000
HEAD = """\
# Simulated coverage of ratios of medians of left-censored log-normal runs, each group with its own spread,
# nominal 0.95 (right censoring is the mirror image). Source: tests/benchmarks/own_ratio_coverage_table.py.
# n, n_reference: runs. spread: standard deviation of the subject over that of the reference. censored_share:
# expected share of censored runs of both. limit_scatter: standard deviation of the limits, in those of the
# log values. intervals: share of the campaigns with two values seen in both groups. coverage: share of these
# whose limits hold the truth. low_above, high_below: share of the campaigns drawn whose low end lies above
# the truth (wrongly "at least"), whose high end lies below it. Standard error of a coverage: 0.003 to 0.005.
"""
COLUMNS = (
    "n", "n_reference", "spread", "censored_share", "limit_scatter", "campaigns", "intervals", "coverage",
    "low_above", "high_below",
)  # fmt: skip


def drawn(rng, campaigns: int, n: int, spread: float, share: float, scatter: float):
    """Logarithms or limits, and which are limits."""
    film = rng.standard_normal((campaigns, n))
    if share == 0.0:
        return spread * film, np.zeros(film.shape, dtype=bool)
    limit = scatter * rng.standard_normal(film.shape) + ndtri(share) * np.hypot(1.0, scatter)
    return spread * np.maximum(film, limit), film < limit


def row(sizes: tuple[int, int], spread: float, share: float, scatter: float, campaigns: int):
    rng = np.random.default_rng([SEED, *sizes, round(spread), round(10 * share), round(10 * scatter)])
    groups = [drawn(rng, campaigns, n, s, share, scatter) for n, s in zip(sizes, (spread, 1.0), strict=True)]
    usable = np.all([np.sum(~hidden, axis=1) > 1 for _, hidden in groups], axis=0)
    subject, base = (fit_groups_apart(logs[usable], hidden[usable]) for logs, hidden in groups)
    out = apart(subject, base, CONFIDENCE)
    above, below = np.sum(out & (subject.median > base.median)), np.sum(out & (subject.median < base.median))
    held = 1.0 - np.sum(out) / np.sum(usable)
    told = (np.mean(usable), held, above / campaigns, below / campaigns)
    return (*sizes, spread, share, scatter, campaigns, *(f"{one:.4f}" for one in told))


def main(target: Path, factor: float) -> None:
    with target.open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for sizes, spread, share, scatter in product(SIZES, SPREADS, SHARES, SCATTERS):
            if share > 0.0 or scatter == 0.0:
                writer.writerow(row(sizes, spread, share, scatter, max(20, round(factor * CAMPAIGNS))))
                file.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 1.0)

"""Make the table of coverage of profile limits with censored runs, in toolkit/pinscar/stats/data/.

Run from the repository's top folder (about 10 minutes on one core):

    PYTHONPATH=toolkit python tests/benchmarks/coverage_table.py

Every cell has its own seed, so the table does not depend on the order or on the number of processes.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path

import numpy as np

from pinscar.stats.coverage_simulation import simulate_median, simulate_ratio

DATA = Path(__file__).resolve().parents[2] / "toolkit" / "pinscar" / "stats" / "data"
SIZES = range(3, 9)
SHARES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
SCATTERS = (0.0, 1.0)
NOMINALS = (0.9, 0.95, 0.975, 1 - 0.05 / 3, 0.9875, 0.99)
CAMPAIGNS = {"median": 3000, "ratio": 1500}
SIMULATIONS = {"median": simulate_median, "ratio": simulate_ratio}
SEED = 20240229

HEAD = """\
# Simulated coverage of profile-likelihood limits with left-censored log-normal runs.
# Source: tests/benchmarks/coverage_table.py, own simulation; type I censoring, see coverage_simulation.py.
# kind: median of one group, or ratio of the medians of two groups of n runs each with one spread.
# censored_share: expected share of censored runs. limit_scatter: standard deviation of the censoring
# limits, in standard deviations of the log values. used: share of the drawn campaigns that the method
# applies to. nominal: confidence asked for. chi_square, student: coverage with either cut of the deviance,
# over `campaigns` campaigns each (standard error about 0.004 and 0.006 at 0.95).
"""
COLUMNS = (
    "kind", "n", "censored_share", "limit_scatter", "campaigns", "used", "nominal", "chi_square", "student"
)  # fmt: skip


def simulate(cell: tuple[str, int, float, float]) -> list[tuple[object, ...]]:
    kind, n, share, scatter = cell
    seeds = [SEED, sorted(SIMULATIONS).index(kind), n, round(10 * share), round(10 * scatter)]
    result = SIMULATIONS[kind](n, share, scatter, CAMPAIGNS[kind], np.random.default_rng(seeds))
    return [
        (
            *(kind, n, share, scatter, CAMPAIGNS[kind], f"{result.used:.3f}", f"{nominal:.5f}"),
            *(f"{result.coverage(nominal):.4f}", f"{result.coverage(nominal, 'student'):.4f}"),
        )
        for nominal in NOMINALS
    ]


def markdown(rows: list[tuple[object, ...]]) -> Iterator[str]:
    yield "# Coverage of profile-likelihood limits with left-censored runs, nominal 95 %"
    yield ""
    yield "Each entry: chi-square cut / Student cut, lowest over the scatters of the limits (0 and 1)."
    for kind in SIMULATIONS:
        yield ""
        yield (
            "## Median of one group" if kind == "median" else "## Ratio of two medians, n runs in each group"
        )
        yield ""
        yield "| n | " + " | ".join(f"{share:.0%} censored" for share in SHARES) + " |"
        yield "|---" * (len(SHARES) + 1) + "|"
        for n in SIZES:
            entries = []
            for share in SHARES:
                cell = [row for row in rows if row[:3] == (kind, n, share) and row[6] == "0.95000"]
                plain, student = (min(float(str(row[i])) for row in cell) for i in (7, 8))
                entries.append(f"{plain:.3f} / {student:.3f}")
            yield f"| {n} | " + " | ".join(entries) + " |"


def main() -> None:
    cells = list(product(SIMULATIONS, SIZES, SHARES, SCATTERS))
    with ProcessPoolExecutor() as pool:
        rows = [row for group in pool.map(simulate, cells) for row in group]
    DATA.mkdir(exist_ok=True)
    with (DATA / "censored_coverage.csv").open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(rows)
    (DATA / "censored_coverage.md").write_text("\n".join(markdown(rows)) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

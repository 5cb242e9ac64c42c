"""Make the table of coverage of intervals with censored runs, in toolkit/pinscar/stats/data/.

Run from the repository's top folder (about five minutes on one core):

    PYTHONPATH=toolkit OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/coverage_table.py

Every cell has its own seed, so the table does not depend on the order.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import product
from pathlib import Path

from coverage_simulation import Roots, coverage, simulate_median, simulate_ratio

DATA = Path(__file__).resolve().parents[2] / "toolkit" / "pinscar" / "stats" / "data"
SIZES = range(3, 9)
SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
SCATTERS = (0.0, 0.5, 1.0)
NOMINALS = (0.9, 0.95, 0.975, 1 - 0.05 / 3, 0.9875, 0.99)
CAMPAIGNS = {"median": 20_000, "ratio": 10_000}
SEED = 20240229

HEAD = """\
# Simulated coverage of the intervals of left-censored log-normal runs (right censoring is the mirror image).
# Source: tests/benchmarks/coverage_table.py, own simulation; type I censoring, see coverage_simulation.py.
# kind: median of one group, or ratio of the medians of two groups of n runs each with one spread.
# censored_share: expected share of censored runs. limit_scatter: standard deviation of the censoring
# limits, in standard deviations of the log values. campaigns: drawn, without and with censored runs as they
# come. intervals: share of them that yield an interval. nominal: confidence asked for. coverage: share of the
# intervals that hold the truth; coverage_censored: the same of those with a censored run. low_above,
# high_below: share of the campaigns drawn whose low end lies above the truth (wrongly "at least"), whose high
# end lies below it. profile: coverage with a censored run by the large-sample cut, which is not used.
# Standard error of a coverage near 0.95 is 0.0015 to 0.004, of a share near 0.025 0.0011 to 0.0016.
"""
COLUMNS = (
    "kind", "n", "censored_share", "limit_scatter", "campaigns", "intervals", "nominal", "coverage",
    "coverage_censored", "low_above", "high_below", "profile",
)  # fmt: skip


def roots(kind: str, n: int, share: float, scatter: float) -> Roots:
    seed = [SEED, ["median", "ratio"].index(kind), n, round(10 * share), round(10 * scatter)]
    if kind == "median":
        return simulate_median(n, share, scatter, CAMPAIGNS[kind], seed)
    return simulate_ratio((n, n), (share, share), scatter, CAMPAIGNS[kind], seed)


def rows() -> Iterator[dict[str, object]]:
    for kind, n, share, scatter in product(CAMPAIGNS, SIZES, SHARES, SCATTERS):
        if share == 0.0 and scatter > 0.0:
            continue
        result = roots(kind, n, share, scatter)
        for nominal in NOMINALS:
            found = coverage(result, nominal)
            shares = (
                found.coverage,
                found.coverage_censored,
                found.low_above,
                found.high_below,
                found.profile,
            )
            values = (kind, n, share, scatter, CAMPAIGNS[kind], f"{found.intervals:.3f}", f"{nominal:.5f}")
            yield dict(zip(COLUMNS, (*values, *(f"{one:.4f}" for one in shares)), strict=True))


def markdown(table: list[dict[str, object]]) -> Iterator[str]:
    yield "# Coverage of intervals with left-censored runs, nominal 95 %"
    yield ""
    yield (
        "Each entry: lowest to highest coverage over the scatters of the limits (0, 0.5 and 1 standard "
        "deviations), then the largest share of campaigns whose low end lies above the truth."
    )
    for kind, title in (
        ("median", "Median of one group"),
        ("ratio", "Ratio of two medians, n runs in each group"),
    ):
        yield ""
        yield f"## {title}"
        yield ""
        yield "| n | " + " | ".join(f"{share:.0%} censored" for share in SHARES) + " |"
        yield "|---" * (len(SHARES) + 1) + "|"
        for n in SIZES:
            entries = []
            for share in SHARES:
                cell = [
                    row
                    for row in table
                    if (row["kind"], row["n"], row["censored_share"]) == (kind, n, share)
                    and row["nominal"] == "0.95000"
                ]
                held = [float(str(row["coverage"])) for row in cell]
                wrong = max(float(str(row["low_above"])) for row in cell)
                entries.append(f"{min(held):.3f} to {max(held):.3f}, {wrong:.3f}")
            yield f"| {n} | " + " | ".join(entries) + " |"


def main() -> None:
    table = list(rows())
    DATA.mkdir(exist_ok=True)
    with (DATA / "censored_coverage.csv").open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(table)
    (DATA / "censored_coverage.md").write_text("\n".join(markdown(table)) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

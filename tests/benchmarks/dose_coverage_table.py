"""Make the table of coverage of the least dose's interval, as a CSV file.

Run from the repository's top folder (about half an hour on one core), with
the file to write and the studies a cell:

    export PYTHONPATH=toolkit:tests/study OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
    python tests/benchmarks/dose_coverage_table.py toolkit/pinscar/stats/data/dose_coverage.csv 500
"""

from __future__ import annotations

import csv
import sys
from itertools import product
from pathlib import Path

import numpy as np
from dose_studies import BATCH_SD, covered, covered_over_campaigns

HEAD = """\
# Simulated coverage of the interval of the least dose that meets a limit, nominal 0.95.
# Source: tests/benchmarks/dose_coverage_table.py, own simulation.
# form: of the curve, true and fitted. campaigns: 3 are random, of a standard deviation of 0.06, and joined by
# an oil beside the series. batch_sd: standard deviation between batches [-]; that of runs is 0.085, four runs
# a batch, five doses of a straight form and seven of the others. censored_share: share of the runs that are
# bounds alone. coverage: share of the studies whose interval holds the true dose.
"""
FORMS = ("straight", "saturating", "threshold")


def main(target: Path, studies: int) -> None:
    with target.open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("form", "campaigns", "batch_sd", "censored_share", "studies", "coverage"))
        for form, batch_sd, share in product(FORMS, (0.0, BATCH_SD), (0.0, 0.2)):
            held = [covered(form, seed, batch_sd, share) for seed in range(studies)]
            writer.writerow((form, 1, batch_sd, share, studies, f"{np.mean(held):.4f}"))
            file.flush()
        for share in (0.0, 0.2):
            held = [covered_over_campaigns("straight", seed, share) for seed in range(studies)]
            writer.writerow(("straight", 3, BATCH_SD, share, studies, f"{np.mean(held):.4f}"))
            file.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 500)

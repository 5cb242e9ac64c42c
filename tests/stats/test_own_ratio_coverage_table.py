"""The shipped table of ratios with own spreads: made by its script, complete, and nowhere too narrow."""

from __future__ import annotations

import sys
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd

TABLE = pd.read_csv(files("pinscar.stats").joinpath("data/own_ratio_coverage.csv"), comment="#")
BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"


def test_every_cell_is_there_with_four_thousand_campaigns() -> None:
    assert len(TABLE) == 3 * 2 * 19
    assert set(TABLE["n"]) == {3, 4, 5}
    assert (TABLE["campaigns"] >= 4000).all()


def test_no_cell_covers_two_points_less_than_it_says() -> None:
    assert (TABLE["coverage"] >= 0.93).all()
    drawn = TABLE["campaigns"] * TABLE["intervals"]
    assert (TABLE["coverage"] >= 0.95 - 3.0 * np.sqrt(0.95 * 0.05 / drawn)).all()


def test_either_end_is_wrong_at_most_as_often_as_allowed() -> None:
    chance = 3.0 * np.sqrt(0.025 * 0.975 / TABLE["campaigns"])
    assert (TABLE["low_above"] <= 0.025 + chance).all()
    assert (TABLE["high_below"] <= 0.025 + chance).all()


def test_the_script_makes_a_row_again(monkeypatch) -> None:
    monkeypatch.setattr(sys, "path", [str(BENCHMARKS), *sys.path])
    from own_ratio_coverage_table import row

    made = row((3, 3), 3.0, 0.3, 0.5, 4000)
    shipped = TABLE.query("n == 3 and spread == 3 and censored_share == 0.3 and limit_scatter == 0.5")
    assert float(made[7]) == float(shipped["coverage"].iloc[0])

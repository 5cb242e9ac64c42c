"""The shipped table of coverage in random blocks: every cell holds what it says, within its chance."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pandas as pd

TABLE = pd.read_csv(files("pinscar.stats").joinpath("data/block_coverage.csv"), comment="#")


def test_every_layout_is_there_and_none_covers_too_little() -> None:
    assert len(TABLE) == 18
    assert set(TABLE["kind"]) == {"median", "ratio", "one spread"}
    assert (TABLE["campaigns"] >= 2000).all()
    drawn = TABLE["campaigns"] * TABLE["intervals"]
    chance = 2.5 * np.sqrt(0.95 * 0.05 / drawn)
    assert (TABLE["coverage"] >= 0.95 - chance).all()


def test_wrong_ends_and_intervals_add_up() -> None:
    held = TABLE["intervals"] * TABLE["coverage"] + TABLE["low_above"] + TABLE["high_below"]
    assert np.allclose(held, TABLE["intervals"], atol=2e-4)


def test_wrong_met_at_the_limit_is_rare_over_all_cells() -> None:
    """A film pressure "at least" is wrongly met where the low end lies above the truth: 2.5 % is allowed."""
    share = TABLE["low_above"].mean()
    assert share <= 0.025 + 2.0 * np.sqrt(0.025 * 0.975 / TABLE["campaigns"].sum())

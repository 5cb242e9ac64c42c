"""The shipped table of coverage of the least dose: every form is there, and near what it says."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pandas as pd

TABLE = pd.read_csv(files("pinscar.stats").joinpath("data/dose_coverage.csv"), comment="#")


def test_every_form_is_there_with_and_without_scatter_bounds_and_campaigns() -> None:
    assert len(TABLE) == 14
    assert (TABLE[TABLE["campaigns"] == 1].groupby("form").size() == 4).all()
    assert (TABLE["studies"] >= 500).all()


def test_in_one_campaign_coverage_is_within_two_points_and_chance() -> None:
    one = TABLE[TABLE["campaigns"] == 1]
    chance = np.sqrt(0.95 * 0.05 / one["studies"])
    assert (abs(one["coverage"] - 0.95) <= 0.02 + chance).all()


def test_over_campaigns_no_interval_covers_too_little() -> None:
    several = TABLE[TABLE["campaigns"] == 3]
    chance = np.sqrt(0.95 * 0.05 / several["studies"])
    assert (several["coverage"] >= 0.93 - chance).all()

"""Ratios with bounds where hardly a run tells the spread."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.choose_censored import fitted


@pytest.mark.parametrize("pooled", [True, False])
@pytest.mark.parametrize("blocks", [None, {"R": [1, 2], "C": [1, 2]}])
def test_one_uncensored_run_in_each_group_tells_no_spread_and_so_no_interval(pooled, blocks):
    values = {"R": [100.0, 110.0], "C": [80.0, 85.0]}
    masks = {name: np.array([False, True]) for name in values}
    found = fitted(values, masks, "R", 1, 0.95, blocks, 0.0, pooled)["C"]
    assert (found.low, found.high, found.p) == (None, None, None)
    assert "spread is unknown" in found.note

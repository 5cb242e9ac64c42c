"""Ranks and their correlation against SciPy's, which counts out ties in a way of its own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.ranks import rank_correlation, ranked


@pytest.mark.parametrize("seed", range(40))
def test_ranks_and_correlation_are_those_of_a_reference_library(seed):
    rng = np.random.default_rng(seed)
    size = int(rng.integers(4, 30))
    x = np.append(rng.integers(0, 6, size - 2), [6, 7]).astype(float)
    y = np.round(rng.normal(size=size), int(rng.integers(1, 4)))
    assert ranked(x).tolist() == stats.rankdata(x).tolist()
    r, p = rank_correlation(x, y)
    told = stats.spearmanr(x, y)
    assert [r, p] == pytest.approx([told.statistic, told.pvalue], rel=1e-9, abs=1e-12)


def test_numbers_in_the_same_order_agree_wholly():
    assert rank_correlation([1.0, 2.0, 4.0], [10.0, 20.0, 21.0]) == (1.0, 0.0)
    assert rank_correlation([1.0, 2.0, 4.0], [3.0, 2.0, 1.0]) == (-1.0, 0.0)

"""Fieller's limits, against independent routes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from pinscar.stats.intervals import mean_ratio

# R's sleep data (data from memory; also Student, Biometrika 6, 1908, table).
FIRST = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SECOND = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_fiellers_limits_are_where_the_t_test_just_rejects() -> None:
    """Fieller, J. R. Stat. Soc. B 16 (1954): the limits solve |mean(x) - theta mean(y)| = t se(theta)."""
    x, y = np.array(FIRST), np.array(SECOND)
    t = stats.t.ppf(0.975, 9)

    def edge(theta: float) -> float:
        error = np.sqrt(x.var(ddof=1) / 10 + theta**2 * y.var(ddof=1) / 10)
        return abs(x.mean() - theta * y.mean()) - t * error

    found = mean_ratio(FIRST, SECOND)
    ratio = x.mean() / y.mean()
    assert found.ratio == pytest.approx(ratio, rel=1e-12, abs=0)
    assert found.low == pytest.approx(optimize.brentq(edge, -5.0, ratio), rel=1e-9, abs=0)
    assert found.high == pytest.approx(optimize.brentq(edge, ratio, 5.0), rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("reference", "words"),
    [
        ([0.0, 1.0], "clearly above zero"),
        ([-3.0, -2.0, -4.0], "clearly above zero"),
        ([2.0, 2.0], "same value"),
    ],
)
def test_no_limits_without_a_reference_to_divide_by(reference: list[float], words: str) -> None:
    found = mean_ratio([1.0, 2.0, 3.0], reference)
    assert (found.ratio, found.low, found.high) == (None, None, None)
    assert words in found.reason

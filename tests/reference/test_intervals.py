"""Tolerance factors and margins against published values.

ISO 16269-6 prints 2.911, 3.394, 4.203, 5.077, 2.396, 2.760 (from memory); NIST/SEMATECH e-Handbook 7.2.6.3
prints 2.217 for (43, 90 %, 99 %), which is Howe's approximation (2.2173), where the exact factor is 2.2228.
Values to four decimals were computed independently, from the noncentral t and the exact integral. Shoe
wear: Box, Hunter and Hunter, Statistics for Experimenters (R package MASS); the ratio's limits were
computed independently.
"""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.intervals import tolerance_interval, two_sided_factor
from pinscar.stats.two_groups import equivalence, noninferiority, paired_t

FACTORS = [
    (43, 0.90, 0.99, 2.2228),
    (10, 0.95, 0.95, 3.3934),
    (5, 0.95, 0.95, 5.0769),
    (20, 0.95, 0.95, 2.7603),
    (30, 0.99, 0.95, 3.3546),
]
SHOES_A = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
SHOES_B = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]


@pytest.mark.parametrize(("n", "content", "confidence", "k"), FACTORS)
def test_tolerance_factors(n: int, content: float, confidence: float, k: float) -> None:
    """Two-sided tolerance factors are those of printed tables."""
    assert two_sided_factor(n, content, confidence) == pytest.approx(k, abs=5e-5)


def test_the_tolerance_interval_uses_the_two_sided_factor() -> None:
    result = tolerance_interval(SHOES_A, 0.95, 0.95, "linear")
    assert (result.high - result.estimate) / result.sd == pytest.approx(3.3934, abs=5e-5)


def test_shoes_are_equivalent_within_ten_per_cent() -> None:
    result = equivalence(paired_t(np.log(SHOES_B), np.log(SHOES_A)), 0.9, 1.1)
    assert (result.ratio, result.low, result.high) == pytest.approx((1.037754, 1.015496, 1.060500), abs=5e-7)
    assert result.shown


def test_shoes_are_not_worse_than_minus_ten_per_cent() -> None:
    result = noninferiority(paired_t(np.log(SHOES_B), np.log(SHOES_A)), 0.10)
    assert result.low == pytest.approx(1.015496, abs=5e-7)
    assert result.shown
    assert not noninferiority(paired_t(np.log(SHOES_B), np.log(SHOES_A)), 0.05, "lower").shown

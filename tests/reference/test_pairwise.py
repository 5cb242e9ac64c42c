"""Two groups and all pairs against published values.

Shoe wear: Box, Hunter and Hunter, Statistics for Experimenters (R package MASS, data set shoes). Sleep:
Student 1908, R data set sleep (data and printed values from memory). Blood counts: Dunnett, JASA 50 (1955)
1096-1121; the Games-Howell and Welch values there were computed independently and agree
with a second library. Studentized range: tables print 3.15 3.88 3.96 4.10 4.60 (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.simultaneous import range_contrast
from pinscar.stats.two_groups import paired_t, pooled_t, welch_t

SHOES_A = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
SHOES_B = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]
SLEEP_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
BLOOD = {
    "control": [7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
    "A": [9.76, 8.80, 7.68, 9.36],
    "B": [12.80, 9.68, 12.16, 9.20, 10.55],
}


def test_shoes_paired() -> None:
    """The shoe example gives the published paired t, p value and limits."""
    result = paired_t(SHOES_A, SHOES_B)
    assert result.statistic == pytest.approx(-3.348877, abs=5e-7)
    assert (result.df, result.estimate) == (9, pytest.approx(-0.41, abs=1e-12))
    assert result.p == pytest.approx(0.00853878, abs=5e-9)
    assert (result.low, result.high) == pytest.approx((-0.686954, -0.133046), abs=5e-7)


def test_shoes_unpaired() -> None:
    """The shoe example gives the published pooled and Welch results."""
    pooled, welch = pooled_t(SHOES_A, SHOES_B), welch_t(SHOES_A, SHOES_B)
    assert (pooled.statistic, pooled.p) == pytest.approx((-0.368911, 0.716498), abs=5e-7)
    assert welch.df == pytest.approx(17.986874, abs=5e-7)
    assert (welch.low, welch.high) == pytest.approx((-2.745046, 1.925046), abs=5e-7)


@pytest.mark.parametrize(
    ("confidence", "low", "high"), [(0.95, 1.010356, 1.065896), (0.90, 1.015496, 1.060500)]
)
def test_shoes_ratio(confidence: float, low: float, high: float) -> None:
    """The shoe example on logarithms gives the published ratio and limits."""
    result = paired_t(np.log(SHOES_B), np.log(SHOES_A), confidence)
    assert np.exp(result.estimate) == pytest.approx(1.037754, abs=5e-7)
    assert (np.exp(result.low), np.exp(result.high)) == pytest.approx((low, high), abs=5e-7)


def test_sleep_welch() -> None:
    """The sleep data give the published Welch t, degrees of freedom, p value and limits."""
    result = welch_t(SLEEP_1, SLEEP_2)
    assert (result.statistic, result.df) == pytest.approx((-1.860813, 17.776474), abs=5e-7)
    assert result.p == pytest.approx(0.0793941, abs=5e-8)
    assert (result.low, result.high) == pytest.approx((-3.365483, 0.205483), abs=5e-7)


@pytest.mark.parametrize(
    ("pair", "t", "df", "p"),
    [
        (("control", "A"), -1.096375, 6.775881, 0.546739),
        (("control", "B"), -3.305314, 6.333034, 0.034960),
        (("A", "B"), -2.383068, 6.533270, 0.112635),
    ],
)
def test_blood_counts_games_howell(pair, t, df, p) -> None:
    """Welch's t of a pair, referred to the studentized range, is Games and Howell's test."""
    welch = welch_t(BLOOD[pair[0]], BLOOD[pair[1]])
    result = range_contrast(welch.estimate, welch.standard_error, welch.df, len(BLOOD), 0.95)
    assert (result.statistic, result.df) == pytest.approx((t, df), abs=5e-7)
    assert result.p == pytest.approx(p, abs=5e-7)


@pytest.mark.parametrize(
    ("groups", "df", "q"),
    [(2, 10, 3.1511), (3, 10, 3.8768), (4, 20, 3.9583), (5, 30, 4.1021), (3, 5, 4.6017)],
)
def test_studentized_range(groups: int, df: int, q: float) -> None:
    """Quantiles of the studentized range are those of printed tables."""
    assert range_contrast(1.0, 1.0, df, groups, 0.95).critical * np.sqrt(2) == pytest.approx(q, abs=5e-5)

"""Modified large sample intervals: exact cases, and coverage by simulation."""

import numpy as np
import pytest
from scipy.stats import chi2, f

from pinscar.stats.reading_study import variance_component


def test_one_mean_square_has_the_exact_chi_square_interval():
    result = variance_component([2.0], [3.0], [7], 0.9)
    assert result.low == pytest.approx(2 * 3 * 7 / chi2.ppf(0.95, 7), rel=1e-9, abs=0)
    assert result.high == pytest.approx(2 * 3 * 7 / chi2.ppf(0.05, 7), rel=1e-9, abs=0)


def test_lower_limit_of_a_difference_reaches_zero_where_the_f_test_does():
    """The cross term is made so that L = 0 exactly at the F quantile."""
    critical = f.ppf(0.975, 5, 20)
    assert variance_component([1, -1], [critical, 1.0], [5, 20]).low == pytest.approx(0.0, abs=1e-6)
    assert variance_component([1, -1], [critical * 1.05, 1.0], [5, 20]).low > 0.0
    assert variance_component([1, -1], [critical * 0.9, 1.0], [5, 20]).low == 0.0


def test_upper_limit_of_a_difference_reaches_zero_where_the_f_test_does():
    critical = f.ppf(0.025, 5, 20)
    assert variance_component([1, -1], [critical, 1.0], [5, 20]).high == pytest.approx(0.0, abs=1e-6)


def test_unit_scales_squared():
    one = variance_component([1, 2, -1], [1, 2, 0.5], [3, 4, 5])
    other = variance_component([1, 2, -1], [1e6, 2e6, 0.5e6], [3, 4, 5])
    assert (other.low, other.high) == pytest.approx((1e6 * one.low, 1e6 * one.high))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("coefficients", "expected", "df"),
    [
        ([1 / 30, 29 / 30], [3.0, 1.0], [2, 78]),
        ([1 / 30, -1 / 30], [3.0, 1.0], [2, 78]),
        ([1 / 9, -1 / 9], [10.0, 1.0], [9, 18]),
        ([1 / 9, 1 / 30, 1 - 1 / 9 - 1 / 30], [10.0, 2.0, 1.0], [9, 2, 78]),
    ],
)
def test_interval_covers_as_often_as_it_says(coefficients, expected, df):
    rng = np.random.default_rng(12)
    squares = np.array(expected) * rng.chisquare(df, (4000, len(df))) / np.array(df)
    truth = float(np.dot(coefficients, expected))
    intervals = [variance_component(coefficients, row, df) for row in squares]
    coverage = np.mean([interval.low <= truth <= interval.high for interval in intervals])
    # 4000 draws: 0.35 % standard error. The method is known to lie slightly over its nominal level.
    assert 0.94 <= coverage <= 0.975


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(([1], [1, 2], [3]), "equal length"), (([1], [-1], [3]), "0 or more"), (([1], [1], [0]), "1 or more"),
     (([1], [1], [3], 1.0), "confidence")],
)  # fmt: skip
def test_misuse_is_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        variance_component(*arguments)

"""The cuts of the profile deviance, and what they do to intervals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pinscar.stats.censored import (
    censoring_shift,
    deviance_cut,
    deviance_p,
    left_censored_median,
    right_censored_median,
)
from pinscar.stats.censored_groups import censored_ratio, fit_censored_groups, ratio_deviance
from pinscar.stats.two_groups import pooled_t

VALUES = [95.0, 102.0, 110.0, 121.0, 99.0]
MASK = [False, True, False, False, False]


def test_chi_square_cut_is_the_quantile() -> None:
    assert deviance_cut(0.9, 5, 1) == pytest.approx(stats.chi2.ppf(0.9, 1), rel=1e-12, abs=0)


def test_student_cut_tends_to_the_chi_square_one() -> None:
    assert deviance_cut(0.95, 10**7, 1, "student") == pytest.approx(deviance_cut(0.95, 5, 1), rel=1e-6, abs=0)
    cuts = [deviance_cut(0.95, n, 1, "student") for n in (3, 5, 8, 20)]
    assert cuts == sorted(cuts, reverse=True)


def test_student_cut_gives_the_pooled_t_interval_with_complete_data() -> None:
    subject, reference = np.array([88.0, 93.0, 86.0]), np.array([100.0, 104.0, 97.0, 108.0])
    groups = fit_censored_groups({"A": subject, "R": reference}, {})
    ours, exact = (
        censored_ratio(groups, "A", "R", 0.9),
        pooled_t(np.log(subject), np.log(reference), 0.9),
    )
    assert (ours.low, ours.high) == pytest.approx((np.exp(exact.low), np.exp(exact.high)), rel=1e-9, abs=0)


def test_the_interval_is_the_calibrated_one_and_the_plain_one_is_kept_for_the_record() -> None:
    for function in (left_censored_median, right_censored_median):
        result = function(VALUES, MASK)
        assert result.low < result.profile_low < result.estimate < result.profile_high < result.high
        assert "calibrated to Student's t" in result.method
        assert result.note is None
    complete = left_censored_median(VALUES, [False] * 5)
    assert (complete.profile_low, complete.profile_high) == (None, None)


def test_more_censored_runs_shift_the_end_further() -> None:
    shifts = [censoring_shift(5, count) for count in range(6)]
    assert shifts[0] == 0.0
    assert shifts == sorted(shifts)
    assert censoring_shift(20, 8) == pytest.approx(censoring_shift(5, 2) / 2)


def test_only_the_ends_that_rest_on_censored_runs_are_shifted() -> None:
    values = {"A": [88.0, 93.0, 86.0, 91.0], "R": [100.0, 104.0, 97.0, 108.0]}
    groups = fit_censored_groups(values, {"A": [False, True, False, False]})
    result = censored_ratio(groups, "A", "R")
    roots = [np.sqrt(ratio_deviance(groups, "A", "R", np.log(end))) for end in (result.low, result.high)]
    student = np.sqrt(8 * np.log1p(stats.t.ppf(0.975, 6) ** 2 / 6))
    assert roots == pytest.approx([student + 6 / 16 / 2, student], rel=1e-7)


@given(st.floats(0.0, 60.0), st.integers(3, 30), st.floats(0.0, 2.0), st.floats(0.5, 0.999))
def test_p_is_the_interval_turned_over(deviance: float, n: int, shift: float, confidence: float) -> None:
    left_out = deviance > deviance_cut(confidence, n, 2, "student", shift)
    p = deviance_p(deviance, n, 2, shift)
    assert (p < 1 - confidence) == left_out or p == pytest.approx(1 - confidence, rel=1e-9)


def test_p_of_complete_data_is_that_of_the_t_test() -> None:
    values = {"A": [88.0, 93.0, 86.0], "R": [90.0, 104.0, 97.0, 108.0]}
    ours = censored_ratio(fit_censored_groups(values, {}), "A", "R").p
    assert ours == pytest.approx(stats.ttest_ind(*(np.log(v) for v in values.values())).pvalue, rel=1e-8)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [((0.95, 5, 1, "normal"), "kind"), ((0.95, 2, 2, "student"), "exceed"), ((1.5, 5, 1), "confidence")],
)
def test_misuse_is_refused(arguments, word) -> None:
    with pytest.raises(ValueError, match=word):
        deviance_cut(*arguments)

"""The cuts of the profile deviance, and what they do to intervals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.censored import left_censored_median, right_censored_median
from pinscar.stats.censored_groups import censored_ratio, fit_censored_groups
from pinscar.stats.deviance_cut import deviance_cut
from pinscar.stats.pairwise import pooled_t
from pinscar.stats.simulated_coverage import coverage_sentence, falls_short, simulated_coverage

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
        censored_ratio(groups, "A", "R", 0.9, "student"),
        pooled_t(np.log(subject), np.log(reference), 0.9),
    )
    assert (ours.low, ours.high) == pytest.approx((np.exp(exact.low), np.exp(exact.high)), rel=1e-9, abs=0)


def test_student_cut_widens_the_interval_and_is_named() -> None:
    for function in (left_censored_median, right_censored_median):
        plain, student = function(VALUES, MASK), function(VALUES, MASK, cut="student")
        assert student.low < plain.low < plain.estimate == student.estimate < plain.high < student.high
        assert "calibrated to Student's t" in student.method
        assert "calibrated" not in plain.method


def test_the_note_states_the_simulated_coverage() -> None:
    low, high = simulated_coverage("median", 5, 0.2, 0.95)
    note = left_censored_median(VALUES, MASK).note
    assert f"{100 * low:.0f} to {100 * high:.0f} % of campaigns, where 95 % is asked for" in note
    low, high = simulated_coverage("median", 5, 0.2, 0.95, "student")
    assert f"{100 * low:.0f}" in left_censored_median(VALUES, MASK, cut="student").note


def test_the_note_tells_how_far_the_calibrated_limits_lie() -> None:
    plain, student = left_censored_median(VALUES, MASK), left_censored_median(VALUES, MASK, cut="student")
    if falls_short("median", 5, 0.2, 0.95):
        assert f"{100 * (1 - student.low / plain.low):.2g} % lower" in plain.note
    else:
        assert "calibrated" not in plain.note


def test_the_note_says_where_nothing_was_simulated() -> None:
    values, mask = np.linspace(90, 120, 12), np.arange(12) == 3
    assert "was not simulated" in left_censored_median(values, mask).note
    assert "was not simulated" in coverage_sentence("ratio", 5, 0.4, 0.93)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [((0.95, 5, 1, "normal"), "kind"), ((0.95, 2, 2, "student"), "exceed"), ((1.5, 5, 1), "confidence")],
)
def test_misuse_is_refused(arguments, word) -> None:
    with pytest.raises(ValueError, match=word):
        deviance_cut(*arguments)

"""Outlier tests: levels, relations and edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.outliers import generalised_esd, grubbs
from pinscar.stats.precision import cochran

values = st.lists(st.integers(-100, 100).map(float), min_size=3, max_size=12)


@given(values, st.floats(0.1, 100), st.floats(-100, 100))
def test_origin_and_unit_do_not_matter(data, scale, shift):
    one, other = grubbs(data), grubbs([scale * v + shift for v in data])
    if one.statistic is None:
        return
    assert other.statistic == pytest.approx(one.statistic, rel=1e-6, abs=0)


@given(values)
def test_flag_and_probability_say_the_same(data):
    result = grubbs(data, 0.1)
    if result.p is not None and abs(result.p - 0.1) > 1e-9:
        assert result.flagged == (result.p < 0.1)


@given(values)
def test_first_step_of_esd_is_grubbs(data):
    one, other = grubbs(data), generalised_esd(data, 1)
    if one.statistic is not None:
        assert other.statistics[0] == pytest.approx(one.statistic, rel=1e-9, abs=0)
        assert other.criticals[0] == pytest.approx(one.critical, rel=1e-9, abs=0)


def test_grubbs_holds_its_level():
    rng = np.random.default_rng(3)
    flags = [grubbs(rng.standard_normal(6), 0.05, "high").flagged for _ in range(6000)]
    assert np.mean(flags) == pytest.approx(0.05, abs=0.009)


def test_low_and_high_look_at_their_own_end():
    data = [0.0, 10.0, 10.1, 9.9, 10.05]
    assert grubbs(data, side="low").index == 0
    assert grubbs(data, side="high").index == 2
    assert grubbs(data, side="low").flagged
    assert not grubbs(data, side="high").flagged


def test_too_few_or_equal_values_give_a_reason_instead_of_a_flag():
    assert grubbs([1.0, 2.0]).note == "Fewer than three values: no outlier test."
    assert grubbs([1.0, 1.0, 1.0]).note == "All values equal: no test."


def test_esd_stops_where_the_values_run_out_and_says_so():
    result = generalised_esd([1.0, 1.1, 0.9, 1.05], 5)
    assert len(result.statistics) == 2
    assert result.note == "4 values allow 2 steps."


def test_esd_holds_its_level():
    rng = np.random.default_rng(4)
    found = [generalised_esd(rng.standard_normal(25), 3).n_outliers > 0 for _ in range(4000)]
    # Rosner found the level near nominal at this size; 4000 draws leave 0.35 %.
    assert 0.035 <= np.mean(found) <= 0.065


def test_cochran_holds_its_level_for_unequal_groups():
    rng = np.random.default_rng(5)
    sizes = {"A": 3, "B": 5, "C": 2, "D": 4}
    flags = [cochran({k: rng.standard_normal(n) for k, n in sizes.items()}).flagged for _ in range(6000)]
    assert np.mean(flags) == pytest.approx(0.05, abs=0.009)


def test_cochran_points_at_the_group_that_varies():
    groups = {"A": [1.0, 1.1, 0.9, 1.0], "B": [5.0, 5.1, 4.9, 5.05], "C": [3.0, 5.0, 1.0, 4.0]}
    result = cochran(groups)
    assert (result.group, result.flagged, result.note) == ("C", True, None)


def test_cochran_needs_groups_that_vary():
    assert "fewer than two" in cochran({"A": [1.0, 2.0], "B": [1.0]}).note
    assert "no group varies" in cochran({"A": [1.0, 1.0], "B": [2.0, 2.0]}).note
    assert "differ in size" in cochran({"A": [1.0, 2.0], "B": [1.0, 2.0, 4.0]}).note


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: grubbs([1.0, np.nan, 2.0]), "finite"),
        (lambda: grubbs([1.0, 2.0, 4.0], side="up"), "side"),
        (lambda: grubbs([1.0, 2.0, 4.0], alpha=0.0), "level"),
        (lambda: generalised_esd([1.0, 2.0, 3.0], 0), "max_outliers"),
        (lambda: cochran({"A": [1.0]}, alpha=2.0), "alpha"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()

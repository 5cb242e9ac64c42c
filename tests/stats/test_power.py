"""Noncentral t, power, planning, further repeats and looks: limits, relations and simulation."""

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import nctdtr, stdtr

from pinscar.stats.power import (
    detectable_ratio,
    family_alpha,
    further_repeats_to_settle,
    look_penalty,
    noncentral_t_power,
    noncentral_t_tail,
    ratio_power,
    repeats_for_ratio,
    t_test_power,
    upper_sd,
)


@pytest.mark.parametrize("df", [1, 2, 4.5, 10, 29, 30, 31, 200, 1e5])
def test_without_noncentrality_it_is_students_t(df):
    t = np.array([0.5, 2.0, 5.0])
    assert noncentral_t_tail(t, df, 0.0) == pytest.approx(stdtr(df, -t), rel=1e-9, abs=0)


@pytest.mark.parametrize("df", [2, 5, 12, 29.9, 30.1, 80])
def test_scipy_agrees_where_it_gives_a_number(df):
    delta = np.linspace(-2, 6, 17)
    other = 1.0 - nctdtr(df, delta, 2.3)
    assert np.all(np.isfinite(other))
    assert noncentral_t_tail(2.3, df, delta) == pytest.approx(other, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("t", "df", "delta"), [(2.0, 1, 7.6), (12.7, 1, 30.0), (2.57, 5, 53.0), (2.2, 10, -7.0)]
)
def test_twenty_digits_agree_where_library_series_give_out(t, df, delta):
    with mpmath.workdps(20):

        def density(z):
            return mpmath.npdf(z) * mpmath.gammainc(
                df / 2, 0, df * ((z + delta) / t) ** 2 / 2, regularized=True
            )

        start = max(-delta, -10)
        exact = mpmath.quad(density, [start + 2 * k for k in range(11)], maxdegree=4)
    assert float(noncentral_t_tail(t, df, delta)) == pytest.approx(float(exact), rel=1e-9, abs=1e-15)


@given(st.floats(1, 500), st.floats(0, 200), st.floats(1e-5, 0.4))
@settings(deadline=None)
def test_power_is_a_probability_of_at_least_the_level(df, delta, alpha):
    power = float(noncentral_t_power(df, delta, alpha))
    assert alpha - 1e-9 <= power <= 1 + 1e-9


def test_power_agrees_with_simulation():
    rng = np.random.default_rng(4)
    a, b = rng.normal(0, 1, (100_000, 4)), rng.normal(1.8, 1, (100_000, 4))
    t = (b.mean(1) - a.mean(1)) / np.sqrt((a.var(1, ddof=1) + b.var(1, ddof=1)) / 4)
    shown = np.mean(2 * stdtr(6, -np.abs(t)) < 0.05)
    assert float(t_test_power(4, 1.8)) == pytest.approx(shown, abs=0.005)


def test_detectable_ratio_is_the_inverse_of_power():
    ratio = detectable_ratio(6, 0.12, 0.85, comparisons=3)
    assert float(ratio_power(6, ratio, 0.12, comparisons=3)) == pytest.approx(0.85, abs=1e-9)
    assert float(ratio_power(6, 1 / ratio, 0.12, comparisons=3)) == pytest.approx(0.85, abs=1e-9)


@given(st.floats(1.05, 3), st.floats(0.02, 0.5))
@settings(max_examples=40, deadline=None)
def test_repeats_are_the_smallest_that_do(ratio, log_sd):
    plan = repeats_for_ratio(ratio, log_sd)
    if plan.repeats is None:
        assert float(ratio_power(200, ratio, log_sd)) < 0.8
    else:
        assert plan.power >= 0.8
        assert plan.repeats == 2 or float(ratio_power(plan.repeats - 1, ratio, log_sd)) < 0.8


# C. W. Dunnett, 1955: two-sided 5 % critical values (comparisons, df, value).
@pytest.mark.parametrize(("m", "df", "critical"), [(2, 10, 2.568), (4, 10, 2.890), (3, 20, 2.540)])
def test_family_level_errs_a_little_on_the_safe_side_of_dunnett(m, df, critical):
    exact = 2 * stdtr(df, -critical)
    assert 0.75 * exact < family_alpha(0.05, m) < exact


def test_more_candidates_need_more_repeats_for_the_level_and_fewer_for_the_spread():
    one, three = (repeats_for_ratio(1.2, 0.15, comparisons=m).repeats for m in (1, 3))
    assert one < three
    # With two runs each the shared spread outweighs the stricter level.
    assert float(ratio_power(2, 3.0, 0.2, comparisons=4)) > float(ratio_power(2, 3.0, 0.2))


def test_upper_sd_covers_as_often_as_it_says():
    rng = np.random.default_rng(6)
    pilots = np.sqrt(rng.chisquare(8, 20_000) / 8)
    factor = upper_sd(1.0, 8, 0.8)
    assert np.mean(pilots * factor > 1.0) == pytest.approx(0.8, abs=0.01)


def test_further_repeats_settle_as_often_as_promised():
    n, sd, estimate, limit = 5, 0.10, 128.0, 120.0
    m = further_repeats_to_settle(n, sd, estimate, limit, 0.95)
    rng = np.random.default_rng(7)

    def share(total):
        logs = rng.normal(math.log(estimate), sd, (40_000, total))
        from scipy.special import stdtrit

        half = stdtrit(total - 1, 0.975) * logs.std(1, ddof=1) / math.sqrt(total)
        return np.mean(logs.mean(1) - half > math.log(limit))

    assert share(n + m) > 0.795
    assert share(n + m - 1) < 0.805


def test_further_repeats_for_a_ratio_settle_as_often_as_promised():
    m = further_repeats_to_settle(4, 0.15, 0.75, 0.9, 0.95, n_reference=6)
    rng = np.random.default_rng(8)
    from scipy.special import stdtrit

    a, b = rng.normal(math.log(0.75), 0.15, (40_000, 4 + m)), rng.normal(0, 0.15, (40_000, 6 + m))
    df = 8 + 2 * m
    pooled = ((3 + m) * a.var(1, ddof=1) + (5 + m) * b.var(1, ddof=1)) / df
    half = stdtrit(df, 0.975) * np.sqrt(pooled * (1 / (4 + m) + 1 / (6 + m)))
    settled = np.mean(a.mean(1) - b.mean(1) + half < math.log(0.9))
    assert 0.795 < settled < 0.9


def test_further_repeats_do_not_depend_on_side_or_unit():
    base = further_repeats_to_settle(5, 0.1, 1.08, 1.0, 0.95)
    assert further_repeats_to_settle(5, 0.1, 108e6, 100e6, 0.95) == base
    assert further_repeats_to_settle(5, 0.1, 1.0, 1.08, 0.95) == base
    assert further_repeats_to_settle(5, 0.1, math.log(1.08), 0.0, 0.95, scale="linear") == base


def test_more_comparisons_need_more_further_repeats():
    one = further_repeats_to_settle(4, 0.15, 0.8, 0.9, 0.95, n_reference=4)
    assert further_repeats_to_settle(4, 0.15, 0.8, 0.9, 0.95, n_reference=4, comparisons=4) > one


def test_an_estimate_at_the_limit_is_never_settled():
    assert further_repeats_to_settle(5, 0.1, 1.0, 1.0, 0.95) is None
    assert further_repeats_to_settle(5, 0.1, 1.05, 1.0, 0.95, most=3) is None


def test_one_look_has_no_penalty():
    penalty = look_penalty([6], n_simulations=40_000)
    assert penalty.actual_alpha == pytest.approx(0.05, abs=0.004)
    assert penalty.statement.endswith("no penalty.")


def test_adding_one_run_at_a_time_costs_more_than_one_look_more():
    many, few = look_penalty([4, 5, 6, 7, 8]), look_penalty([4, 8])
    assert many.actual_alpha > few.actual_alpha > 0.06
    assert many.alpha_per_look < few.alpha_per_look < 0.05
    assert "4, 5, 6, 7 and 8 runs" in many.statement


def test_level_per_look_restores_the_level():
    per_look = look_penalty([5, 8], n_simulations=40_000, seed=1).alpha_per_look
    assert look_penalty([5, 8], per_look, 40_000, seed=2).actual_alpha == pytest.approx(0.05, abs=0.004)


def test_seed_decides_the_simulation():
    assert look_penalty([4, 6], n_simulations=2000, seed=3) == look_penalty(
        [4, 6], n_simulations=2000, seed=3
    )
    assert look_penalty([4, 6], n_simulations=2000, seed=3) != look_penalty(
        [4, 6], n_simulations=2000, seed=4
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: noncentral_t_tail(-1.0, 5, 0.0), "positive"),
        (lambda: noncentral_t_tail(1.0, 0.5, 0.0), "at least 1"),
        (lambda: noncentral_t_power(5, 1.0, 0.05, "both"), "two-sided or one-sided"),
        (lambda: t_test_power(1, 1.0), "over 1"),
        (lambda: t_test_power(5, 1.0, design="crossover"), "design"),
        (lambda: ratio_power(5, -1.0, 0.1), "positive"),
        (lambda: repeats_for_ratio(1.0, 0.1), "difference"),
        (lambda: detectable_ratio(5, 0.1, power=0.01), "power"),
        (lambda: family_alpha(0.05, 0), "at least one"),
        (lambda: upper_sd(0.0, 5), "out of range"),
        (lambda: further_repeats_to_settle(5, 0.0, 1.1, 1.0, 0.95), "out of range"),
        (lambda: further_repeats_to_settle(5, 0.1, -1.1, 1.0, 0.95), "log scale"),
        (lambda: look_penalty([5, 5]), "rise"),
        (lambda: look_penalty([5, 8], n_simulations=10), "at least 1000"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()

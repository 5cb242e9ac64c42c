"""Power with censored runs: the uncensored limit, a second optimiser, and what censoring costs."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import log_ndtr
from scipy.stats import norm

from pinscar.stats.censored_power import (
    censored_power,
    ratio_roots,
    repeats_for_censored_ratio,
    separated,
)
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.power import ratio_power, repeats_for_ratio


def one_by_one(values, censored, design):
    """Largest log likelihood of one campaign by a derivative-free search in mean and log sd."""

    def lack(parameters):
        sd = math.exp(parameters[-1])
        u = (values - design @ parameters[:-1]) / sd
        return -np.sum(np.where(censored, log_ndtr(u), -(u**2) / 2 - math.log(sd)))

    start = np.append(np.linalg.lstsq(design, values, rcond=None)[0], 0.0)
    options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 20_000, "maxfev": 20_000}
    best = minimize(lack, start, method="Nelder-Mead", options=options)
    return -minimize(lack, best.x, method="Nelder-Mead", options=options).fun


def test_batch_agrees_with_a_search_one_by_one():
    rng = np.random.default_rng(3)
    second = np.arange(10) >= 5
    film, reached = rng.normal(0, 1, (12, 10)) + second, rng.normal(-0.3, 0.5, (12, 10))
    censored = film < reached
    values = np.where(censored, reached, film)
    statistics = ratio_roots(values, censored, second) ** 2
    for row in range(12):
        if censored[row, :5].all() or censored[row, 5:].all():
            continue
        apart = one_by_one(values[row], censored[row], np.stack([~second, second], 1).astype(float))
        together = one_by_one(values[row], censored[row], np.ones((10, 1)))
        assert statistics[row] == pytest.approx(2 * (apart - together), abs=1e-6)


def test_without_censoring_it_is_the_t_test():
    from scipy.stats import ttest_ind

    rng = np.random.default_rng(4)
    values = rng.normal(0, 1, (50, 8))
    second = np.arange(8) >= 4
    t = ttest_ind(values[:, 4:], values[:, :4], axis=1).statistic
    roots = ratio_roots(values, np.zeros((50, 8), bool), second)
    assert roots**2 == pytest.approx(8 * np.log1p(t**2 / 6), rel=1e-6, abs=1e-8)


def test_origin_and_unit_do_not_matter():
    rng = np.random.default_rng(5)
    values = rng.normal(0, 1, (20, 8))
    censored = rng.random((20, 8)) < 0.3
    second = np.arange(8) >= 4
    enough = (~censored[:, :4]).sum(axis=1).clip(max=2) + (~censored[:, 4:]).sum(axis=1).clip(max=2) > 3
    values, censored = values[enough], censored[enough]
    one, other = (ratio_roots(v, censored, second) for v in (values, 1e3 * values + 7e3))
    assert other == pytest.approx(one, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(("n", "ratio"), [(4, 1.5), (8, 0.8)])
def test_uncensored_limit_is_the_exact_power(n, ratio):
    result = censored_power(n, ratio, 0.15, 0.0, n_simulations=20_000)
    exact = float(ratio_power(n, ratio, 0.15, spread="own"))
    assert result.power == pytest.approx(exact, abs=3.0 * math.sqrt(0.25 / 20_000))
    assert result.undecidable == 0.0


def test_censoring_costs_power_and_more_of_it_costs_more():
    powers = [censored_power(6, 0.75, 0.15, share).power for share in (0.0, 0.3, 0.6)]
    assert powers[0] > powers[1] + 0.02 > powers[2] + 0.04


def test_a_weaker_candidate_is_censored_more_often():
    weaker, stronger = censored_power(5, 0.8, 0.15, 0.3), censored_power(5, 1.25, 0.15, 0.3)
    assert weaker.censored_candidate > 0.3 > stronger.censored_candidate


def test_level_is_kept_under_censoring():
    assert 0.01 < censored_power(5, 1.0, 0.15, 0.4, n_simulations=20_000).power < 0.053
    pooled = censored_power(5, 1.0, 0.15, 0.4, n_simulations=20_000, pooled=True)
    assert 0.02 < pooled.power < 0.056


def drawn(rng, n, ratio, share, others):
    """One campaign of film pressures, drawn without the planner's code."""
    level = norm.ppf(share) * math.hypot(1.0, 0.5)
    values, hidden = {}, {}
    for name, median in {"R": 1.0, "C": ratio, **{f"O{i}": 1.0 for i in range(others)}}.items():
        film = median * np.exp(0.15 * rng.standard_normal(n))
        reached = np.exp(0.15 * (level + 0.5 * rng.standard_normal(n)))
        values[name], hidden[name] = np.maximum(film, reached), film < reached
    return values, hidden


@pytest.mark.parametrize(
    ("n", "ratio", "share", "others", "pooled"),
    [
        (4, 1.4, 0.4, 0, True),
        (7, 0.75, 0.1, 0, True),
        (5, 1.3, 0.5, 2, True),
        (3, 1.5, 0.3, 0, False),
        (5, 1.3, 0.5, 0, False),
        (3, 1.4, 0.02, 0, False),
        (4, 1.4, 0.0, 0, False),
        (4, 1.3, 0.0, 2, False),
        (4, 1.3, 0.03, 2, True),
    ],
)
def test_the_planner_judges_each_campaign_as_the_report_does(n, ratio, share, others, pooled):
    rng = np.random.default_rng(21)
    campaigns = [drawn(rng, n, ratio, share, others) for _ in range(30)]
    results = [compare_with_reference(v, "R", left_censored=h, pooled=pooled)[0] for v, h in campaigns]
    shown = [not (r.low or 0.0) <= 1.0 <= (r.high or math.inf) for r in results]
    values, hidden = (np.array([list(c[side].values()) for c in campaigns]) for side in (0, 1))
    ours, judged = separated(np.log(values), hidden, 0.95, pooled)
    assert ours.tolist() == shown
    assert judged.tolist() == [r.low is not None or r.high is not None for r in results]
    assert 0 < sum(shown) < 30


@pytest.mark.slow
@pytest.mark.parametrize(
    ("n", "ratio", "share", "others", "pooled"),
    [(4, 1.4, 0.4, 0, True), (6, 0.75, 0.5, 0, True), (5, 1.4, 0.3, 2, True), (4, 1.4, 0.4, 0, False)],
)
def test_the_stated_power_is_what_the_report_achieves(n, ratio, share, others, pooled):
    stated = censored_power(
        n, ratio, 0.15, share, comparisons=others + 1, n_simulations=20_000, pooled=pooled
    ).power
    rng = np.random.default_rng(22)
    shown = 0
    for _ in range(1000):
        values, hidden = drawn(rng, n, ratio, share, others)
        result = compare_with_reference(values, "R", left_censored=hidden, pooled=pooled)[0]
        shown += not (result.low or 0.0) <= 1.0 <= (result.high or math.inf)
    error = math.sqrt(stated * (1.0 - stated) * (1 / 1000 + 1 / 20_000))
    assert shown / 1000 == pytest.approx(stated, abs=3.0 * error)


def test_repeats_grow_with_censoring():
    free = repeats_for_ratio(1.4, 0.15, spread="own").repeats
    few = repeats_for_censored_ratio(1.4, 0.15, 0.0)
    many = repeats_for_censored_ratio(1.4, 0.15, 0.6)
    assert abs(few.repeats - free) <= 1
    assert many.repeats > few.repeats
    assert many.power >= 0.8


def test_a_hopeless_difference_has_no_repeats():
    result = repeats_for_censored_ratio(1.01, 0.3, 0.5, most=10, n_simulations=1000)
    assert (result.repeats, result.power) == (None, None)


def test_the_same_seed_gives_the_same_power():
    assert censored_power(4, 0.7, 0.15, 0.3, seed=9) == censored_power(4, 0.7, 0.15, 0.3, seed=9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: censored_power(1, 0.7, 0.15, 0.3), "out of range"),
        (lambda: censored_power(5, 0.7, 0.15, 1.0), "censored_fraction"),
        (lambda: censored_power(5, 0.7, 0.15, 0.3, n_simulations=10), "n_simulations"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()

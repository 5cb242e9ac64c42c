"""Mixture models: other routes to the same numbers, pseudo-components, aliases, campaigns, censored films."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from pinscar.stats.batch_model import fit_mixed
from pinscar.stats.mixture import (
    BlendRuns,
    component_effects,
    fit_mixture,
    lack_of_fit,
    leave_one_blend_out,
    predict_blend,
)
from pinscar.stats.mixture_terms import estimable, is_inside, lowest_of
from pinscar.stats.random_blocks import BlockedRuns, likelihood_of_means

ADDITIVES = np.array([[0, 0], [1, 0], [2, 0], [3, 0], [0, 1], [0, 2], [1, 1], [2, 1], [1.5, 2]]) / 100.0
SHARES = np.column_stack([1.0 - ADDITIVES.sum(axis=1), ADDITIVES])
NAMES = ("base", "AW-1", "FM-2")


def blends(seed: int, *, repeats: int = 4, tau: float = 0.03, censored: float = 0.0, campaigns: int = 1):
    rng = np.random.default_rng(seed)
    batch = np.repeat(np.arange(9), repeats)
    campaign = np.tile(np.arange(repeats), 9) % campaigns
    truth = 4.2 + 12.0 * SHARES[:, 1] + 5.0 * SHARES[:, 2]
    logs = truth[batch] + tau * rng.standard_normal(9)[batch] + 0.07 * rng.standard_normal(batch.size)
    logs += 0.05 * rng.standard_normal(campaigns)[campaign] * (campaigns > 1)
    return BlendRuns(
        logs=logs,
        left_censored=rng.random(batch.size) < censored,
        batches=batch,
        campaigns=campaign,
        shares=SHARES,
        names=NAMES,
    )


def test_a_balanced_study_is_a_regression_of_batch_means():
    runs = blends(1, tau=0.1)
    fit = fit_mixture(runs, 1)
    means = np.bincount(runs.batches, runs.logs) / 4
    model = sm.OLS(means, fit.row(SHARES)).fit()
    assert fit.coefficients == pytest.approx(model.params, rel=1e-8)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(model.bse, rel=1e-4)
    assert fit.df == model.df_resid
    found = predict_blend(fit, SHARES[3])
    assert (found.low, found.high) == pytest.approx(
        tuple(model.get_prediction(fit.row([SHARES[3]])).conf_int()[0]), rel=1e-5
    )


def test_pseudo_components_change_coefficients_and_no_prediction():
    runs = blends(2)
    fit = fit_mixture(runs, 2)
    assert fit.is_pseudo
    assert lowest_of(SHARES).tolist() == [0.965, 0.0, 0.0]
    design = np.column_stack(
        [SHARES, SHARES[:, 0] * SHARES[:, 1], SHARES[:, 0] * SHARES[:, 2], SHARES[:, 1] * SHARES[:, 2]]
    )
    plain = fit_mixed(runs.logs, design[runs.batches], runs.batches, runs.campaigns)
    x = np.array([0.975, 0.015, 0.01])
    row = np.array([*x, x[0] * x[1], x[0] * x[2], x[1] * x[2]])
    assert predict_blend(fit, x).log == pytest.approx(float(row @ plain.coefficients), abs=1e-8)


def test_order_of_runs_and_of_components_does_not_matter():
    runs = blends(3)
    turn = np.random.default_rng(0).permutation(runs.logs.size)
    mixed = BlendRuns(
        logs=runs.logs[turn],
        left_censored=runs.left_censored[turn],
        batches=runs.batches[turn],
        campaigns=runs.campaigns[turn],
        shares=SHARES[:, ::-1],
        names=NAMES[::-1],
    )
    one, other = (
        predict_blend(fit_mixture(runs, 2), SHARES[4]),
        predict_blend(fit_mixture(mixed, 2), SHARES[4][::-1]),
    )
    assert (one.log, one.low) == pytest.approx((other.log, other.low), abs=1e-6)


def test_random_campaigns_are_at_the_maximum_of_the_restricted_likelihood():
    runs = blends(4, campaigns=4, repeats=8, tau=0.15)
    design = SHARES[runs.batches] * 100.0
    ours = fit_mixed(runs.logs, design, runs.batches, runs.campaigns)
    # the restricted likelihood written out with a dense covariance, and no better value nearby
    best = _restricted(runs, design, ours.sigma, ours.batch_sigma, ours.campaign_sigma)
    assert ours.log_likelihood == pytest.approx(best, abs=1e-6)
    for way in ([1.05, 1, 1], [1, 1.1, 1], [1, 1, 1.2], [0.95, 1, 1], [1, 0.9, 1], [1, 1, 0.8]):
        sds = np.array([ours.sigma, ours.batch_sigma, ours.campaign_sigma]) * way
        assert _restricted(runs, design, *sds) <= best + 1e-9


def _restricted(runs: BlendRuns, x: np.ndarray, sigma: float, tau: float, kappa: float) -> float:
    z = (runs.batches[:, None] == np.arange(9)).astype(float)
    w = (runs.campaigns[:, None] == np.arange(4)).astype(float)
    v = sigma**2 * np.eye(runs.logs.size) + tau**2 * z @ z.T + kappa**2 * w @ w.T
    inverse = np.linalg.inv(v)
    beta = np.linalg.solve(x.T @ inverse @ x, x.T @ inverse @ runs.logs)
    rest = runs.logs - x @ beta
    n, p = x.shape
    return -0.5 * (
        (n - p) * np.log(2 * np.pi)
        + np.linalg.slogdet(v)[1]
        + np.linalg.slogdet(x.T @ inverse @ x)[1]
        + rest @ inverse @ rest
    )


def test_censored_runs_are_at_the_maximum_of_their_likelihood():
    runs = blends(5, censored=0.2, tau=0.08)
    fit = fit_mixture(runs, 1)
    assert fit.n_censored > 3
    data = BlockedRuns(runs.logs, runs.left_censored, fit.row(SHARES)[runs.batches], runs.batches)
    rng = np.random.default_rng(1)
    for _ in range(20):
        other = fit.coefficients + 0.01 * rng.standard_normal(3)
        value, _ = likelihood_of_means(data, data.design @ other, np.log(fit.sigma * 0.98), fit.batch_sigma)
        assert value < fit.log_likelihood


def test_campaigns_are_random_with_censored_runs_too():
    # a bound far above everything tells nothing: what is left is the model of complete runs, in which
    # campaigns are random
    whole = blends(4, campaigns=4, repeats=8, tau=0.15)
    plain = fit_mixture(whole, 1)
    bound = BlendRuns(
        logs=np.append(whole.logs, 9.0),
        left_censored=np.append(whole.left_censored, True),
        batches=np.append(whole.batches, whole.batches[-1]),
        campaigns=np.append(whole.campaigns, whole.campaigns[-1]),
        shares=whole.shares,
        names=whole.names,
    )
    found = fit_mixture(bound, 1)
    assert found.n_censored == 1
    assert found.campaign_sigma == pytest.approx(plain.campaign_sigma, rel=0.05)
    assert found.coefficients == pytest.approx(plain.coefficients, abs=0.1 * np.sqrt(plain.covariance[0, 0]))
    assert np.diag(found.covariance) == pytest.approx(np.diag(plain.covariance), rel=0.05)


def test_a_bound_far_off_is_as_good_as_no_run():
    none = blends(6, tau=0.08)
    high = none.logs.copy()
    high[0] = 9.0  # known only to lie below something far off: as good as not there
    one = BlendRuns(
        logs=high,
        left_censored=np.arange(36) == 0,
        batches=none.batches,
        campaigns=none.campaigns,
        shares=SHARES,
        names=NAMES,
    )
    left = BlendRuns(
        logs=none.logs[1:],
        left_censored=np.zeros(35, bool),
        batches=none.batches[1:],
        campaigns=none.campaigns[1:],
        shares=SHARES,
        names=NAMES,
    )
    near, far = fit_mixture(one, 1), fit_mixture(left, 1)
    # maximum likelihood weighs the batches a little differently than restricted likelihood
    assert near.coefficients == pytest.approx(far.coefficients, abs=0.01)
    assert np.diag(near.covariance) == pytest.approx(np.diag(far.covariance), rel=0.1)


def test_aliases_are_named():
    tied = np.column_stack([1 - 3 * ADDITIVES[:4, 0], ADDITIVES[:4, 0], 2 * ADDITIVES[:4, 0]])
    runs = BlendRuns(
        logs=np.array([1.0, 1.1, 1.2, 1.25]),
        left_censored=np.zeros(4, bool),
        batches=np.arange(4),
        campaigns=np.zeros(4, int),
        shares=tied,
        names=NAMES,
    )
    fit = fit_mixture(runs, 1)
    assert len(fit.terms) == 2
    assert fit.inestimable == ("FM-2 moves with AW-1: the blends cannot tell the two apart",)
    assert estimable(np.array([[1.0, 0, 1], [0, 1, 1]]), ["A", "B", "A × B"])[1] == [
        "A × B is a mix of A, B in these blends"
    ]


def test_a_component_that_moves_with_another_is_no_logarithm_of_zero():
    x = np.array([[1.0, 0.0, 0.0], [0.98, 0.01, 0.01], [0.96, 0.02, 0.02]])
    runs = BlendRuns(
        logs=np.array([4.80, 4.84, 4.90, 4.94, 5.01, 5.03]),
        left_censored=np.zeros(6, bool),
        batches=np.repeat(np.arange(3), 2),
        campaigns=np.zeros(6, int),
        shares=x,
        names=NAMES,
    )
    fit = fit_mixture(runs, 1)
    slope = np.polyfit([0.0, 1.0, 2.0], [4.82, 4.92, 5.02], 1)[0]
    # tested blends as ever; the one additive alone carries what the two did together
    assert predict_blend(fit, x[1]).log == pytest.approx(4.92, abs=1e-9)
    assert predict_blend(fit, [0.99, 0.01, 0.0]).log == pytest.approx(4.82 + slope, abs=1e-9)
    # where the two stay in one sum the balance cannot stand for the lost one
    wide = np.array([[0.9, 0.1, 0.0], [0.5, 0.1, 0.4], [0.1, 0.1, 0.8]])
    other = fit_mixture(
        BlendRuns(
            logs=runs.logs,
            left_censored=runs.left_censored,
            batches=runs.batches,
            campaigns=runs.campaigns,
            shares=wide,
            names=NAMES,
        ),
        1,
    )
    assert np.all(np.isfinite(other.coefficients))
    assert predict_blend(other, wide[1]).log == pytest.approx(4.92, abs=1e-9)


def test_fewer_blends_than_terms_keep_what_can_be_told():
    runs = blends(7)
    few = runs
    for blend in (0, 3, 5, 6, 7):
        few = few.without(int(few.blends.min())) if blend == 0 else few.without(int(few.blends.max()))
    fit = fit_mixture(few, 2)
    assert few.shares.shape[0] == 4
    assert len(fit.terms) == 4
    assert fit.df == 0
    assert len(fit.inestimable) == 2


def test_effects_hold_together_and_have_the_sign_of_the_truth():
    effects = {one.component: one for one in component_effects(fit_mixture(blends(8), 1), SHARES)}
    assert effects["AW-1"].ratio == pytest.approx(np.exp(12 * 0.03), rel=0.15)
    assert effects["AW-1"].low > 1.0
    assert effects["AW-1"].low < effects["AW-1"].ratio < effects["AW-1"].high


def test_a_batch_that_came_out_apart_is_not_hidden():
    runs = blends(9, tau=0.0)
    assert lack_of_fit(runs, fit_mixture(runs, 1)).p > 0.01
    logs = runs.logs + 0.3 * (runs.batches == 4)
    apart = BlendRuns(
        logs=logs,
        left_censored=runs.left_censored,
        batches=runs.batches,
        campaigns=runs.campaigns,
        shares=SHARES,
        names=NAMES,
    )
    test = lack_of_fit(apart, fit_mixture(apart, 1))
    assert (test.against, test.p < 0.001) == ("runs", True)


def test_two_batches_of_each_blend_give_a_pure_error_of_batches():
    rng = np.random.default_rng(3)
    shares = np.repeat(SHARES, 2, axis=0)
    batch = np.repeat(np.arange(18), 3)
    means = 4.0 + 10 * shares[:, 1] + 0.1 * rng.standard_normal(18)
    logs = means[batch] + 0.02 * rng.standard_normal(54)
    runs = BlendRuns(
        logs=logs,
        left_censored=np.zeros(54, bool),
        batches=batch,
        campaigns=np.zeros(54, int),
        shares=shares,
        names=NAMES,
    )
    test = lack_of_fit(runs, fit_mixture(runs, 1))
    batch_means = np.bincount(batch, logs) / 3
    linear = sm.OLS(batch_means, shares).fit()
    cells = sm.OLS(batch_means, (runs.blends[:, None] == np.arange(9)).astype(float)).fit()
    f, p, df = cells.compare_f_test(linear)
    assert (test.against, test.df_model, test.df_scatter) == ("batches", df, 9)
    assert (test.f, test.p) == pytest.approx((f, p), rel=1e-6)


def test_lack_of_fit_rests_on_batches_though_runs_are_censored_or_campaigns_several():
    rng = np.random.default_rng(3)
    shares = np.repeat(SHARES, 2, axis=0)
    batch = np.repeat(np.arange(18), 3)
    logs = 4.2 + shares[batch] @ np.array([0.0, 9.0, 2.0]) + 0.1 * rng.standard_normal(18)[batch]
    logs += 0.08 * rng.standard_normal(54)
    none, one = np.zeros(54, bool), np.zeros(54, dtype=int)
    whole = BlendRuns(logs=logs, left_censored=none, batches=batch, campaigns=one, shares=shares, names=NAMES)
    plain = lack_of_fit(whole, fit_mixture(whole, 1))
    assert (plain.against, plain.df_scatter) == ("batches", 9)
    # a bound far above everything costs a run and no more
    high = np.append(logs, 9.0)
    bound = BlendRuns(
        logs=high,
        left_censored=np.append(none, True),
        batches=np.append(batch, 0),
        campaigns=np.append(one, 0),
        shares=shares,
        names=NAMES,
    )
    found = lack_of_fit(bound, fit_mixture(bound, 1))
    assert (found.against, found.df_model, found.df_scatter) == ("batches", 6, 9)
    # the scatter within batches is pooled there, and between batches here: not the same to the last digit
    assert found.f == pytest.approx(plain.f, rel=0.15)
    # batches of one blend in two campaigns, one of them higher: the height is no lack of fit
    where = np.arange(18) % 2
    split = BlendRuns(
        logs=logs + 0.3 * where[batch],
        left_censored=none,
        batches=batch,
        campaigns=where[batch],
        shares=shares,
        names=NAMES,
    )
    apart = lack_of_fit(split, fit_mixture(split, 1))
    assert (apart.against, apart.df_scatter) == ("batches", 8)
    assert apart.p > 0.01


def test_a_blend_of_bounds_only_stays_out_of_the_test_of_lack_of_fit():
    runs = blends(9, tau=0.0)
    hidden = runs.left_censored | (runs.batches == 0)
    partly = BlendRuns(
        logs=runs.logs,
        left_censored=hidden,
        batches=runs.batches,
        campaigns=runs.campaigns,
        shares=runs.shares,
        names=runs.names,
    )
    test = lack_of_fit(partly, fit_mixture(partly, 1))
    assert test.f is not None
    assert test.df_model == np.unique(runs.blends).size - 1 - 3


def test_leave_one_blend_out_is_the_deleted_residual_of_a_regression():
    runs = blends(10, tau=0.15)
    found = leave_one_blend_out(runs, 1)
    means = np.bincount(runs.batches, runs.logs) / 4
    influence = sm.OLS(means, SHARES).fit().get_influence()
    order = [int(np.flatnonzero(runs.blends == one.blend)[0]) for one in found]
    ours = [one.observed - one.predicted for one in found]
    assert ours == pytest.approx(influence.resid_press[order], abs=1e-4)


def test_a_blend_whose_terms_hang_on_it_is_not_predicted_without_it():
    shares = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0.0], [0.3, 0.7, 0.0]])
    runs = BlendRuns(
        logs=np.array([1.0, 2, 3, 1.6, 1.7]),
        left_censored=np.zeros(5, bool),
        batches=np.arange(5),
        campaigns=np.zeros(5, int),
        shares=shares,
        names=NAMES,
    )
    found = {one.blend: one for one in leave_one_blend_out(runs, 1)}
    lone = int(runs.blends[2])
    assert found[lone].predicted is None
    assert sum(one.predicted is None for one in found.values()) == 1


def test_only_what_can_be_mixed_from_the_tested_blends_is_inside():
    assert is_inside(SHARES[8], SHARES)
    assert is_inside(SHARES.mean(axis=0), SHARES)
    assert not is_inside([0.95, 0.05, 0.0], SHARES)


def test_all_censored_gives_no_model():
    runs = blends(11)
    gone = BlendRuns(
        logs=runs.logs,
        left_censored=np.ones(36, bool),
        batches=runs.batches,
        campaigns=runs.campaigns,
        shares=SHARES,
        names=NAMES,
    )
    with pytest.raises(ValueError, match="all runs are censored"):
        fit_mixture(gone, 1)

"""Random campaigns: other routes to the same likelihood, information, completed runs, and dose curves."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from scipy.special import logsumexp

from pinscar.stats.batch_model import fit_batch_model, fit_mixed
from pinscar.stats.dose import _mixed_test, deviance_of_point, dose_runs, fit_dose_forms, least_dose
from pinscar.stats.dose_likelihood import DoseRuns, campaign_heights, likeliest_of_campaigns, restricted_curve
from pinscar.stats.random_blocks import (
    BlockedRuns,
    Spreads,
    completed_blocks,
    information_of_means,
    joint_maximum,
    likeliest_spreads,
    likelihood_of_means,
)

BATCH = np.repeat(np.arange(9), 4)
DESIGN = np.column_stack([np.ones(36), BATCH / 3.0])


def drawn(seed: int, censored: float = 0.0):
    rng = np.random.default_rng(seed)
    campaigns = rng.permutation(np.arange(36) % 3)
    logs = 4.0 + 0.05 * BATCH + 0.06 * rng.standard_normal(9)[BATCH]
    logs = logs + 0.08 * rng.standard_normal(3)[campaigns] + 0.085 * rng.standard_normal(36)
    return BlockedRuns(logs, rng.random(36) < censored, DESIGN, BATCH), campaigns


def test_without_bounds_the_likelihood_is_that_of_generalised_least_squares():
    data, campaigns = drawn(1)
    best = fit_mixed(data.logs, DESIGN, BATCH, campaigns, restricted=False)
    begin = joint_maximum(data, DESIGN, campaigns, Spreads(0.1, 0.02, 0.02), data.logs)
    found = likeliest_spreads(data, DESIGN, campaigns, begin)
    assert found.log_likelihood == pytest.approx(best.log_likelihood, abs=1e-6)
    assert found.coefficients == pytest.approx(best.coefficients, abs=1e-5)
    assert found.spreads.campaign == pytest.approx(best.campaign_sigma, rel=2e-3)


@pytest.mark.parametrize("censored", [0.2, 0.5])
def test_with_bounds_laplace_agrees_with_quadrature_over_all_campaigns(censored):
    data, campaigns = drawn(2, censored)
    spreads = Spreads(0.085, 0.05, 0.08)
    found = joint_maximum(data, DESIGN, campaigns, spreads, data.logs)
    members = (campaigns[:, None] == np.arange(3)).astype(float)
    base = DESIGN @ found.coefficients
    _, _, inner = information_of_means(data, found.means, np.log(0.085), 0.05)
    root = np.linalg.cholesky(np.linalg.inv(members.T @ inner @ members + np.eye(3) / 0.08**2))
    at, weight = np.polynomial.hermite_e.hermegauss(7)
    heights = []
    for place in product(range(7), repeat=3):
        z = at[list(place)]
        c = found.heights + root @ z
        value, _ = likelihood_of_means(data, base + members @ c, np.log(0.085), 0.05)
        value += stats.norm.logpdf(c, 0.0, 0.08).sum() - stats.norm.logpdf(z).sum()
        heights.append(value + np.log(weight[list(place)] / np.sqrt(2.0 * np.pi)).sum())
    exact = logsumexp(heights) + np.log(np.diag(root)).sum()
    # Laplace's method is off by terms of one over the runs of a campaign
    assert found.log_likelihood == pytest.approx(exact, abs=3e-3)


def test_the_information_is_the_slope_of_the_score():
    data, _ = drawn(3, 0.4)
    means = DESIGN @ np.array([4.0, 0.15])
    _, slope, inner = information_of_means(data, means, np.log(0.08), 0.06)
    assert slope == pytest.approx(likelihood_of_means(data, means, np.log(0.08), 0.06)[1][:36], rel=1e-12)
    for i in (0, 7, 20):
        step = np.zeros(36)
        step[i] = 1e-5
        up, down = (
            likelihood_of_means(data, means + way * step, np.log(0.08), 0.06)[1][:36] for way in (1.0, -1.0)
        )
        assert inner[i] == pytest.approx(-(up - down) / 2e-5, rel=1e-5, abs=1e-4)


def test_a_bound_is_completed_by_what_its_batch_lets_expect():
    data = BlockedRuns(
        np.array([0.3, -0.1]), np.array([False, True]), np.zeros((2, 0)), np.zeros(2, dtype=int)
    )
    logs, unknown = completed_blocks(data, np.zeros(2), np.log(0.5), 0.8)
    # the bounded run given the other one is normal, cut at its limit
    centre, variance = 0.3 * 0.64 / 0.89, 0.89 - 0.64**2 / 0.89
    cut = stats.truncnorm(-np.inf, (-0.1 - centre) / np.sqrt(variance), centre, np.sqrt(variance))
    assert logs == pytest.approx([0.3, cut.mean()], abs=1e-6)
    assert unknown[0] == pytest.approx(cut.var() / 4.0, rel=1e-5)


def test_a_bound_far_off_adds_nothing_to_the_likelihood_of_several_campaigns():
    data, campaigns = drawn(4)
    plain = fit_batch_model(data.logs, data.left_censored, BATCH, campaigns, DESIGN[::4])
    far = fit_batch_model(
        np.append(data.logs, 9.0),
        np.append(data.left_censored, True),
        np.append(BATCH, 8),
        np.append(campaigns, 0),
        DESIGN[::4],
    )
    assert far.log_likelihood == pytest.approx(plain.log_likelihood, abs=1e-4)
    assert far.coefficients == pytest.approx(plain.coefficients, abs=2e-3)


@pytest.mark.parametrize("form", ["straight", "saturating", "threshold"])
def test_with_one_campaign_and_no_bound_the_test_is_the_exact_f_test(form):
    rng = np.random.default_rng(5)
    doses = np.repeat([0.0, 0.5, 1.0, 1.5, 2.0, 3.0], 4)
    logs = 4.2 + 0.2 * doses + np.repeat(0.04 * rng.standard_normal(6), 4) + 0.08 * rng.standard_normal(24)
    runs = dose_runs(np.exp(logs), np.zeros(24, bool), doses, doses)
    exact, df = deviance_of_point(runs, form, 0.95)
    other = _mixed_test(runs, form, df, 0.95)
    for dose, log in ((1.2, 4.4), (0.7, 4.5), (2.2, 4.5)):
        assert other(dose, log) == pytest.approx(exact(dose, log), rel=1e-6, abs=1e-6)


def over_campaigns(seed: int, censored: float = 0.0, apart: float = 0.1) -> DoseRuns:
    """Twelve batches in three campaigns, and an oil beside them that ran in each."""
    rng = np.random.default_rng(seed)
    doses = np.append(np.tile([0.0, 1.0, 2.0, 3.0], 3), 0.0)
    batch = np.append(np.repeat(np.arange(12), 3), np.full(9, 12))
    campaigns = np.append(np.repeat(np.arange(12) % 3, 3), np.repeat(np.arange(3), 3))
    means = np.append(4.2 + 0.15 * doses[:12], 4.6) + 0.06 * rng.standard_normal(13)
    logs = (
        means[batch] + apart * np.array([1.0, -1.0, 0.0])[campaigns] + 0.07 * rng.standard_normal(batch.size)
    )
    beside = np.zeros(13)
    beside[12] = 1.0
    bounds = rng.random(batch.size) < censored
    return DoseRuns(
        logs=logs,
        left_censored=bounds,
        doses=doses,
        batches=batch,
        beside=beside[:, None],
        member=beside == 0.0,
        campaigns=campaigns,
    )


def test_the_curve_over_campaigns_is_that_of_a_mixed_model():
    runs = over_campaigns(6)
    found = restricted_curve(runs, "straight")
    frame = pd.DataFrame({"batch": runs.batches, "campaign": runs.campaigns})
    inside = runs.members[runs.batches].astype(float)
    x = np.column_stack([inside, inside * runs.doses[runs.batches], 1.0 - inside])
    parts = {"batch": "0 + C(batch)", "campaign": "0 + C(campaign)"}
    model = sm.MixedLM(
        runs.logs,
        x,
        groups=np.ones(runs.logs.size),
        exog_vc=sm.MixedLM.from_formula(
            "batch ~ 1", frame, groups=np.ones(runs.logs.size), vc_formula=parts
        ).exog_vc,
    ).fit(reml=True)
    assert found.coefficients == pytest.approx(np.asarray(model.fe_params), rel=1e-3)
    assert found.sigma**2 == pytest.approx(model.scale, rel=5e-3)
    assert sorted([found.batch_sigma**2, found.campaign_sigma**2]) == pytest.approx(
        sorted(model.vcomp), rel=0.03
    )


def test_campaigns_that_differ_a_lot_leave_the_slope_as_fixed_shifts_do():
    runs = over_campaigns(7, apart=0.8)
    found = restricted_curve(runs, "straight")
    assert found.campaign_sigma == pytest.approx(0.8, rel=0.25)
    assert campaign_heights(runs, "straight", found) == pytest.approx([0.8, -0.8, 0.0], abs=0.15)
    inside = runs.members[runs.batches].astype(float)
    fixed = (runs.campaigns[:, None] == np.arange(3)).astype(float)
    x = np.column_stack([inside, inside * runs.doses[runs.batches], fixed])
    v = found.sigma**2 * np.eye(45) + found.batch_sigma**2 * (runs.batches[:, None] == runs.batches)
    slope = sm.GLS(runs.logs, x, sigma=v).fit().params[1]
    assert found.coefficients[1] == pytest.approx(slope, abs=2e-3)


def test_bounds_far_off_change_no_curve_over_campaigns():
    runs = over_campaigns(8)
    far = replace(
        runs,
        logs=np.append(runs.logs, 9.0),
        left_censored=np.append(runs.left_censored, True),
        batches=np.append(runs.batches, 3),
        campaigns=np.append(runs.campaigns, 0),
    )
    one, other = (likeliest_of_campaigns(each, "straight") for each in (runs, far))
    assert other.log_likelihood == pytest.approx(one.log_likelihood, abs=1e-4)
    assert other.coefficients == pytest.approx(one.coefficients, abs=1e-3)


@pytest.mark.parametrize("censored", [0.0, 0.2])
def test_the_least_dose_over_campaigns_has_an_interval_about_the_truth(censored):
    runs = over_campaigns(9, censored)
    fits, _ = fit_dose_forms(runs)
    (fit,) = [one for one in fits if one.form == "straight"]
    found = least_dose(runs, fit, float(np.exp(4.2 + 0.15 * 1.5)))
    assert fit.campaign_sigma is not None
    assert found.df == 9
    assert found.low is not None
    assert found.high is not None
    assert 0.3 < found.low < found.estimate < found.high < 2.9

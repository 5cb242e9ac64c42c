"""Dose-response curves: other routes to the same numbers, limits, and what cannot be determined."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from pinscar.stats.batch_model import batch_means, fit_means
from pinscar.stats.dose import curve_band, dose_runs, fit_dose_forms, least_dose
from pinscar.stats.dose_likelihood import maximise
from pinscar.stats.random_blocks import BlockedRuns, fit_in_blocks, likelihood_of_means

LEVELS = np.array([0.0, 0.5, 1.0, 2.0, 3.0])


def runs_of(seed: int, *, repeats: int = 4, tau: float = 0.04, sigma: float = 0.08, censored: float = 0.0):
    rng = np.random.default_rng(seed)
    doses = np.repeat(LEVELS, repeats)
    batch = np.repeat(np.arange(LEVELS.size), repeats)
    logs = 4.3 + 0.15 * doses + tau * rng.standard_normal(LEVELS.size)[batch]
    logs += sigma * rng.standard_normal(doses.size)
    return dose_runs(np.exp(logs), rng.random(doses.size) < censored, doses, batch)


def test_the_restricted_fit_is_that_of_a_mixed_model():
    runs = runs_of(3, tau=0.15)
    design = np.column_stack([np.ones(5), LEVELS])
    fit = fit_means(runs.means, design, restricted=True)
    model = sm.MixedLM(runs.logs, design[runs.batches], groups=runs.batches).fit(reml=True)
    assert fit.coefficients == pytest.approx(np.asarray(model.fe_params), rel=1e-5)
    assert fit.sigma**2 == pytest.approx(model.scale, rel=1e-4)
    assert fit.ratio * fit.sigma**2 == pytest.approx(float(np.asarray(model.cov_re)[0, 0]), rel=1e-3)


def test_two_likelihoods_of_complete_runs_agree():
    runs = runs_of(5, tau=0.15)
    one = maximise(runs, "straight")
    data = BlockedRuns(
        runs.logs, runs.left_censored, np.column_stack([np.ones(20), runs.doses[runs.batches]]), runs.batches
    )
    other = fit_in_blocks(data)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=1e-8)
    assert one.coefficients == pytest.approx(other.coefficients, rel=1e-6)
    value, _ = likelihood_of_means(data, data.design @ one.coefficients, np.log(one.sigma), one.batch_sigma)
    assert value == pytest.approx(one.log_likelihood, abs=1e-8)


def test_the_least_dose_of_a_straight_line_has_fiellers_interval():
    runs = runs_of(11)
    (fit,) = [one for one in fit_dose_forms(runs)[0] if one.form == "straight"]
    limit = float(np.exp(4.5))
    found = least_dose(runs, fit, limit)
    # Fieller's theorem on the batch means, written out
    means = np.array([runs.logs[runs.batches == i].mean() for i in range(5)])
    x, y = LEVELS, means - 4.5
    slope, start = np.polyfit(x, y, 1)
    s2 = np.sum((y - start - slope * x) ** 2) / 3
    sxx, t2 = np.sum((x - x.mean()) ** 2), stats.t.ppf(0.975, 3) ** 2
    v11, v12, v22 = s2 * (1 / 5 + x.mean() ** 2 / sxx), -s2 * x.mean() / sxx, s2 / sxx
    roots = np.roots([slope**2 - t2 * v22, 2 * (start * slope - t2 * v12), start**2 - t2 * v11])
    assert found.estimate == pytest.approx(-start / slope, rel=1e-9)
    assert (found.low, found.high) == pytest.approx(tuple(sorted(roots.real)), rel=1e-4)


def test_the_band_of_a_straight_line_is_that_of_a_regression_of_batch_means():
    runs = runs_of(2)
    (fit,) = [one for one in fit_dose_forms(runs)[0] if one.form == "straight"]
    means = np.array([runs.logs[runs.batches == i].mean() for i in range(5)])
    frame = sm.OLS(means, sm.add_constant(LEVELS)).fit().get_prediction([[1.0, 1.5]])
    assert curve_band(runs, fit, [1.5])[0] == pytest.approx(tuple(frame.conf_int()[0]), rel=1e-4)


def test_more_repeats_of_the_same_batches_do_not_narrow_the_interval_to_nothing():
    widths = []
    for repeats in (4, 16):
        runs = runs_of(8, repeats=repeats, tau=0.1)
        fits, _ = fit_dose_forms(runs)
        (fit,) = [one for one in fits if one.form == "straight"]
        low, high = curve_band(runs, fit, [1.0])[0]
        widths.append(high - low)
    assert widths[1] > 0.6 * widths[0]  # a quarter of the variance per run would halve it


def test_censored_runs_and_their_limit_cases():
    full = runs_of(4)
    few = runs_of(4, censored=0.3)
    assert few.left_censored.any()
    one, other = maximise(full, "straight"), maximise(few, "straight")
    assert other.log_likelihood != one.log_likelihood
    assert other.coefficients == pytest.approx(one.coefficients, abs=0.1)
    (fit,) = [one for one in fit_dose_forms(few)[0] if one.form == "straight"]
    found = least_dose(few, fit, float(np.exp(4.5)))
    assert found.low < found.estimate < found.high


def test_a_limit_beyond_the_doses_is_marked_and_open():
    runs = runs_of(1)
    (fit,) = [one for one in fit_dose_forms(runs)[0] if one.form == "straight"]
    beyond = least_dose(runs, fit, float(np.exp(4.3 + 0.15 * 4.0)))
    assert beyond.extrapolated
    assert beyond.high is None
    assert "falls short" in beyond.reason
    never = least_dose(runs, fit, float(np.exp(6.0)))
    assert (never.estimate, never.low, never.high) == (None, None, None)
    met = least_dose(runs, fit, float(np.exp(4.0)))
    assert (met.estimate, met.low) == (0.0, None)


def test_a_response_that_falls_meets_a_limit_from_above():
    runs = runs_of(6, tau=0.02, sigma=0.03)
    mirrored = dose_runs(np.exp(9.0 - runs.logs), np.zeros(20, bool), runs.doses[runs.batches], runs.batches)
    (up,) = [one for one in fit_dose_forms(runs)[0] if one.form == "straight"]
    (down,) = [one for one in fit_dose_forms(mirrored)[0] if one.form == "straight"]
    one = least_dose(runs, up, float(np.exp(4.5)))
    other = least_dose(mirrored, down, float(np.exp(4.5)), "at most")
    assert (one.estimate, one.low, one.high) == pytest.approx(
        (other.estimate, other.low, other.high), rel=1e-6
    )


def test_units_of_the_dose_do_not_matter():
    doses = np.repeat(LEVELS, 3)
    rng = np.random.default_rng(0)
    values = np.exp(4.0 + 0.7 * doses / (0.6 + doses) + 0.02 * rng.standard_normal(15))
    ends = []
    for factor in (1.0, 1e-2):
        runs = dose_runs(values, np.zeros(15, bool), doses * factor, doses)
        fits, _ = fit_dose_forms(runs)
        assert fits[0].form == "saturating"
        found = least_dose(runs, fits[0], float(np.exp(4.3)))
        ends.append([found.estimate / factor, found.low / factor, found.high / factor])
    assert ends[0] == pytest.approx(ends[1], rel=1e-4)


@pytest.mark.parametrize(
    ("values", "doses", "censored", "words"),
    [
        ([1, 2, 3], [0, 1, 1], [False] * 3, "three doses"),
        ([1, 2, 3], [0, 1, 2], [True] * 3, "all runs are censored"),
        ([1, 2, -3], [0, 1, 2], [False] * 3, "positive"),
        ([2, 2, 2], [0, 1, 2], [False] * 3, "differ"),
    ],
)
def test_data_that_give_no_curve_say_why(values, doses, censored, words):
    with pytest.raises(ValueError, match=words):
        dose_runs(values, censored, doses, range(3))


def test_three_doses_give_the_straight_form_only():
    runs = dose_runs([1.0, 2.0, 4.1], np.zeros(3, bool), [0, 1, 2], range(3))
    fits, left_out = fit_dose_forms(runs)
    assert [fit.form for fit in fits] == ["straight"]
    assert len(left_out) == 2
    assert "needs 4 doses, and there are 3" in left_out[0]


def test_batch_means_are_sums_of_squares():
    y = np.array([1.0, 2.0, 4.0, 8.0, 9.0])
    data = batch_means(y, np.array([0, 0, 1, 1, 1]))
    total = np.sum((y - y.mean()) ** 2)
    between = np.sum(data.sizes * (data.means - y.mean()) ** 2)
    assert data.within + between == pytest.approx(total)

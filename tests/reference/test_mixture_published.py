"""Mixture regression against the yarn elongation data, printed with their coefficients."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from pinscar.stats.mixture import BlendRuns, component_effects, fit_mixture, lack_of_fit, predict_blend

# NIST/SEMATECH e-Handbook of Statistical Methods, 5.5.4.2, after J. A. Cornell, Experiments with Mixtures:
# elongation of yarn spun of polyethylene (x1), polystyrene (x2) and polypropylene (x3).
YARN = [
    ((0.0, 0.0, 1.0), (16.8, 16.0)),
    ((0.0, 0.5, 0.5), (10.0, 9.7, 11.8)),
    ((0.0, 1.0, 0.0), (8.8, 10.0)),
    ((0.5, 0.0, 0.5), (17.7, 16.4, 16.6)),
    ((0.5, 0.5, 0.0), (15.0, 14.8, 16.1)),
    ((1.0, 0.0, 0.0), (11.0, 12.4)),
]
PRINTED = (11.7, 9.4, 16.4, 19.0, 11.4, -9.6)
ELONGATION = np.array([value for _, values in YARN for value in values])
BATCH = np.repeat(np.arange(6), [len(values) for _, values in YARN])
RUNS = BlendRuns(
    logs=ELONGATION,  # on its own scale: the model does not ask whether they are logarithms
    left_censored=np.zeros(ELONGATION.size, bool),
    batches=BATCH,
    campaigns=np.zeros(ELONGATION.size, int),
    shares=np.array([shares for shares, _ in YARN]),
    names=("polyethylene", "polystyrene", "polypropylene"),
)


def test_the_six_printed_coefficients():
    fit = fit_mixture(RUNS, 2)
    assert fit.coefficients == pytest.approx(PRINTED, abs=0.05)
    assert fit.terms == ((0,), (1,), (2,), (0, 1), (0, 2), (1, 2))


def test_the_scatter_and_standard_errors_are_those_of_ordinary_least_squares():
    # The handbook's analysis of variance prints a residual mean square of 0.73 on 9 degrees of freedom, and
    # standard errors 0.604 of the blends of one component and 2.608 of the products.
    fit = fit_mixture(RUNS, 2)
    design = fit.row(RUNS.shares)[BATCH]
    model = sm.OLS(ELONGATION, design).fit()
    assert model.mse_resid == pytest.approx(0.73, abs=0.005)
    assert fit.sigma**2 == pytest.approx(model.mse_resid, rel=1e-6)
    assert fit.batch_sigma == pytest.approx(0.0, abs=1e-6)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(model.bse, rel=1e-6)
    assert np.sqrt(np.diag(fit.covariance))[:3] == pytest.approx([0.604] * 3, abs=0.0005)
    assert np.sqrt(np.diag(fit.covariance))[3:] == pytest.approx([2.608] * 3, abs=0.0005)


def test_six_blends_for_six_terms_leave_no_scatter_of_blends_and_no_interval():
    fit = fit_mixture(RUNS, 2)
    assert fit.df == 0
    found = predict_blend(fit, [0.5, 0.5, 0.0])
    assert found.log == pytest.approx(15.3, abs=0.05)
    assert (found.low, found.high) == (None, None)
    assert lack_of_fit(RUNS, fit).reason == "the model has as many terms as blends"
    assert all(one.low is None for one in component_effects(fit, RUNS.shares))


def test_the_linear_model_lacks_fit_by_the_usual_f():
    fit = fit_mixture(RUNS, 1)
    test = lack_of_fit(RUNS, fit)
    design = RUNS.shares[BATCH]
    linear = sm.OLS(ELONGATION, design).fit()
    cells = sm.OLS(ELONGATION, (BATCH[:, None] == np.arange(6)).astype(float)).fit()
    f, p, df = cells.compare_f_test(linear)
    assert (test.df_model, test.df_scatter) == (df, 9)
    assert test.f == pytest.approx(f, rel=1e-9)
    assert test.p == pytest.approx(p, rel=1e-6)
    # the handbook prints 32.32 as the F of the quadratic over the linear model
    assert test.f == pytest.approx(32.32, abs=0.01)

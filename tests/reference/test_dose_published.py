"""Dose-response against published fits: monomolecular adsorption (NIST) and an enzyme's saturation."""

from __future__ import annotations

import numpy as np
import pytest
from lifelines import LogNormalAFTFitter

from pinscar.stats.censored import fit_left_censored
from pinscar.stats.dose_likelihood import form_shape


def langmuir_through_zero(x: np.ndarray, y: np.ndarray) -> tuple[float, float, float]:
    """Largest value, K and residual sum of squares by least squares; the grid and Brent as in the library."""
    from scipy.optimize import minimize_scalar

    def squares(log_k: float) -> float:
        shape = form_shape("saturating", x, float(np.exp(log_k)))
        return float(np.sum((y - shape * (shape @ y) / (shape @ shape)) ** 2))

    grid = np.log(np.geomspace(1e-3, 1e2, 60) * x.max())
    best = int(np.argmin([squares(one) for one in grid]))
    found = minimize_scalar(squares, bounds=(grid[best - 1], grid[best + 1]), method="bounded",
                            options={"xatol": 1e-12})  # fmt: skip
    shape = form_shape("saturating", x, float(np.exp(found.x)))
    return float((shape @ y) / (shape @ shape)), float(np.exp(found.x)), float(found.fun)


def test_nist_misra1d_adsorption():
    # NIST Statistical Reference Datasets, Misra1d (D. Misra, Dental research monomolecular adsorption study,
    # 1978): y = b1 b2 x / (1 + b2 x), which is Langmuir's isotherm with K = 1/b2. Certified to 11 digits:
    # b1 = 4.3736970754E+02, b2 = 3.0227324449E-04, residual sum of squares 5.6419295283E-02.
    x = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1,
                  760.0])  # fmt: skip
    y = np.array([10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47,
                  81.78])  # fmt: skip
    top, k, squares = langmuir_through_zero(x, y)
    assert top == pytest.approx(437.36970754, rel=1e-6)
    assert 1.0 / k == pytest.approx(3.0227324449e-4, rel=1e-6)
    assert squares == pytest.approx(5.6419295283e-2, rel=1e-9)


def test_puromycin_saturation():
    # D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, treated cells:
    # prints 212.7 and 0.0641 for the saturating form, and a residual sum of squares of 1195.
    x = np.repeat([0.02, 0.06, 0.11, 0.22, 0.56, 1.10], 2)
    y = np.array([76, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200.0])
    top, k, squares = langmuir_through_zero(x, y)
    assert top == pytest.approx(212.7, abs=0.05)
    assert k == pytest.approx(0.0641, abs=0.00005)
    assert squares == pytest.approx(1195, abs=0.5)


def test_left_censored_regression_agrees_with_lifelines():
    # lifelines' log-normal accelerated failure time model, fitted to left-censored values: another
    # likelihood, another optimiser. Both maximise the same function.
    import pandas as pd

    rng = np.random.default_rng(7)
    doses = np.repeat([0.0, 1.0, 2.0, 3.0], 6)
    logs = 1.0 + 0.2 * doses + 0.15 * rng.standard_normal(24)
    censored = rng.random(24) < 0.25
    frame = pd.DataFrame({"y": np.exp(logs), "seen": ~censored, "dose": doses})
    model = LogNormalAFTFitter(fit_intercept=True)
    model.fit_left_censoring(frame, "y", "seen", formula="dose")
    ours = fit_left_censored(logs, censored, np.column_stack([np.ones(24), doses]))
    theirs = model.params_
    assert ours.coefficients[0] == pytest.approx(theirs["mu_", "Intercept"], abs=1e-4)
    assert ours.coefficients[1] == pytest.approx(theirs["mu_", "dose"], abs=1e-4)
    assert np.log(ours.sigma) == pytest.approx(theirs["sigma_", "Intercept"], abs=1e-3)

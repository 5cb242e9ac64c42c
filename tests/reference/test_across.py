"""Random-effects combination against a much used published data set and a second library."""

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from pinscar.stats.random_effects import between_variance, random_effects

# Thirteen trials (G. A. Colditz and others, 1994; data from memory): cases and others, treated and control.
TRIALS = np.array(
    [
        (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619),
        (33, 5036, 47, 5761), (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892),
        (29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ]
)  # fmt: skip


def log_risk_ratios():
    a, b, c, d = TRIALS.T.astype(float)
    return np.log(a / (a + b) / (c / (c + d))), np.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))


def test_heterogeneity():
    """W. Viechtbauer, 2007 and 2010, prints Q 152.233 (from memory)."""
    y, s = log_risk_ratios()
    assert random_effects(y, s).q == pytest.approx(152.233, abs=5.1e-4)


def test_paule_mandel_variance():
    """R metafor's method "PM" prints tau^2 0.3181 (from memory)."""
    assert between_variance([log_risk_ratios()]) == pytest.approx(0.3181, abs=5.1e-5)


def test_statsmodels_agrees_on_estimate_and_interval():
    y, s = log_risk_ratios()
    other = combine_effects(y, s**2, method_re="iterated", use_t=True, atol=1e-14)
    result = random_effects(y, s)
    assert result.between_sd**2 == pytest.approx(other.tau2, rel=1e-7, abs=0)
    assert result.estimate == pytest.approx(other.mean_effect_re, rel=1e-7, abs=0)
    # Its Hartung-Knapp interval; with the Paule-Mandel variance the factor is 1.
    low, high = other.conf_int(use_t=True)[3]
    assert (result.low, result.high) == pytest.approx((low, high), rel=1e-6, abs=0)

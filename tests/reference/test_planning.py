"""Power and sample size against printed examples and a second library."""

import math

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower, TTestPower

from pinscar.stats.power import look_penalty, ratio_power, repeats_for_ratio, t_test_power

# d, power, design, sided, n. The first two are those of R's power.t.test help page (printed from memory); all
# re-derived from the noncentral t.
SIZES = [
    (1.0, 0.9, "two-sample", "two-sided", 22.02109),
    (0.5, 0.8, "two-sample", "two-sided", 63.76561),
    (0.2, 0.8, "two-sample", "two-sided", 393.4057),
    (0.8, 0.8, "two-sample", "two-sided", 25.52457),
    (0.5, 0.8, "two-sample", "one-sided", 50.15078),
    (0.5, 0.8, "paired", "two-sided", 33.36713),
]


@pytest.mark.parametrize(("effect", "power", "design", "sided", "n"), SIZES)
def test_sample_sizes(effect, power, design, sided, n):
    """The printed sizes give the printed power."""
    assert float(t_test_power(n, effect, 0.05, design, sided)) == pytest.approx(power, abs=1e-7)


def test_power_of_twenty():
    """R's power.t.test(n = 20, delta = 1, sd = 1) prints power 0.8689528 (from memory).

    That leaves out the tail on the wrong side, 2.3e-7 here; the one-sided test at half the level is the same.
    """
    assert float(t_test_power(20, 1.0)) == pytest.approx(0.868953, abs=5.1e-7)
    one_tail = t_test_power(20, 1.0, 0.025, "two-sample", "one-sided")
    assert float(one_tail) == pytest.approx(0.8689528, abs=5.1e-8)


def test_the_log_scale_carries_the_same_numbers():
    """The same examples as ratios: d = ln(ratio) / sd."""
    assert float(ratio_power(20, math.exp(0.3), 0.3)) == pytest.approx(0.868953, abs=5.1e-7)
    assert repeats_for_ratio(math.exp(-0.3), 0.3, 0.9).repeats == 23


@pytest.mark.parametrize("n", [3, 5, 8, 20])
@pytest.mark.parametrize("effect", [0.5, 1.5, 3.0])
@pytest.mark.parametrize(("sided", "alternative"), [("two-sided", "two-sided"), ("one-sided", "larger")])
def test_statsmodels_agrees(n, effect, sided, alternative):
    two = TTestIndPower().power(effect, n, 0.05, alternative=alternative)
    one = TTestPower().power(effect, n, 0.05, alternative=alternative)
    assert float(t_test_power(n, effect, 0.05, "two-sample", sided)) == pytest.approx(two, abs=1e-8)
    # statsmodels has no number where the noncentral t of SciPy gives out, at 20 runs and three deviations.
    if math.isfinite(one):
        assert float(t_test_power(n, effect, 0.05, "one-sample", sided)) == pytest.approx(one, abs=1e-8)
    else:
        assert (n, effect) == (20, 3.0)


# P. Armitage, C. K. McPherson and B. C. Rowe, 1969, table 2: chance of a false alarm when looking k times
# after equal parts at 5 % (from memory: 0.083, 0.107, 0.126, 0.142). Large groups, so that t is normal.
LOOKS = {2: 0.083, 3: 0.107, 4: 0.126, 5: 0.142}


@pytest.mark.parametrize("looks", [2, 5])
def test_repeated_looks(looks):
    penalty = look_penalty([60 * k for k in range(1, looks + 1)], 0.05, n_simulations=40_000, seed=11)
    # 40 000 draws leave a standard error of 0.0015: the printed half digit is widened by twice that.
    assert penalty.actual_alpha == pytest.approx(LOOKS[looks], abs=0.0035)


def test_two_looks_by_the_bivariate_normal():
    """A second route: 1 - P(|Z1| < 1.96, |Z2| < 1.96) with correlation sqrt(1/2)."""
    from scipy.stats import multivariate_normal

    r = math.sqrt(0.5)
    z = 1.959964
    box = multivariate_normal([0, 0], [[1, r], [r, 1]])
    inside = box.cdf([z, z], lower_limit=np.array([-z, -z]))
    assert 1 - inside == pytest.approx(LOOKS[2], abs=5.1e-4)


def test_level_per_look():
    """S. J. Pocock, 1977, table 1: two looks at 5 % need 0.0294 each, five need 0.0158 (from memory)."""
    for looks, level in ((2, 0.0294), (5, 0.0158)):
        penalty = look_penalty([60 * k for k in range(1, looks + 1)], 0.05, n_simulations=60_000, seed=5)
        # 60 000 draws leave a standard error of 1.8 % of the level.
        assert penalty.alpha_per_look == pytest.approx(level, rel=0.03, abs=0)

"""Censored log-normal fits against published ones.

Manganese: USEPA, Statistical Analysis of Groundwater Monitoring Data, Unified Guidance (2009), Example 15-1;
fit and profile limits as printed by the R package EnvStats (help of its censored log-normal estimator).
Arsenic: Oahu streams, data in the R package NADA; Helsel, Nondetects and Data Analysis (2005), for the
moments (from memory). Locomotive controls: Nelson, Applied Life Data Analysis (1982); Schmee and Nelson
(1977); Lawless, Statistical Models and Methods for Lifetime Data (data and printed values from memory).
Values with more digits than printed were computed independently by a general-purpose optimiser.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.censored import fit_one_group, left_censored_median, right_censored_median

MANGANESE = (
    "<5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 "
    "106.3 34.5 6.3 11.9 10 <2 77.2 17.9 22.7 3.3 8.4 <2"
)
ARSENIC = "1.7 3.2 2.8 .7 .5 .5 .5 .7 .6 .9 1.5 <1 <1 <1 <1 <2 <2 <2 <2 <2 <2 <2 <2 <0.9"
LOCOMOTIVE = (
    "22.5 37.5 46 48.5 51.5 53 54.5 57.5 66.5 68 69.5 76.5 77 78.5 80 81.5 82 83 84 91.5 93.5 102.5 "
    "107 108.5 112.5 113.5 116 117 118.5 119 120 122.5 123 127.5 131 132.5 134"
)


def parse(text: str) -> tuple[np.ndarray, np.ndarray]:
    words = text.split()
    return np.array([float(w.lstrip("<")) for w in words]), np.array([w.startswith("<") for w in words])


def locomotive() -> tuple[np.ndarray, np.ndarray]:
    failed = np.array([float(w) for w in LOCOMOTIVE.split()])
    return np.append(failed, np.full(59, 135.0)), np.arange(failed.size + 59) >= failed.size


def log_limits(result) -> list[float]:
    return [float(np.log(x)) for x in (result.estimate, result.profile_low, result.profile_high)]


def test_manganese_fit() -> None:
    values, mask = parse(MANGANESE)
    fit = fit_one_group(np.log(values), mask)
    assert fit.coefficients[0] == pytest.approx(2.215905, abs=5e-7)
    assert fit.sigma == pytest.approx(1.356291, abs=5e-7)
    assert fit.log_likelihood == pytest.approx(-38.727814, abs=5e-7)


def test_manganese_profile_interval() -> None:
    """The manganese data give the published median and profile limits."""
    result = left_censored_median(*parse(MANGANESE))
    assert log_limits(result) == pytest.approx([2.215905, 1.595062, 2.771197], abs=5e-7)
    printed = [9.169701, 4.928632, 15.977749]
    found = [result.estimate, result.profile_low, result.profile_high]
    assert found == pytest.approx(printed, abs=5e-7)
    assert (result.n, result.n_censored) == (25, 6)


def lifelines_log_likelihood(side: str, values: np.ndarray, mask: np.ndarray, held: float | None) -> float:
    """Maximum log-likelihood of the logarithms by lifelines, their mean held if asked."""
    from lifelines import LogNormalFitter

    fitter = LogNormalFitter()
    if held is not None:  # the reciprocal of a factor moves the median to one, where lifelines has mu = 0
        values = values / np.exp(held)

        def hold(model):
            model._bounds = [(-1e-9, 1e-9), (1e-9, None)]

        hold(fitter)
    fit = fitter.fit_left_censoring if side == "left" else fitter.fit_right_censoring
    fit(values, event_observed=~mask)
    # lifelines gives the likelihood of the values: that of their logarithms lacks the 1/x of those observed.
    return float(fitter.log_likelihood_ + np.sum(np.log(values[~mask])))


@pytest.mark.parametrize(
    ("side", "data"), [("left", parse(MANGANESE)), ("left", parse(ARSENIC)), ("right", locomotive())]
)
def test_fit_and_calibrated_limits_against_lifelines(side: str, data: tuple[np.ndarray, np.ndarray]) -> None:
    """The ends are where lifelines' own profile likelihood has dropped by half of the cut."""
    values, mask = data
    median = left_censored_median if side == "left" else right_censored_median
    result = median(values, mask)
    top = lifelines_log_likelihood(side, values, mask, None)
    n = values.size
    student = n * np.log1p(stats.t.ppf(0.975, n - 1) ** 2 / (n - 1))
    share = mask.mean()
    shifted = (np.sqrt(student) + 6 * share**2 / np.sqrt(n)) ** 2
    cuts = (shifted, student) if side == "left" else (student, shifted)
    for end, cut in zip((result.low, result.high), cuts, strict=True):
        drop = 2 * (top - lifelines_log_likelihood(side, values, mask, float(np.log(end))))
        assert drop == pytest.approx(cut, rel=1e-3)  # lifelines stops its search at 1e-4 or so


def test_oahu_arsenic() -> None:
    """The Oahu arsenic data give the published parameters."""
    result = left_censored_median(*parse(ARSENIC))
    assert log_limits(result) == pytest.approx([-0.252829, -0.667814, 0.053545], abs=1e-6)
    assert result.sd == pytest.approx(0.626948, abs=5e-7)
    mean = result.estimate * np.exp(result.sd**2 / 2)
    assert [result.estimate, mean] == pytest.approx([0.777, 0.945], abs=5e-4)
    assert mean * np.sqrt(np.expm1(result.sd**2)) == pytest.approx(0.656, abs=5e-4)


def test_locomotive_controls() -> None:
    """The locomotive controls give the published median life and spread."""
    result = right_censored_median(*locomotive())
    assert log_limits(result) == pytest.approx([5.116925, 4.937356, 5.359668], abs=1e-6)
    assert result.sd == pytest.approx(0.705494, abs=5e-7)
    assert np.log10(result.estimate) == pytest.approx(2.222, abs=5e-4)

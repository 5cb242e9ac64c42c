"""Akaike's criterion of batches: its limits, and what it does to the choice of a form."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.batch_model import aicc_of_batches, effective_runs
from pinscar.stats.dose import dose_runs, fit_dose_forms


def test_the_effective_number_is_that_of_the_design_effect():
    # Kish's design effect for clusters of one size: 1 + (m - 1) times the intraclass correlation
    for ratio in (0.1, 0.5, 2.0):
        correlation = ratio / (1.0 + ratio)
        assert effective_runs([5] * 7, ratio) == pytest.approx(35 / (1 + 4 * correlation), rel=1e-12)


def test_repeats_without_scatter_of_runs_count_as_their_batch():
    k, g = 3 + 1, 9
    usual = 2 * k + 2 * k * (k + 1) / (g - k - 1)
    assert aicc_of_batches(0.0, 3, [6] * g, 1e9) == pytest.approx(usual + 2.0, rel=1e-6)
    n = 6 * g
    assert aicc_of_batches(0.0, 3, [6] * g, 0.0) == pytest.approx(2 * k + 2 * k * (k + 1) / (n - k - 1) + 2.0)


def test_copies_of_the_same_runs_do_not_make_a_form_surer():
    # Five batches that lie about a straight line, read once each or six times each with next to no scatter:
    # the readings more tell nothing of the curve, so its weight must not rise.
    doses = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    means = 4.0 + 0.1 * doses + np.array([-0.05, 0.04, 0.03, -0.02, 0.05, -0.01, -0.04])
    once = fit_dose_forms(dose_runs(np.exp(means), np.zeros(7, bool), doses, doses))[0]
    batch = np.repeat(np.arange(7), 6)
    logs = means[batch] + 1e-3 * np.tile([-1.0, 1.0, -2.0, 2.0, -3.0, 3.0], 7)
    often = fit_dose_forms(dose_runs(np.exp(logs), np.zeros(42, bool), doses[batch], batch))[0]
    weights = [{one.form: one.weight for one in fits} for fits in (once, often)]
    assert weights[1]["straight"] == pytest.approx(weights[0]["straight"], abs=0.01)

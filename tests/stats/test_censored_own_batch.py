"""Many campaigns at once are judged exactly as one campaign is: fits, limits and verdicts agree."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.censored_groups import own_group, own_spread_ratio, reach
from pinscar.stats.censored_own_batch import fit_groups_apart, reaches, told_apart

CAMPAIGNS, RUNS = 24, 5


@pytest.fixture(scope="module")
def drawn() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    film = 0.15 * rng.standard_normal((200, 2, RUNS)) + np.array([[0.0], [0.3]])
    limits = 0.15 * rng.standard_normal((200, 2, RUNS)) - 0.05
    hidden = film < limits
    enough = (~hidden).sum(axis=2).min(axis=1) > 1
    return np.maximum(film, limits)[enough][:CAMPAIGNS], hidden[enough][:CAMPAIGNS]


def test_fits_and_limits_are_those_of_one_campaign(drawn) -> None:
    values, hidden = drawn
    fitted = fit_groups_apart(values[:, 1], hidden[:, 1])
    for low in (True, False):
        found = reaches(fitted, np.full(CAMPAIGNS, low), np.full(CAMPAIGNS, 2.8))
        for row in range(CAMPAIGNS):
            one = own_group(np.exp(values[row, 1]), hidden[row, 1])
            assert fitted.median[row] == pytest.approx(float(one.fit.coefficients[0]), abs=1e-6)
            assert fitted.sigma[row] == pytest.approx(one.fit.sigma, rel=1e-5)
            assert found[row] == pytest.approx(reach(one, "low" if low else "high", 2.8), rel=1e-5)


def test_campaigns_are_told_apart_as_one_by_one(drawn) -> None:
    values, hidden = drawn
    shown = told_apart(values, hidden, 0.95)
    for row in range(CAMPAIGNS):
        base, subject = (own_group(np.exp(values[row, i]), hidden[row, i]) for i in (0, 1))
        ratio = own_spread_ratio(subject, base)
        assert shown[row] == ((ratio.low or 0.0) > 1.0 or (ratio.high or np.inf) < 1.0)
    assert 0 < shown.sum() < CAMPAIGNS


def test_no_campaigns_are_none() -> None:
    assert told_apart(np.zeros((0, 2, 3)), np.zeros((0, 2, 3), dtype=bool), 0.95).size == 0

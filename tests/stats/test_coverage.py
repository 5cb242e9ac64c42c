"""Do the intervals hold the truth as often as they say? Simulated campaigns, nominal 95 %.

Complete data: the methods are exact, so the coverage must be 95 % to within Monte-Carlo error. Censored
data: the profile interval is a large-sample one; its coverage must be what the committed table says.
"""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.all_pairs import games_howell, tukey
from pinscar.stats.block_contrasts import compare_in_blocks, separable
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.coverage_simulation import simulate_median, simulate_ratio
from pinscar.stats.deviance_cut import deviance_cut
from pinscar.stats.dunnett import dunnett
from pinscar.stats.intervals import geometric_mean
from pinscar.stats.simulated_coverage import simulated_coverage

CAMPAIGNS = 2000
SIZES = [3, 5, 8]


def error(coverage: float, campaigns: int = CAMPAIGNS, width: float = 3.5) -> float:
    return width * float(np.sqrt(coverage * (1 - coverage) / campaigns))


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_t_intervals_on_logs(n: int) -> None:
    rng = np.random.default_rng(100 + n)
    results = [geometric_mean(np.exp(rng.normal(4.7, 0.15, n))) for _ in range(CAMPAIGNS)]
    held = np.mean([r.low <= np.exp(4.7) <= r.high for r in results])
    assert held == pytest.approx(0.95, abs=error(0.95))


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_dunnett_holds_all_at_once(n: int) -> None:
    rng = np.random.default_rng(200 + n)
    held = 0
    for _ in range(CAMPAIGNS):
        groups = rng.normal(0, 1, (4, n))
        held += all(c.low <= 0 <= c.high for c in dunnett(list(groups[1:]), groups[0]))
    assert held / CAMPAIGNS == pytest.approx(0.95, abs=error(0.95))


@pytest.mark.slow
def test_dunnett_holds_with_unequal_groups() -> None:
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(CAMPAIGNS):
        subjects = [rng.normal(0, 1, n) for n in (3, 8, 4)]
        held += all(c.low <= 0 <= c.high for c in dunnett(subjects, rng.normal(0, 1, 6)))
    assert held / CAMPAIGNS == pytest.approx(0.95, abs=error(0.95))


@pytest.mark.slow
def test_tukey_holds_all_at_once() -> None:
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(400):
        pairs = tukey({str(i): rng.normal(0, 1, 5) for i in range(3)})
        held += all(c.low <= 0 <= c.high for c in pairs.values())
    assert held / 400 == pytest.approx(0.95, abs=error(0.95, 400))


@pytest.mark.slow
def test_games_howell_falls_short_only_a_little_with_five_runs() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(150):  # the studentized range is slow
        pairs = games_howell({str(i): rng.normal(0, 1 + 2 * i, 5) for i in range(3)})
        held += all(c.low <= 0 <= c.high for c in pairs.values())
    # Approximate by nature: the caution that the chooser prints below six runs is about this shortfall.
    assert 0.95 - 0.03 - error(0.92, 150) < held / 150 < 0.95 + error(0.95, 150)


@pytest.mark.slow
def test_blocks_hold_all_at_once_whether_complete_or_not() -> None:
    rng = np.random.default_rng(6)
    held, fitted = 0, 0
    for _ in range(500):  # the joint distribution of incomplete blocks is slow
        effects = rng.normal(0, 1, 5)
        blocks = {"R": [0, 1, 2, 3, 4], "A": [0, 1, 2, 3], "B": [1, 2, 3, 4, 4]}
        groups = {name: effects[labels] + rng.normal(0, 0.5, len(labels)) for name, labels in blocks.items()}
        assert separable(groups, blocks)
        result = compare_in_blocks(groups, "R", blocks)
        if result.fit.block_variance > 0:
            fitted += 1
            held += all(c.low <= 0 <= c.high for c in result.contrasts.values())
    # Kenward-Roger is approximate where blocks are incomplete: one point is allowed on top of chance.
    assert held / fitted == pytest.approx(0.95, abs=0.01 + error(0.95, fitted))


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_the_chooser_keeps_its_confidence_in_blocks(n: int) -> None:
    """Falling back to the unblocked method where the block variance is estimated at zero costs little."""
    rng = np.random.default_rng(700 + n)
    held = 0
    labels = {"R": list(range(n)), "A": list(range(n))}
    for _ in range(CAMPAIGNS):
        days = rng.normal(0, 0.1, n)
        values = {name: np.exp(days + rng.normal(0, 0.1, n)) for name in labels}
        (result,) = compare_with_reference(values, "R", blocks=labels)
        held += result.low <= 1 <= result.high
    assert held / CAMPAIGNS == pytest.approx(0.95, abs=0.02 + error(0.95))


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
@pytest.mark.parametrize("share", [0.2, 0.4, 0.6])
def test_censored_medians_cover_what_the_table_says(n: int, share: float) -> None:
    rng = np.random.default_rng([8, n, round(10 * share)])
    for scatter in (0.0, 1.0):
        result = simulate_median(n, share, scatter, CAMPAIGNS // 2, rng)
        for cut in ("chi-square", "student"):
            low, high = simulated_coverage("median", n, share, 0.95, cut)
            slack = error(0.93, CAMPAIGNS // 2) + error(0.93, 3000, 3)
            assert low - slack <= result.coverage(0.95, cut) <= high + slack


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_censored_ratios_cover_what_the_table_says(n: int) -> None:
    rng = np.random.default_rng([9, n])
    for scatter in (0.0, 1.0):
        result = simulate_ratio(n, 0.4, scatter, CAMPAIGNS // 4, rng)
        for cut in ("chi-square", "student"):
            low, high = simulated_coverage("ratio", n, 0.4, 0.95, cut)
            slack = error(0.92, CAMPAIGNS // 4) + error(0.92, 1500, 3)
            assert low - slack <= result.coverage(0.95, cut) <= high + slack


@pytest.mark.parametrize("n", SIZES)
def test_with_complete_data_the_student_cut_covers_exactly(n: int) -> None:
    rng = np.random.default_rng(10)
    y = rng.normal(size=(20_000, n))
    t_squared = n * y.mean(axis=1) ** 2 / y.var(axis=1, ddof=1)
    deviance = n * np.log1p(t_squared / (n - 1))
    held = np.mean(deviance <= deviance_cut(0.95, n, 1, "student"))
    assert held == pytest.approx(0.95, abs=error(0.95, 20_000))
    assert np.mean(deviance <= deviance_cut(0.95, n, 1)) < held


def test_the_student_cut_repairs_every_shortfall_in_the_table_to_three_points() -> None:
    for kind in ("median", "ratio"):
        for n in range(3, 9):
            for share in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6):
                plain = simulated_coverage(kind, n, share, 0.95)
                student = simulated_coverage(kind, n, share, 0.95, "student")
                assert student[0] >= plain[0]
                assert student[0] > 0.95 - 0.03 - error(0.92, 1500)


def test_no_coverage_is_made_up_where_none_was_simulated() -> None:
    assert simulated_coverage("median", 9, 0.3, 0.95) is None
    assert simulated_coverage("median", 5, 0.8, 0.95) is None
    assert simulated_coverage("median", 5, 0.4, 0.93) is None
    assert simulated_coverage("median", 5, 0.0, 0.95) is None

"""Do the intervals hold the truth as often as they say? Simulated campaigns, nominal 95 %.

Complete data: the methods are exact, so the coverage must be 95 % to within Monte-Carlo error. Censored
data: the coverage must be what the committed table says, and the table must lie near 95 %.
"""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pinscar.stats.block_layout import separable
from pinscar.stats.blocks import contrasts_with_reference, fit_groups
from pinscar.stats.censored import (
    deviance_cut,
    left_censored_median,
    right_censored_median,
)
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.estimates import geometric_mean
from pinscar.stats.simultaneous import dunnett

CAMPAIGNS = 2000
TABLE = pd.read_csv(files("pinscar.stats").joinpath("data/censored_coverage.csv"), comment="#")
SIZES = [3, 5, 8]


def coverage_from_table(
    kind: str, n: int, share: float, confidence: float, column: str = "coverage"
) -> tuple[float, float]:
    """Lowest and highest over the ways of censoring that the shipped table has for this case."""
    table = TABLE[(TABLE.kind == kind) & (TABLE.n == n) & np.isclose(TABLE.nominal, confidence)]
    found = table[column][np.isclose(table.censored_share, share)]
    assert not found.empty
    return float(found.min()), float(found.max())


def error(coverage: float, campaigns: int = CAMPAIGNS, width: float = 3.5) -> float:
    return width * float(np.sqrt(coverage * (1 - coverage) / campaigns))


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_t_intervals_on_logs(n: int) -> None:
    """Student's interval on logarithms holds the truth in 95 % of simulated campaigns."""
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
def test_blocks_hold_all_at_once_whether_complete_or_not() -> None:
    rng = np.random.default_rng(6)
    held, fitted = 0, 0
    for _ in range(500):  # the joint distribution of incomplete blocks is slow
        effects = rng.normal(0, 1, 5)
        blocks = {"R": [0, 1, 2, 3, 4], "A": [0, 1, 2, 3], "B": [1, 2, 3, 4, 4]}
        groups = {name: effects[labels] + rng.normal(0, 0.5, len(labels)) for name, labels in blocks.items()}
        assert separable(groups, blocks)
        fit = fit_groups(groups, blocks)
        if fit.block_variance > 0:
            fitted += 1
            contrasts = contrasts_with_reference(fit, list(groups), "R")
            held += all(c.low <= 0 <= c.high for c in contrasts.values())
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
@pytest.mark.parametrize(("share", "scatter"), [(0.2, 0.0), (0.4, 1.0), (0.6, 0.5), (0.8, 1.0)])
@pytest.mark.parametrize("side", ["left", "right"])
def test_printed_medians_of_censored_runs_cover(n: int, share: float, scatter: float, side: str) -> None:
    """The printed function itself, one campaign at a time, with draws that share no code with the table."""
    rng = np.random.default_rng([8, n, round(10 * share), side == "left"])
    median = left_censored_median if side == "left" else right_censored_median
    sign = 1.0 if side == "left" else -1.0
    level = stats.norm.ppf(share) * np.hypot(1.0, scatter)
    held, wrong, printed = 0, 0, 0
    for _ in range(CAMPAIGNS):
        film, limit = rng.standard_normal(n), level + scatter * rng.standard_normal(n)
        result = median(np.exp(sign * 0.1 * np.maximum(film, limit)), film < limit)
        if result.estimate is None:
            continue
        printed += 1
        low, high = result.low or 0.0, result.high or np.inf
        held += low <= 1.0 <= high
        wrong += (low > 1.0) if side == "left" else (high < 1.0)
    expected = coverage_from_table("median", n, share, 0.95)
    slack = error(0.95, printed) + error(0.95, 10_000)
    assert expected[0] - slack <= held / printed <= expected[1] + slack
    assert wrong / CAMPAIGNS <= 0.025 + error(0.025)


@pytest.mark.slow
@pytest.mark.parametrize("n", SIZES)
def test_printed_ratios_of_censored_runs_cover(n: int) -> None:
    rng = np.random.default_rng([9, n])
    campaigns, held, printed = CAMPAIGNS // 4, 0, 0
    for _ in range(campaigns):
        film, limit = (
            rng.standard_normal((2, n)),
            stats.norm.ppf(0.4) * np.sqrt(2) + rng.standard_normal((2, n)),
        )
        values = dict(zip("RA", np.exp(0.1 * np.maximum(film, limit)), strict=True))
        (result,) = compare_with_reference(
            values, "R", left_censored=dict(zip("RA", film < limit, strict=True))
        )
        if result.ratio is not None and result.low is not None:
            printed += 1
            held += result.low <= 1.0 <= (result.high or np.inf)
    low, high = coverage_from_table("ratio", n, 0.4, 0.95)
    slack = error(0.95, printed) + error(0.95, 5000)
    assert low - slack <= held / printed <= high + slack


@pytest.mark.parametrize("n", SIZES)
def test_with_complete_data_the_student_cut_covers_exactly(n: int) -> None:
    rng = np.random.default_rng(10)
    y = rng.normal(size=(20_000, n))
    t_squared = n * y.mean(axis=1) ** 2 / y.var(axis=1, ddof=1)
    deviance = n * np.log1p(t_squared / (n - 1))
    held = np.mean(deviance <= deviance_cut(0.95, n, 1, "student"))
    assert held == pytest.approx(0.95, abs=error(0.95, 20_000))
    assert np.mean(deviance <= deviance_cut(0.95, n, 1)) < held


@pytest.mark.parametrize("kind", ["median", "ratio"])
@pytest.mark.parametrize("n", range(3, 9))
@pytest.mark.parametrize("share", [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6])
def test_the_table_lies_within_two_points_below_and_three_above(kind: str, n: int, share: float) -> None:
    """Fixed limits at the median itself can hide an error on the low side: up to 3.6 points above there."""
    low, high = coverage_from_table(kind, n, share, 0.95)
    assert low >= 0.93
    assert high <= (0.981 if kind == "median" else 0.986)
    assert coverage_from_table(kind, n, share, 0.95, "coverage_censored")[0] >= 0.93


@pytest.mark.parametrize("kind", ["median", "ratio"])
@pytest.mark.parametrize("n", range(3, 9))
@pytest.mark.parametrize("share", [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
def test_in_the_table_an_end_is_on_the_wrong_side_in_no_more_than_its_share(kind, n, share) -> None:
    slack = 3.2 * np.sqrt(0.025 * 0.975 / (20_000 if kind == "median" else 10_000))
    for column in ("low_above", "high_below"):
        assert coverage_from_table(kind, n, share, 0.95, column)[1] <= 0.025 + slack

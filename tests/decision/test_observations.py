"""Counts, grades and words each get their own treatment: exact intervals, ranks, no means of codes."""

from __future__ import annotations

import pandas as pd
import pytest
from scipy import stats

from pinscar.decision.observations import Observation, observation_entries, observe


def runs(**columns: list[object]) -> pd.DataFrame:
    """Six runs of the reference, then six of a candidate, at one load."""
    return pd.DataFrame(
        {
            "run_id": [f"r{i}" for i in range(12)],
            "lubricant": ["R"] * 6 + ["C"] * 6,
            "load_level": 450.0,
            "duration": 60.0,
            "ring_speed": 73.3,
            **columns,
        }
    )


def of(found: tuple[Observation, ...], lubricant: str) -> Observation:
    return next(o for o in found if o.lubricant == lubricant)


def test_drips_have_the_exact_poisson_interval_of_the_mean() -> None:
    found = of(observe(runs(drips=[0, 1, 2, 0, 1, 1, 2, 2, 1, 3, 2, 2]), "R", 0.95), "R")
    assert found.rate is not None
    assert found.rate.estimate == pytest.approx(5 / 6)
    # Garwood's limits by the chi-squared quantiles of scipy.
    assert found.rate.low == pytest.approx(stats.chi2.ppf(0.025, 10) / 12)
    assert found.rate.high == pytest.approx(stats.chi2.ppf(0.975, 12) / 12)


def test_smoke_is_a_share_of_runs_and_a_rank_comparison() -> None:
    smoke = ["none"] * 5 + ["light"] + ["light"] * 3 + ["heavy"] * 3
    found = of(observe(runs(smoke=smoke), "R", 0.95), "C")
    assert dict(found.classes) == {"none": 0, "light": 3, "heavy": 3}
    assert found.rate is not None
    assert (found.rate.low, found.rate.high) == pytest.approx((0.025 ** (1 / 6), 1.0))
    assert found.test is not None
    # 36 pairs: the five smokeless reference runs lose all 30; the light one ties thrice and loses thrice.
    assert found.test.superiority == pytest.approx((30 + 3 + 1.5) / 36)
    # Of the 924 splits, those at least as extreme, both ways.
    expected = stats.permutation_test(
        ([0, 0, 0, 0, 0, 1], [1, 1, 1, 2, 2, 2]),
        lambda a, b: abs(stats.rankdata([*a, *b])[:6].sum() - 39.0),
        n_resamples=10_000,
        alternative="greater",
    )
    assert found.test.p == pytest.approx(expected.pvalue)


def test_p_is_adjusted_over_the_oils_of_a_load() -> None:
    two = runs(drips=[0, 0, 0, 0, 0, 1, 3, 3, 4, 3, 5, 4])
    more = two[two["lubricant"] == "C"].assign(lubricant="D", drips=1)
    alone = of(observe(two, "R", 0.95), "C")
    together = of(observe(pd.concat([two, more], ignore_index=True), "R", 0.95), "C")
    assert alone.test is not None
    assert together.test is not None
    assert alone.test.p < together.test.p <= 2 * alone.test.p + 1e-12


def test_counts_in_bursts_carry_a_note() -> None:
    found = observe(runs(drips=[0, 0, 0, 12, 0, 0, 1, 1, 2, 1, 1, 1]), "R", 0.95)
    assert "vary more" in (of(found, "R").note or "")
    assert of(found, "C").note is None


def test_unlike_runs_are_not_compared() -> None:
    unlike = runs(drips=[1] * 12, duration=[60.0] * 6 + [40.0] * 6)
    found = of(observe(unlike, "R", 0.95), "C")
    assert found.test is None
    assert "40 s against 60 s" in (found.note or "")


def test_words_are_counted_and_not_tested() -> None:
    found = of(observe(runs(noise=["hum"] * 5 + ["squeal"] + ["squeal"] * 6), "R", 0.95), "R")
    assert (found.kind, dict(found.classes), found.rate, found.test) == (
        "words",
        {"hum": 5, "squeal": 1},
        None,
        None,
    )


def test_runs_without_an_entry_are_left_out() -> None:
    found = observe(runs(drips=[None, 1, 2, 0, 1, 1, 2, 2, 1, 3, 2, 2], smoke=[""] * 12), "R", 0.95)
    assert {o.name for o in found} == {"drips"}
    assert of(found, "R").n == 5


def test_remarks_and_settings_are_no_observation() -> None:
    assert observe(runs(note=[f"note {i}" for i in range(12)], shaken=["yes", "no"] * 6), "R", 0.95) == ()


def test_entries_hold_plain_numbers() -> None:
    (entry, _) = observation_entries(observe(runs(drips=[1] * 6 + [2] * 6), "R", 0.95))
    assert (entry["observation"], entry["n"], entry["estimate"], entry["classes"]) == (
        "drips",
        6,
        1.0,
        {"1": 6},
    )

"""The number of further runs reaches the chance it promises, by the interval that will judge."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.censored_groups import own_group, own_spread_ratio
from pinscar.stats.further import (
    Seen,
    fewest,
    further_in_blocks,
    further_own_spreads,
    further_with_bounds,
    more_blocks,
    runs_per_block,
)
from pinscar.stats.power import further_repeats_to_settle, unlike_welch_power, welch_power
from pinscar.stats.two_groups import guarded_critical, outward_factor
from pinscar.stats.within_blocks import within_blocks, within_blocks_t


def chance(sizes, sds, difference, level=0.95, draws=40_000):
    """Share of drawn campaigns whose own-spread limits clear the value, by plain simulation."""
    rng = np.random.default_rng(11)
    a = rng.normal(difference, sds[0], (draws, sizes[0]))
    b = rng.normal(0.0, sds[1], (draws, sizes[1]))
    parts = [one.var(axis=1, ddof=1) / one.shape[1] for one in (a, b)]
    dfs = (sizes[0] - 1.0, sizes[1] - 1.0)
    total = parts[0] + parts[1]
    c = guarded_critical(parts[0] / total, dfs, 1 - level, outward_factor(dfs, round(1 - level, 12)))
    return np.mean(a.mean(axis=1) - b.mean(axis=1) > c * np.sqrt(total))


@pytest.mark.parametrize(
    ("subject", "reference", "distance"),
    [
        (Seen(4, 0.1), Seen(4, 0.1), 0.15),
        (Seen(4, 0.3), Seen(4, 0.1), 0.25),
        (Seen(8, 0.1), Seen(3, 0.3), 0.25),
        (Seen(2, 0.1), Seen(8, 0.1), 0.12),
    ],
)
def test_own_spreads_reach_the_chance_and_one_run_less_does_not(subject, reference, distance) -> None:
    more = further_own_spreads(subject, reference, distance, 0.95)
    sds = (subject.sd, reference.sd)
    assert chance((subject.n + more, reference.n + more), sds, distance) > 0.793
    assert chance((subject.n + more - 1, reference.n + more - 1), sds, distance) < 0.807


def test_one_spread_promises_too_much_where_the_spreads_are_unlike() -> None:
    """What the pooled formula gave for the same data: three groups of it fall short."""
    pooled = np.sqrt((7 * 0.1**2 + 2 * 0.3**2) / 9)
    old = further_repeats_to_settle(8, float(pooled), 0.25, 0.0, 0.95, n_reference=3, scale="linear")
    assert chance((8 + old, 3 + old), (0.1, 0.3), 0.25) < 0.6
    assert further_own_spreads(Seen(8, 0.1), Seen(3, 0.3), 0.25, 0.95) > old


def test_more_comparisons_and_less_experience_take_more_runs() -> None:
    one = further_own_spreads(Seen(4, 0.1), Seen(4, 0.1), 0.12, 0.95)
    assert further_own_spreads(Seen(4, 0.1), Seen(4, 0.1), 0.12, 0.95, comparisons=3) > one
    known = Seen(4, 0.1, more_df=8.0)
    assert further_own_spreads(known, known, 0.12, 0.95) < one


def test_the_unlike_power_is_that_of_equal_groups_where_they_are_equal() -> None:
    for n, delta in ((3, 3.0), (5, 2.0), (12, 2.5)):
        found = unlike_welch_power((0.5, 0.5), (n - 1.0, n - 1.0), delta)
        assert found == pytest.approx(float(welch_power(n, delta)), abs=1e-4)


DAYS = list("aabbcc")


@pytest.mark.parametrize(
    ("sides", "spreads", "distance"),
    [
        ((DAYS, DAYS), (0.1, 0.1), 0.11),
        ((DAYS, DAYS), (0.3, 0.1), 0.25),
        ((list("abbc"), list("aabbc")), (0.1, 0.1), 0.12),
    ],
)
def test_within_blocks_the_chance_is_reached(sides, spreads, distance) -> None:
    more = further_in_blocks(sides, spreads, distance, 0.95)
    blocks = [more_blocks(side, runs_per_block(sides), more) for side in sides]
    layout, rng, settled = within_blocks(*blocks), np.random.default_rng(3), 0
    for _ in range(600):
        effect = {one: rng.standard_normal() for one in {*blocks[0], *blocks[1]}}
        own, base = (
            spread * rng.standard_normal(len(side)) + [effect[one] for one in side]
            for spread, side in zip(spreads, blocks, strict=True)
        )
        found = within_blocks_t(layout, own + distance, base, 0.95)
        settled += found is not None and found.low > 0.0
    assert 0.76 < settled / 600 < 0.88


def test_with_bounds_the_chance_is_reached_by_the_limits_of_the_report() -> None:
    subject, reference = Seen(5, 0.1, hidden=0.4), Seen(5, 0.1)
    more = further_with_bounds(subject, reference, 0.25, 0.95)
    rng, settled, draws = np.random.default_rng(8), 0, 150
    for _ in range(draws):
        film = rng.standard_normal(5 + more)
        reached = 0.5 * rng.standard_normal(5 + more) - 0.2533 * np.hypot(1.0, 0.5)
        own = np.exp(0.1 * np.maximum(film, reached) + 0.25), film < reached
        base = np.exp(0.1 * rng.standard_normal(5 + more)), np.zeros(5 + more, dtype=bool)
        if np.sum(~own[1]) > 1:
            low = own_spread_ratio(own_group(*own), own_group(*base)).low
            settled += low is not None and low > 1.0
    assert settled / draws > 0.8 - 2.0 * np.sqrt(0.8 * 0.2 / draws)


def test_the_search_finds_the_first_number_and_none_beyond_the_most() -> None:
    for first in (1, 2, 7, 33, 50):
        assert fewest(lambda m, first=first: float(m >= first)) == first
    assert fewest(lambda m: 0.0) is None

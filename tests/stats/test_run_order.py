"""Run order: balance, randomness and checks."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.stats.run_order import PlannedRun, check_run_order, randomised_run_order

NAMES = ["R-10", "C-21", "C-22", "B-30", "C-23", "C-24"]


@given(st.integers(1, 6), st.integers(1, 7), st.integers(1, 13), st.integers(0, 5))
@settings(max_examples=40, deadline=None)
def test_every_treatment_is_run_as_often_as_wanted_and_days_are_balanced(n, repeats, size, seed):
    runs = randomised_run_order(NAMES[:n], repeats, size, seed)
    assert Counter(run.treatment for run in runs) == dict.fromkeys(NAMES[:n], repeats)
    assert [run.position for run in runs] == list(range(1, n * repeats + 1))
    check = check_run_order(runs)
    assert check.largest_difference <= 1
    sizes = np.sum(list(check.counts.values()), axis=0)
    assert set(sizes[:-1].tolist()) <= {size}
    assert sizes[-1] <= size


@given(st.integers(2, 5), st.integers(1, 6), st.integers(1, 3))
@settings(max_examples=30, deadline=None)
def test_days_that_hold_whole_rounds_are_complete(n, repeats, rounds):
    check = check_run_order(randomised_run_order(NAMES[:n], repeats * rounds, n * rounds, 1))
    assert check.complete_blocks == check.blocks == repeats
    assert check.least_shared == repeats


def test_repeats_are_numbered_in_order():
    runs = randomised_run_order(NAMES[:3], 4, 5, 2)
    for name in NAMES[:3]:
        assert [run.repeat for run in runs if run.treatment == name] == [1, 2, 3, 4]


def test_unequal_repeats_are_spread_over_the_days():
    runs = randomised_run_order(["R-10", "C-21"], {"R-10": 6, "C-21": 3}, 3, 4)
    check = check_run_order(runs)
    assert sum(check.counts["R-10"]) == 6
    assert sum(check.counts["C-21"]) == 3


def test_incomplete_blocks_let_pairs_meet_evenly():
    """Four treatments, three a day, three repeats: a balanced incomplete block design exists."""
    check = check_run_order(randomised_run_order(NAMES[:4], 3, 3, 6))
    assert check.most_shared - check.least_shared <= 1
    assert check.least_shared >= 1


def test_same_seed_same_order_other_seed_other_order():
    assert randomised_run_order(NAMES, 4, 6, 1) == randomised_run_order(NAMES, 4, 6, 1)
    assert randomised_run_order(NAMES, 4, 6, 1) != randomised_run_order(NAMES, 4, 6, 2)


def test_every_treatment_may_come_first():
    """Choosing the most even of 300 draws must not fix who runs first in the day."""
    firsts = Counter(randomised_run_order(NAMES[:3], 2, 3, seed)[0].treatment for seed in range(60))
    assert all(firsts[name] >= 8 for name in NAMES[:3])


def test_mean_places_are_close():
    check = check_run_order(randomised_run_order(NAMES[:4], 6, 8, 3))
    places = list(check.mean_places.values())
    assert max(places) - min(places) < 0.15


def order(*days):
    runs = []
    for block, day in enumerate(days, start=1):
        runs += [PlannedRun(len(runs) + place, block, place, t, 1) for place, t in enumerate(day, start=1)]
    return runs


def test_a_day_for_each_lubricant_is_found():
    findings = check_run_order(order(["A", "A", "A"], ["B", "B", "B"])).findings
    assert any("differ by 3" in text for text in findings)
    assert any("never meet" in text for text in findings)


def test_an_order_that_always_starts_with_one_is_found():
    findings = check_run_order(order(["A", "B"], ["A", "B"], ["A", "B"])).findings
    assert findings == ("A runs early in the day and B late: warming up favours one of them.",)


def test_pairs_that_meet_unevenly_are_found():
    findings = check_run_order(order(["A", "B"], ["B", "A"], ["A", "B"], ["C", "A"], ["B", "C"])).findings
    assert any("share 1 to 3 days" in text for text in findings)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: randomised_run_order(["A", "A"], 1, 2, 0), "only once"),
        (lambda: randomised_run_order([], 1, 2, 0), "named"),
        (lambda: randomised_run_order(["A"], 0, 2, 0), "at least 1"),
        (lambda: randomised_run_order(["A"], {"B": 2}, 2, 0), "at least 1"),
        (lambda: randomised_run_order(["A"], 1, 0, 0), "at least 1"),
        (lambda: check_run_order([]), "nothing to check"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()

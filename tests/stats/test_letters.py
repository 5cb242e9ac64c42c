"""Letter groups and the adjustment for several comparisons."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from pinscar.stats.simultaneous import letter_groups
from pinscar.stats.two_groups import bonferroni_confidence, holm

NAMES = [f"oil-{i}" for i in range(6)]


@given(st.sets(st.sampled_from(list(combinations(NAMES, 2)))))
def test_a_letter_is_shared_exactly_by_those_not_told_apart(different) -> None:
    letters = letter_groups(NAMES, sorted(different))
    for first, second in combinations(NAMES, 2):
        shared = set(letters[first]) & set(letters[second])
        assert bool(shared) == ((first, second) not in different)


def test_letters_follow_the_order_of_the_names() -> None:
    letters = letter_groups(["low", "mid", "high"], [("high", "low")])
    assert letters == {"low": "a", "mid": "ab", "high": "b"}


def test_no_letter_is_wasted() -> None:
    assert set(letter_groups(NAMES, []).values()) == {"a"}
    apart = letter_groups(NAMES, list(combinations(NAMES, 2)))
    assert sorted(apart.values()) == list("abcdef")


@pytest.mark.parametrize(
    ("names", "pairs"), [(["a", "a"], []), (["a", "b"], [("a", "c")]), (["a", "b"], [("a", "a")])]
)
def test_unknown_names_are_refused(names, pairs) -> None:
    with pytest.raises(ValueError, match="names"):
        letter_groups(names, pairs)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
@settings(max_examples=40, deadline=None)
def test_holm_agrees_with_statsmodels(p: list[float]) -> None:
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1], abs=1e-12)


def test_bonferroni_splits_the_error() -> None:
    assert bonferroni_confidence(0.95, 1) == pytest.approx(0.95)
    assert bonferroni_confidence(0.9, 4) == pytest.approx(0.975)


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.5, 1.2])
    with pytest.raises(ValueError, match="at least one"):
        holm(np.array([]))
    with pytest.raises(ValueError, match="at least one"):
        bonferroni_confidence(0.95, 0)

"""Two groups and all pairs: relations and second libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.simultaneous import dunnett
from pinscar.stats.two_groups import contrast, paired_t, pooled_t, pooled_variance, welch_t


@pytest.fixture
def groups() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(3)
    return {name: rng.normal(i, 1 + i / 2, 4 + i) for i, name in enumerate("abc")}


def test_two_groups_agree_with_scipy(groups) -> None:
    for ours, equal in ((pooled_t, True), (welch_t, False)):
        theirs = stats.ttest_ind(groups["b"], groups["a"], equal_var=equal)
        interval = theirs.confidence_interval(0.9)
        result = ours(groups["b"], groups["a"], 0.9)
        assert (result.statistic, result.p, result.df) == pytest.approx(
            (theirs.statistic, theirs.pvalue, theirs.df), rel=1e-10
        )
        assert (result.low, result.high) == pytest.approx((interval.low, interval.high), rel=1e-10, abs=0)


def test_dunnett_with_one_group_is_the_pooled_t(groups) -> None:
    single = dunnett([groups["a"]], groups["b"])[0]
    plain = pooled_t(groups["a"], groups["b"])
    assert (single.low, single.high, single.p) == pytest.approx(
        (plain.low, plain.high, plain.p), rel=1e-9, abs=0
    )


def test_other_groups_lend_their_spread(groups) -> None:
    result = dunnett([groups["a"]], groups["b"], others=[groups["c"]])[0]
    variance, df = pooled_variance(list(groups.values()))
    assert result.df == df == 12
    assert result.standard_error == pytest.approx(np.sqrt(variance * (1 / 4 + 1 / 5)))


def test_one_sided_sides_mirror_each_other(groups) -> None:
    above = dunnett([groups["a"], groups["c"]], groups["b"], alternative="greater")
    below = dunnett([-groups["a"], -groups["c"]], -groups["b"], alternative="less")
    for first, second in zip(above, below, strict=True):
        assert first.p == pytest.approx(second.p, rel=1e-9, abs=0)
        assert first.low == pytest.approx(-second.high, rel=1e-9, abs=0)
        assert (first.high, second.low) == (np.inf, -np.inf)


def test_the_order_of_the_groups_does_not_matter(groups) -> None:
    first = dunnett([groups["a"], groups["b"]], groups["c"])
    second = dunnett([groups["b"], groups["a"]], groups["c"])
    assert first[0].p == pytest.approx(second[1].p, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: pooled_t([1.0, 1.0], [1.0, 1.0]), "no spread"),
        (lambda: pooled_t([1.0], [2.0]), "two values"),
        (lambda: welch_t([1.0], [2.0, 3.0]), "at least two"),
        (lambda: welch_t([1.0, 1.0], [2.0, 2.0]), "some spread"),
        (lambda: paired_t([1.0, 2.0], [1.0]), "complete"),
        (lambda: contrast(1.0, 0.0, 3, 0.95), "must be positive"),
        (lambda: dunnett([], [1.0, 2.0]), "at least one"),
        (lambda: dunnett([[1.0, 1.0]], [1.0, 1.0]), "spread"),
        (lambda: dunnett([[1.0, 2.0]], [1.0, 2.0], alternative="up"), "alternative"),
    ],
)
def test_misuse_is_refused(call, word) -> None:
    with pytest.raises(ValueError, match=word):
        call()

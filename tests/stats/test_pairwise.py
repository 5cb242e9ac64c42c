"""Two groups and all pairs: relations and second libraries."""

from __future__ import annotations

import numpy as np
import pingouin
import pytest
from scipy import stats

from pinscar.stats.pairwise import brown_forsythe, contrast, paired_t, pooled_t, pooled_variance, welch_t
from pinscar.stats.simultaneous import dunnett, games_howell, tukey


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


def test_brown_forsythe_agrees_with_scipy(groups) -> None:
    theirs = stats.levene(*groups.values(), center="median")
    assert brown_forsythe(list(groups.values())) == pytest.approx(
        (theirs.statistic, theirs.pvalue), rel=1e-10
    )


def test_tukey_agrees_with_scipy(groups) -> None:
    theirs = stats.tukey_hsd(*groups.values())
    ours = tukey(groups)
    interval = theirs.confidence_interval(0.95)
    for i, j in ((0, 1), (0, 2), (1, 2)):
        pair = ours["abc"[i], "abc"[j]]
        assert pair.p == pytest.approx(theirs.pvalue[i, j], abs=1e-9)
        assert (pair.low, pair.high) == pytest.approx(
            (interval.low[i, j], interval.high[i, j]), rel=1e-6, abs=0
        )


def test_games_howell_agrees_with_pingouin(groups) -> None:
    import pandas as pd

    frame = pd.DataFrame(
        [(name, value) for name, values in groups.items() for value in values], columns=["g", "y"]
    )
    theirs = pingouin.pairwise_gameshowell(frame, dv="y", between="g").set_index(["A", "B"])
    for pair, result in games_howell(groups).items():
        assert result.p == pytest.approx(theirs.loc[pair, "pval"], abs=1e-8)
        assert result.standard_error == pytest.approx(theirs.loc[pair, "se"], rel=1e-8, abs=0)


def test_two_groups_of_tukey_are_the_pooled_t(groups) -> None:
    pair = tukey({"a": groups["a"], "b": groups["b"]})["a", "b"]
    plain = pooled_t(groups["a"], groups["b"])
    assert (pair.low, pair.p) == pytest.approx((plain.low, plain.p), rel=1e-5, abs=0)


def test_games_howell_p_is_never_zero() -> None:
    far = games_howell({"a": [1.0, 1.1, 0.9], "b": [1e6, 1e6 + 1, 1e6 - 1]})["a", "b"]
    assert 0 < far.p < 1e-6


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
        (lambda: brown_forsythe([[1.0, 2.0]]), "at least two"),
        (lambda: brown_forsythe([[1.0], [2.0]]), "more than one value"),
        (lambda: brown_forsythe([[1.0, 2.0], [2.0, 5.0]]), "distance"),
        (lambda: contrast(1.0, 0.0, 3, 0.95), "must be positive"),
        (lambda: dunnett([], [1.0, 2.0]), "at least one"),
        (lambda: dunnett([[1.0, 1.0]], [1.0, 1.0]), "spread"),
        (lambda: dunnett([[1.0, 2.0]], [1.0, 2.0], alternative="up"), "alternative"),
        (lambda: tukey({"a": [1.0, 2.0]}), "at least two"),
        (lambda: tukey({"a": [1.0, 1.0], "b": [1.0, 1.0]}), "spread"),
    ],
)
def test_misuse_is_refused(call, word) -> None:
    with pytest.raises(ValueError, match=word):
        call()

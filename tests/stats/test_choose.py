"""The chooser: each rule takes the data it is written for, and says what it did."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.censored_groups import censored_ratio, fit_censored_groups, own_group, own_spread_ratio
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.family import rules_text
from pinscar.stats.simultaneous import dunnett
from pinscar.stats.two_groups import guarded_critical, outward_factor, paired_t

R = [100.0, 104.0, 97.0, 108.0, 101.0]
A = [88.0, 93.0, 86.0, 91.0, 95.0]
B = [118.0, 122.0, 113.0, 127.0, 119.0]
WILD = [60.0, 150.0, 95.0, 240.0, 70.0]


def guarded(subject: list[float], reference: list[float], confidence: float) -> tuple[float, float, float]:
    """Difference and reach of Welch's t with the guarded critical value, and the reach of Welch's own."""
    logs = np.log(subject), np.log(reference)
    v = [y.var(ddof=1) / y.size for y in logs]
    dfs = tuple(y.size - 1.0 for y in logs)
    error = 1.0 - confidence
    critical = guarded_critical(v[0] / sum(v), dfs, error, outward_factor(dfs, round(error, 12)))
    welch = stats.ttest_ind(*logs, equal_var=False).confidence_interval(confidence)
    return logs[0].mean() - logs[1].mean(), float(critical) * np.sqrt(sum(v)), (welch.high - welch.low) / 2


def test_two_groups_take_guarded_welch_whatever_their_spreads() -> None:
    for other, least, most in ((A, 1.0, 1.05), (WILD, 1.0, 1.05), (A[:3], 1.0, 1.5)):
        (result,) = compare_with_reference({"R": R, "A": other}, "R", 0.9)
        centre, reach, plain = guarded(other, R, 0.9)
        assert (result.low, result.high) == pytest.approx(
            (np.exp(centre - reach), np.exp(centre + reach)), rel=1e-9, abs=0
        )
        assert least <= reach / plain < most
        assert "Welch t on logs" in result.method
        assert (result.n, result.n_reference, result.difference) == (len(other), 5, None)


def test_p_is_small_exactly_where_the_limits_leave_one_out() -> None:
    (result,) = compare_with_reference({"R": R, "A": A[:3]}, "R", 0.95)
    assert (result.p_adjusted < 0.05) == (result.high < 1.0)
    assert "guarded" in result.method
    rng = np.random.default_rng(8)
    for n, m in ((2, 2), (2, 5), (3, 3), (6, 3)):
        for shift in np.linspace(0.5, 6.0, 40):
            values = {"R": np.exp(rng.normal(size=n)), "A": np.exp(shift + rng.normal(size=m))}
            (one,) = compare_with_reference(values, "R", 0.95)
            assert (one.p_adjusted < 0.05) == (one.low > 1.0 or one.high < 1.0)


def test_several_groups_share_the_error_by_sidak() -> None:
    results = compare_with_reference({"A": A, "R": R, "W": WILD}, "R")
    assert [r.subject for r in results] == ["A", "W"]
    for result, group in zip(results, (A, WILD), strict=True):
        centre, reach, _ = guarded(group, R, 0.95**0.5)
        assert (result.low, result.high) == pytest.approx(
            (np.exp(centre - reach), np.exp(centre + reach)), rel=1e-9, abs=0
        )
        assert (result.p_adjusted < 0.05) == (result.high < 1.0 or result.low > 1.0)
        assert "Šidák over 2 comparisons" in result.method


def test_a_spread_is_pooled_only_where_the_design_says_so() -> None:
    (one,) = compare_with_reference({"R": R, "A": A}, "R", pooled=True)
    theirs = stats.ttest_ind(np.log(A), np.log(R))
    assert one.p_adjusted == pytest.approx(theirs.pvalue, rel=1e-9, abs=0)
    assert "pooled t on logs (8 degrees of freedom)" in one.method
    assert "as the campaign says" in one.note
    several = compare_with_reference({"A": A, "R": R, "B": B}, "R", pooled=True)
    expected = dunnett([np.log(A), np.log(B)], np.log(R))
    for result, c in zip(several, expected, strict=True):
        assert (result.low, result.high) == pytest.approx((np.exp(c.low), np.exp(c.high)), rel=1e-9, abs=0)
        assert "Dunnett" in result.method


def test_linear_scale_gives_differences() -> None:
    (result,) = compare_with_reference({"R": [-1.0, 1.0, 0.5], "A": [2.0, 3.0, 2.2]}, "R", scale="linear")
    assert result.ratio is None
    assert result.difference == pytest.approx(2.4 - 0.5 / 3, rel=1e-12, abs=0)
    assert result.low < result.difference < result.high
    assert "logs" not in result.method


def test_single_runs_give_a_ratio_and_stay_out_of_the_family() -> None:
    alone, tested = compare_with_reference({"R": R, "S": [120.0], "A": A}, "R")
    assert alone.ratio == pytest.approx(120 / stats.gmean(R))
    assert (alone.low, alone.high, alone.p_adjusted) == (None, None, None)
    assert "single run, no interval" in alone.note
    assert "Šidák" not in tested.method  # one comparison is left


def test_a_single_reference_run_leaves_no_interval() -> None:
    results = compare_with_reference({"R": [100.0], "A": A, "B": B}, "R")
    assert all(r.low is None and r.p_adjusted is None and "R: single run" in r.note for r in results)


def test_a_group_without_spread_is_null_and_the_others_stand() -> None:
    flat, tested = compare_with_reference({"R": R, "F": [90.0] * 4, "A": A}, "R")
    assert (flat.low, flat.p_adjusted) == (None, None)
    assert "same value" in flat.note
    assert tested.low is not None


def test_blocks_are_modelled() -> None:
    days = np.array([0.0, 0.1, -0.1, 0.2, -0.05])
    values = {"R": np.array(R) * np.exp(days), "A": np.array(A) * np.exp(days)}
    labels = {"R": list("abcde"), "A": list("abcde")}
    (result,) = compare_with_reference(values, "R", blocks=labels)
    c = paired_t(np.log(values["A"]), np.log(values["R"]))
    assert (result.low, result.high) == pytest.approx((np.exp(c.low), np.exp(c.high)), rel=1e-9, abs=0)
    assert "within blocks, Welch t on logs (4.0 degrees of freedom)" in result.method
    (unblocked,) = compare_with_reference(values, "R")
    assert result.high / result.low < unblocked.high / unblocked.low


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ({"R": ["d"] * 5, "A": ["d"] * 5}, "one block"),
        ({"R": ["d"] * 5, "A": ["e"] * 5}, "confounded"),
        ({"R": list("abcde"), "A": list("fghij")}, "single run"),
        ({"R": ["a", "b", "", "a", "b"], "A": list("ababa")}, "no block recorded"),
    ],
)
def test_blocks_that_cannot_be_modelled_leave_the_unblocked_method_and_a_reason(blocks, words) -> None:
    values = {"R": [100.0, 101.0, 102.0, 103.0, 104.0], "A": [90.0, 91.0, 92.0, 93.0, 94.0]}
    (result,) = compare_with_reference(values, "R", blocks=blocks)
    (plain,) = compare_with_reference(values, "R")
    assert words in result.note
    assert (result.low, result.high, result.method) == (plain.low, plain.high, plain.method)


def test_a_subject_without_a_common_block_is_marked() -> None:
    blocks = {"R": list("abcab"), "A": list("abcba"), "B": list("ddeed")}
    values = {"R": [100.0, 130.0, 80.0, 102.0, 128.0], "A": [90.0, 118.0, 71.0, 119.0, 92.0], "B": B}
    linked, unlinked = compare_with_reference(values, "R", blocks=blocks)
    assert linked.note is None
    assert "share too few blocks" in unlinked.note
    assert unlinked.high / unlinked.low > 2 * linked.high / linked.low
    one_spread = compare_with_reference(values, "R", blocks=blocks, pooled=True)
    assert "shares no block" in one_spread[1].note
    assert "Kenward-Roger" in one_spread[1].method


def test_the_layout_decides_and_never_the_values() -> None:
    """Blocks that happen to look alike are not left out, or the spread would be chosen by chance."""
    blocks = {"R": list("abcde"), "A": list("edcba")}
    values = {"R": [100.0, 101.0, 102.0, 103.0, 104.0], "A": [90.0, 91.0, 92.0, 93.0, 94.0]}
    (result,) = compare_with_reference(values, "R", blocks=blocks)
    theirs = paired_t(np.log(values["A"][::-1]), np.log(values["R"]))
    assert (result.low, result.high) == pytest.approx((np.exp(theirs.low), np.exp(theirs.high)), rel=1e-9)


def test_oils_in_one_block_each_have_no_interval() -> None:
    blocks = {"R": list("aaabb"), "A": list("ccccc"), "B": list("aabba")}
    apart, together = compare_with_reference({"R": R, "A": A, "B": B}, "R", blocks=blocks)
    assert (apart.low, apart.p_adjusted) == (None, None)
    assert "one block tells nothing" in apart.note
    assert together.low is not None


def test_one_spread_in_blocks_is_the_two_way_analysis_of_variance() -> None:
    """Dunnett within complete blocks: residual mean square with (k - 1)(b - 1) degrees of freedom."""
    rng = np.random.default_rng(4)
    table = rng.normal(0.0, 0.2, (5, 3)) + rng.normal(0.0, 1.5, (5, 1)) + np.array([0.0, 0.3, 0.9])
    groups = {name: np.exp(table[:, j]) for j, name in enumerate("RAB")}
    found = compare_with_reference(groups, "R", blocks=dict.fromkeys("RAB", "vwxyz"), pooled=True)
    residual = table - table.mean(axis=0) - table.mean(axis=1, keepdims=True) + table.mean()
    error = np.sqrt(np.sum(residual**2) / 8 * 2 / 5)
    for one in found:
        reach = np.log(one.high / one.low) / 2
        assert reach / error == pytest.approx(2.6728, abs=5e-4)  # Dunnett, two against a control, 8 df
        assert "within blocks, one spread on logs (8 degrees of freedom)" in one.method


def masks(**given) -> dict[str, list[bool]]:
    return {name: [bool(int(c)) for c in text] for name, text in given.items()}


def test_censored_groups_keep_their_own_spreads() -> None:
    values, hidden = {"R": R, "A": A, "W": WILD}, masks(A="01001", W="10000")
    for result in compare_with_reference(values, "R", left_censored=hidden):
        name = result.subject
        own = own_group(values[name], hidden[name]), own_group(R, [False] * 5)
        direct = own_spread_ratio(*own, 0.975)
        assert (result.low, result.high) == pytest.approx((direct.low, direct.high), rel=1e-9, abs=0)
        assert result.p_adjusted == pytest.approx(min(1.0, 2 * direct.p), rel=1e-9, abs=0)
        assert "its own spread" in result.method
    (lacking,) = compare_with_reference({"R": R, "A": A}, "R", left_censored=masks(A="01111"))
    assert (lacking.low, lacking.high) == (None, None)
    assert "its own spread is unknown" in lacking.note


def test_censored_groups_take_the_regression_where_the_campaign_says_one_spread() -> None:
    hidden = masks(R="00000", A="01001")
    (result,) = compare_with_reference({"R": R, "A": A}, "R", left_censored=hidden, pooled=True)
    fitted = fit_censored_groups({"R": R, "A": A}, masks(R="00000", A="01001"))
    direct = censored_ratio(fitted, "A", "R")
    assert (result.ratio, result.low, result.high) == pytest.approx(
        (direct.ratio, direct.low, direct.high), rel=1e-9
    )
    assert result.p_adjusted == pytest.approx(direct.p, rel=1e-9, abs=0)
    assert (result.n_censored, result.n_censored_reference) == (2, 0)
    assert "calibrated" in result.method
    assert result.note is None
    assert result.low < result.profile_low < result.profile_high < result.high


def test_several_censored_groups_share_the_error() -> None:
    values, hidden = {"R": R, "A": A, "B": B}, masks(R="10000", A="01001", B="00000")
    results = compare_with_reference(values, "R", left_censored=hidden, pooled=True)
    fitted = fit_censored_groups(values, hidden)
    for result in results:
        direct = censored_ratio(fitted, result.subject, "R", 0.975)
        assert (result.low, result.high) == pytest.approx((direct.low, direct.high), rel=1e-9, abs=0)
    raw = {name: censored_ratio(fitted, name, "R").p for name in "AB"}
    assert [r.p_adjusted for r in results] == pytest.approx([min(1.0, 2 * raw[r.subject]) for r in results])
    assert "Bonferroni level of 0.975" in results[0].method


@pytest.mark.parametrize("seed", range(40))
def test_the_adjusted_p_of_censored_groups_is_small_exactly_where_the_interval_leaves_one_out(seed) -> None:
    rng = np.random.default_rng(seed)
    values = {
        name: np.exp(0.2 * rng.standard_normal(4) + shift)
        for name, shift in {"R": 0.0, "A": 0.3, "B": -0.3, "C": 0.5}.items()
    }
    hidden = {name: rng.random(4) < 0.3 for name in values}
    for result in compare_with_reference(values, "R", 0.9, left_censored=hidden):
        if result.p_adjusted is not None:
            inside = (result.low or 0.0) <= 1.0 <= (result.high or np.inf)
            assert (result.p_adjusted < 0.1) == (not inside)


def test_a_wholly_censored_subject_gives_an_upper_bound_only() -> None:
    low_film = [70.0, 72.0, 69.0, 71.0, 73.0, 70.0]
    (result,) = compare_with_reference({"R": R, "C": low_film}, "R", left_censored=masks(C="111111"))
    assert (result.ratio, result.low, result.p_adjusted) == (None, None, None)
    assert 73 / 100 < result.high < 0.8
    assert "all runs of C are censored" in result.note


def test_a_wholly_censored_reference_gives_a_lower_bound_only() -> None:
    (result,) = compare_with_reference({"R": [70.0] * 6, "B": B}, "R", left_censored=masks(R="111111"))
    assert (result.ratio, result.high) == (None, None)
    assert 1.5 < result.low < 120 / 70


def test_too_few_wholly_censored_runs_give_nothing_and_the_reason() -> None:
    (result,) = compare_with_reference({"R": R, "C": [70.0] * 3}, "R", left_censored=masks(C="111"))
    assert (result.ratio, result.low, result.high) == (None, None, None)
    assert "0.875" in result.note


def test_beside_a_bound_the_complete_groups_keep_their_exact_method() -> None:
    values = {"R": R, "A": A, "C": [70.0] * 7}
    exact, bound = compare_with_reference(values, "R", left_censored=masks(C="1111111"))
    (alone,) = compare_with_reference({"R": R, "A": A}, "R", 0.975)
    assert (exact.low, exact.high) == pytest.approx((alone.low, alone.high), rel=1e-9, abs=0)
    assert exact.p_adjusted == pytest.approx(2 * alone.p_adjusted, rel=1e-9, abs=0)
    assert exact.confidence == 0.95
    assert "Welch t" in exact.method
    assert bound.high is not None


@pytest.mark.parametrize(
    ("values", "hidden", "words"),
    [
        ({"R": [80.0] * 6, "C": [70.0] * 6}, {"R": "111111", "C": "111111"}, "nothing bounds"),
        ({"R": R, "C": [70.0]}, {"C": "1"}, "single run"),
        ({"R": [100.0, 90.0], "C": [80.0, 70.0]}, {"R": "10", "C": "01"}, "spread is unknown"),
        ({"R": [100.0, 90.0], "C": [70.0] * 7}, {"R": "10", "C": "1111111"}, "too few uncensored"),
        ({"R": [100.0, 100.0], "C": [80.0, 70.0]}, {"C": "01"}, "same value"),
    ],
)
def test_what_cannot_be_said_is_none_with_a_reason(values, hidden, words) -> None:
    (result,) = compare_with_reference(values, "R", left_censored=masks(**hidden))
    assert (result.ratio, result.low, result.high, result.p_adjusted) == (None, None, None, None)
    assert words in result.note


def test_a_single_uncensored_run_beside_censored_groups_keeps_its_ratio() -> None:
    values, hidden = {"R": R, "S": [120.0], "A": A}, masks(A="00100")
    single, tested = compare_with_reference(values, "R", left_censored=hidden)
    assert single.ratio == pytest.approx(120 / stats.gmean(R))
    assert single.low is None
    assert "Bonferroni" not in tested.method


def test_censored_blocks_are_modelled_and_narrow_the_ratio_where_days_differ() -> None:
    days = {name: list("aabbcc") for name in "RA"}
    values = {"R": [100, 104, 71, 69, 141, 146.0], "A": [119, 126, 87, 86, 167, 170.0]}
    hidden = masks(R="000100", A="001000")
    (blocked,) = compare_with_reference(values, "R", blocks=days, left_censored=hidden)
    (plain,) = compare_with_reference(values, "R", left_censored=hidden)
    assert 1.0 < blocked.low < blocked.ratio < blocked.high
    assert plain.low < 1.0 < plain.high
    assert "random effect" in blocked.method
    assert blocked.p_adjusted < 0.05 < plain.p_adjusted


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ({"R": list("aaaaa"), "A": list("bbbbb")}, "confounded"),
        ({"R": list("aaaaa"), "A": list("aaaaa")}, "one block"),
        ({"R": list("abcde"), "A": list("fghij")}, "single run"),
        ({"R": ["a", "", "b", "a", "b"], "A": list("abbab")}, "1 of 10 runs have no block"),
    ],
)
def test_censored_blocks_that_cannot_be_modelled_are_left_out_with_the_reason(days, words) -> None:
    hidden = masks(A="00100")
    (result,) = compare_with_reference({"R": R, "A": A}, "R", blocks=days, left_censored=hidden)
    (plain,) = compare_with_reference({"R": R, "A": A}, "R", left_censored=hidden)
    assert (result.low, result.high) == (plain.low, plain.high)
    assert words in result.note


def test_a_pair_in_blocks_without_two_values_seen_has_no_interval_and_the_others_stand() -> None:
    """Each pair is fitted alone, so a third oil's spread does not help it."""
    days = {name: list("aabbc") for name in ("R", "A", "B")}
    hidden = masks(R="01111", A="11011", B="00000")
    lacking, tested = compare_with_reference({"R": R, "A": A, "B": B}, "R", blocks=days, left_censored=hidden)
    assert (lacking.low, lacking.p_adjusted) == (None, None)
    assert "spread is unknown" in lacking.note
    assert tested.subject == "B"


def test_masks_without_a_censored_run_change_nothing() -> None:
    plain = compare_with_reference({"R": R, "A": A}, "R")
    assert compare_with_reference({"R": R, "A": A}, "R", left_censored=masks(A="00000")) == plain


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ({"values": {"A": A}, "reference": "R"}, "reference"),
        ({"values": {"R": R}, "reference": "R"}, "beside the reference"),
        ({"values": {"R": R, "A": [1.0, -1.0]}, "reference": "R"}, "positive"),
        ({"values": {"R": R, "A": A}, "reference": "R", "confidence": 95}, "between 0 and 1"),
        ({"values": {"R": R, "A": A}, "reference": "R", "blocks": {"R": list("abcde")}}, "one label"),
        (
            {
                "values": {"R": R, "A": A},
                "reference": "R",
                "scale": "linear",
                "left_censored": masks(A="10000"),
            },
            "log scale",
        ),
    ],
)
def test_misuse_is_refused(arguments, word) -> None:
    with pytest.raises(ValueError, match=word):
        compare_with_reference(**arguments)


def test_the_printed_rules_name_every_method() -> None:
    text = rules_text()
    for word in (
        "pooled t",
        "Welch",
        "Dunnett",
        "Šidák",
        "Kenward-Roger",
        "likelihood limits calibrated",
        "sign test",
    ):
        assert word in text

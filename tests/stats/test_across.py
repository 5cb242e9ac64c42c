"""Campaigns joined through the reference: limits, relations, ranking and coverage."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, f, ttest_1samp, ttest_ind

from pinscar.stats.across import CampaignRatio, campaign_ratios, joint_fit, rank_lubricants
from pinscar.stats.random_effects import between_variance, random_effects

TWO = {
    "01": {"R": [100.0, 110.0, 105.0, 98.0], "A": [140.0, 150.0, 145.0, 139.0], "B": [90.0, 85.0, 95.0]},
    "02": {"R": [120.0, 125.0, 118.0], "A": [160.0, 170.0, 181.0], "C": [121.0, 118.0, 127.0]},
}


def test_two_lubricants_give_the_pooled_t_standard_error():
    cells = {"R": TWO["01"]["R"], "A": TWO["01"]["A"]}
    (ratio,), _ = campaign_ratios({"01": cells}, "R")
    other = ttest_ind(np.log(cells["A"]), np.log(cells["R"]))
    assert ratio.log_ratio / ratio.standard_error == pytest.approx(float(other.statistic), rel=1e-10, abs=0)
    assert ratio.df == other.df


def test_spread_is_pooled_over_the_whole_campaign():
    ratios, left_out = campaign_ratios(TWO, "R")
    assert left_out == ()
    assert {(r.campaign, r.lubricant): r.df for r in ratios}[("01", "A")] == 8


def test_a_unit_that_differs_between_campaigns_falls_out():
    scaled = {"01": TWO["01"], "02": {name: 1000 * np.array(values) for name, values in TWO["02"].items()}}
    one, other = campaign_ratios(TWO, "R")[0], campaign_ratios(scaled, "R")[0]
    assert [r.log_ratio for r in other] == pytest.approx([r.log_ratio for r in one], abs=1e-12)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"A": [1.0, 2.0]}, "The reference R was not run."),
        ({"R": [], "A": [1.0, 2.0]}, "The reference R was not run."),
        ({"R": [1.0, 2.0]}, "Only the reference R was run."),
        ({"R": [1.0], "A": [2.0]}, "No lubricant was run twice, so the spread is unknown."),
        ({"R": [1.0, 1.0], "A": [2.0]}, "Repeats do not differ at all, so the spread is unknown."),
    ],
)
def test_campaigns_that_cannot_be_joined_are_left_out_with_the_reason(cells, words):
    ratios, left_out = campaign_ratios({"03": cells}, "R")
    assert ratios == ()
    assert [(item.campaign, item.reason) for item in left_out] == [("03", words)]


def test_campaigns_that_agree_have_no_spread_and_the_weighted_mean():
    result = random_effects([0.20, 0.21, 0.19], [0.05, 0.1, 0.05])
    weights = np.array([400.0, 100.0, 400.0])
    assert result.between_sd == 0.0
    assert result.estimate == pytest.approx(np.sum(weights * [0.20, 0.21, 0.19]) / 900)
    assert result.standard_error == pytest.approx(1 / 30)


def test_campaigns_that_differ_much_are_weighted_alike():
    result = random_effects([0.0, 5.0, 10.0, 3.0], [0.01, 0.1, 0.05, 0.02])
    values = np.array([0.0, 5.0, 10.0, 3.0])
    assert result.estimate == pytest.approx(values.mean(), rel=1e-2, abs=0)
    assert result.standard_error == pytest.approx(values.std(ddof=1) / 2, rel=1e-2, abs=0)


def test_equal_errors_give_the_plain_t_interval_and_variance():
    y = np.array([0.1, 0.5, 0.3, 0.9])
    result = random_effects(y, np.full(4, 0.1))
    assert result.between_sd**2 == pytest.approx(y.var(ddof=1) - 0.01, rel=1e-9, abs=0)
    assert result.high - result.low == pytest.approx(2 * 3.182446 * y.std(ddof=1) / 2, rel=1e-6, abs=0)
    assert result.prediction_high > result.high


def test_one_campaign_alone_has_its_own_t_interval_and_says_so():
    result = random_effects([0.3], [0.1], within_df=8)
    assert result.high - 0.3 == pytest.approx(2.306004 * 0.1, rel=1e-6, abs=0)
    assert (result.between_sd, result.prediction_low, result.q) == (None, None, None)
    assert result.note == "One campaign: the spread between campaigns is not in the interval."


def test_one_campaign_borrows_the_spread_of_the_others():
    others = [([0.0, 0.5, 1.0], [0.1, 0.1, 0.1]), ([0.2, 0.9], [0.1, 0.1])]
    result = random_effects([0.3], [0.1], shared_with=others)
    assert result.df == 3
    assert result.standard_error == pytest.approx(math.hypot(0.1, result.between_sd))
    assert result.between_sd == pytest.approx(math.sqrt(between_variance(others)))


def test_shared_variance_of_equal_groups_is_the_mean_of_their_variances():
    groups = [([0.0, 1.0], [0.1, 0.1]), ([0.0, 2.0], [0.1, 0.1])]
    assert between_variance(groups) == pytest.approx((0.5 + 2.0) / 2 - 0.01, rel=1e-9, abs=0)


@given(
    st.lists(st.tuples(st.floats(-1, 1), st.floats(0.02, 0.5)), min_size=2, max_size=8), st.floats(0.01, 100)
)
@settings(max_examples=60, deadline=None)
def test_scale_and_order_of_campaigns(data, scale):
    y, s = np.array(data).T
    one, other = random_effects(y, s), random_effects(scale * y[::-1], scale * s[::-1])
    assert other.low == pytest.approx(scale * one.low, rel=1e-5, abs=1e-6 * scale)
    assert one.low <= one.estimate <= one.high


def ratios_of(table):
    return [
        CampaignRatio(campaign=c, lubricant=o, log_ratio=y, standard_error=0.03, df=8, n=5, n_reference=5)
        for c, o, y in table
    ]


def test_ranking_turns_with_the_sense_of_the_response():
    ratios = ratios_of([("01", "A", 0.3), ("02", "A", 0.31), ("01", "B", -0.2), ("02", "B", -0.21)])
    best = [line.lubricant for line in rank_lubricants(ratios, "R")]
    assert best == ["A", "R", "B"]
    assert [line.lubricant for line in rank_lubricants(ratios, "R", higher_is_better=False)] == best[::-1]


def test_places_stay_open_where_intervals_overlap():
    table = [(c, o, y) for c in ("01", "02", "03", "04") for o, y in (("A", 0.5), ("B", 0.49), ("C", -0.5))]
    lines = {line.lubricant: line for line in rank_lubricants(ratios_of(table), "R")}
    assert (lines["A"].best_rank, lines["A"].worst_rank) == (1, 2)
    assert (lines["B"].best_rank, lines["B"].worst_rank) == (1, 2)
    assert (lines["R"].rank, lines["R"].best_rank, lines["R"].worst_rank) == (3, 3, 3)
    assert (lines["C"].best_rank, lines["C"].worst_rank) == (4, 4)
    assert lines["R"].low is None
    assert lines["C"].campaigns == ("01", "02", "03", "04")


def test_own_spread_does_not_look_at_the_others():
    table = [("01", "A", 0.0), ("02", "A", 0.9), ("01", "B", 0.2), ("02", "B", 0.2)]
    own = {line.lubricant: line for line in rank_lubricants(ratios_of(table), "R", shared_spread=False)}
    assert own["B"].combination.between_sd == 0.0
    assert own["A"].combination.between_sd > 0.5
    shared = {line.lubricant: line for line in rank_lubricants(ratios_of(table), "R")}
    assert shared["A"].combination.between_sd == pytest.approx(shared["B"].combination.between_sd)


def simulated(rng, n_campaigns, n_oils, runs, between, reference_too):
    """True ratios 1; runs of spread 0.1; each ratio moves by `between` from campaign to campaign.

    Either every oil moves alike, the reference too, or the reference stands still.
    """
    share = np.full(n_oils + 1, between / math.sqrt(2.0) if reference_too else between)
    share[0] = between / math.sqrt(2.0) if reference_too else 0.0
    moved = share * rng.standard_normal((n_campaigns + 1, n_oils + 1))
    names = ["R", *"ABCDEFG"[:n_oils]]
    campaigns = {
        str(campaign): {
            name: np.exp(moved[campaign, oil] + 0.1 * rng.standard_normal(runs))
            for oil, name in enumerate(names)
        }
        for campaign in range(n_campaigns)
    }
    fit = joint_fit(campaign_ratios(campaigns, "R")[0])
    return fit, moved[-1, 1] - moved[-1, 0]


@pytest.mark.slow
@pytest.mark.parametrize("reference_too", [True, False])
@pytest.mark.parametrize("n_oils", [1, 3])
@pytest.mark.parametrize(("n_campaigns", "runs"), [(3, 2), (3, 5), (5, 3), (8, 2), (8, 5)])
def test_coverage_of_ratio_spread_and_prediction(n_campaigns, runs, n_oils, reference_too):
    """95 % within 2 points and three standard errors of 500 draws; campaigns scatter as runs do.

    Where the reference stands still, ratios correlate less than the fit takes them to, and intervals hold
    more often: no upper bound then.
    """
    rng = np.random.default_rng(17)
    hits = []
    for _ in range(500):
        fit, new = simulated(rng, n_campaigns, n_oils, runs, 0.1, reference_too)
        line = fit.combinations["A"]
        hits.append(
            [
                line.low <= 0.0 <= line.high,
                fit.between_low <= 0.1 <= fit.between_high,
                line.prediction_low <= new <= line.prediction_high,
            ]
        )
    error = 3.0 * math.sqrt(0.95 * 0.05 / 500)
    for share in np.mean(hits, axis=0):
        assert share >= 0.93 - error
        if reference_too or n_oils == 1:
            assert share <= 0.97 + error


def test_equal_runs_give_the_t_interval_of_the_ratios_whatever_the_spread():
    """One oil: a plain t interval of the log ratios, by scipy, whether the spread is found to be 0 or not."""
    for logs in ([0.1, 0.5, 0.3, 0.9], [0.1, 0.2, 0.3, 0.15]):
        ratios = [
            CampaignRatio(
                campaign=str(i), lubricant="A", log_ratio=y, standard_error=0.1, df=8, n=5, n_reference=5
            )
            for i, y in enumerate(logs)
        ]
        line = joint_fit(ratios).combinations["A"]
        expected = ttest_1samp(logs, 0.0).confidence_interval(0.95)
        assert (line.low, line.high) == pytest.approx(tuple(expected), rel=1e-9)
        assert joint_fit(ratios).df == pytest.approx(3.0)


def test_ratios_that_agree_to_the_last_digit_keep_an_interval():
    ratios = [
        CampaignRatio(
            campaign=str(i), lubricant="A", log_ratio=0.2, standard_error=0.1, df=8, n=5, n_reference=5
        )
        for i in range(4)
    ]
    line = joint_fit(ratios).combinations["A"]
    least = 0.1 * math.sqrt(float(f.ppf(0.025, 3, 32)) / 4.0)
    assert line.standard_error == pytest.approx(least)
    assert joint_fit(ratios).between_low == 0.0


def test_oils_that_share_the_reference_count_for_less_than_their_number():
    """Three oils in all of 5 campaigns: 12^2 / (3*4 + 6*4/4) = 8 degrees of freedom, not 12."""
    rng = np.random.default_rng(2)
    ratios = [
        CampaignRatio(
            campaign=str(i),
            lubricant=oil,
            log_ratio=rng.normal(),
            standard_error=0.1,
            df=8,
            n=5,
            n_reference=5,
        )
        for i in range(5)
        for oil in ("A", "B", "C")
    ]
    assert joint_fit(ratios).df == pytest.approx(8.0)
    # oils that never meet share nothing but the spread
    apart = [
        CampaignRatio(
            campaign=f"{oil}{i}",
            lubricant=oil,
            log_ratio=rng.normal(),
            standard_error=0.1,
            df=8,
            n=5,
            n_reference=5,
        )
        for oil in "AB"
        for i in range(3)
    ]
    assert joint_fit(apart).df == pytest.approx(4.0)


def test_limits_of_the_spread_between_campaigns_meet_their_limits():
    """With runs beyond number the squares are a chi-square: SS/tau^2 between its quantiles, by scipy."""
    logs = np.array([0.0, 1.0, 3.0, 2.0, 2.5])
    ratios = [
        CampaignRatio(
            campaign=str(i), lubricant="A", log_ratio=y, standard_error=1e-4, df=10**6, n=5, n_reference=5
        )
        for i, y in enumerate(logs)
    ]
    fit = joint_fit(ratios)
    squares = float(np.sum((logs - logs.mean()) ** 2))
    low, high = (math.sqrt(squares / chi2.ppf(p, 4)) for p in (0.975, 0.025))
    assert (fit.between_low, fit.between_high) == pytest.approx((low, high), rel=1e-4)
    # one more campaign: t with the plain prediction formula
    line = fit.combinations["A"]
    reach = 2.7764451 * logs.std(ddof=1) * math.sqrt(1.0 + 1.0 / 5.0)
    # 1 %: the distribution of the spread is summed over a grid of 301 quantiles
    assert line.prediction_high - line.estimate == pytest.approx(reach, rel=0.01)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: random_effects([], []), "equal length"),
        (lambda: random_effects([1.0], [0.0]), "positive"),
        (lambda: between_variance([([1.0], [0.1])]), "two campaigns"),
        (lambda: campaign_ratios({"01": {"R": [1.0, -1.0], "A": [1.0]}}, "R"), "positive"),
        (lambda: rank_lubricants([], "R"), "none"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()

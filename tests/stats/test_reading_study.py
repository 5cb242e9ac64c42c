"""Reading study, layout of readings and bias: relations and edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.stats import ttest_1samp

from pinscar.stats.reading_study import reading_bias, reading_layout, reading_study


def simulated(shape=(3, 8, 3), reader=0.5, scar=2.0, interaction=0.0, seed=1):
    rng = np.random.default_rng(seed)
    o, p, _ = shape
    effects = reader * rng.standard_normal((o, 1, 1)) + scar * rng.standard_normal((1, p, 1))
    return effects + interaction * rng.standard_normal((o, p, 1)) + 0.3 * rng.standard_normal(shape)


def variances(study):
    return {component.source: component.variance for component in study.components}


@given(st.integers(0, 50))
def test_parts_add_up(seed):
    study = reading_study(simulated(seed=seed, interaction=0.4))
    v = variances(study)
    rows = {row.source: row for row in study.table}
    parts = [rows[s].sum_of_squares for s in ("reader", "scar", "interaction", "repeats")]
    assert sum(parts) == pytest.approx(rows["total"].sum_of_squares)
    assert v["reading"] == pytest.approx(v["repeats"] + v["reader"] + v.get("interaction", 0.0))
    assert v["total"] == pytest.approx(v["reading"] + v["scar"])
    assert all(c.low <= c.variance <= c.high for c in study.components)


def test_interaction_is_kept_when_it_is_there():
    study = reading_study(simulated(interaction=1.0, seed=3))
    assert not study.pooled
    assert "interaction" in variances(study)


def test_estimates_are_unbiased():
    studies = [variances(reading_study(simulated((4, 10, 2), seed=s), pool_above=0.0)) for s in range(1500)]
    # Means of 1500 simulated studies; of few readers a study, so that their component scatters most.
    assert np.mean([v["repeats"] for v in studies]) == pytest.approx(0.09, rel=0.02, abs=0)
    assert np.mean([v["scar"] for v in studies]) == pytest.approx(4.0, rel=0.05, abs=0)
    assert np.mean([v["reader"] for v in studies]) == pytest.approx(0.25, rel=0.08, abs=0)


def test_reader_and_scar_change_places_when_the_axes_do():
    cube = simulated(seed=4)
    one, other = variances(reading_study(cube)), variances(reading_study(cube.swapaxes(0, 1)))
    assert other["reader"] == pytest.approx(one["scar"])
    assert other["scar"] == pytest.approx(one["reader"])
    assert other["total"] == pytest.approx(one["total"])


def test_single_readings_pool_the_interaction_and_say_so():
    study = reading_study(simulated((3, 6, 1)))
    assert study.pooled
    assert "read once" in study.note
    rows = {row.source: row for row in study.table}
    assert rows["repeats"].mean_square is None
    assert variances(study)["repeats"] == pytest.approx(rows["interaction"].mean_square)


def test_scars_that_cannot_be_told_apart_form_one_category():
    assert reading_study(simulated(scar=0.0, reader=1.0, seed=6)).distinct_categories == 1


def test_readings_without_error_have_no_category_count():
    study = reading_study(np.broadcast_to(np.arange(4.0)[None, :, None], (2, 4, 2)))
    assert (study.category_ratio, study.distinct_categories) == (None, None)


def test_the_rule_of_pooling_is_stated():
    assert "p above 0.1" in reading_study(simulated(), pool_above=0.1).method


def test_the_limit_of_pooling_is_given_with_its_source_and_reason():
    told = reading_study(simulated()).method
    assert "p above 0.25" in told
    assert "Underwood, Experiments in Ecology, 1997" in told
    assert "Underwood" not in reading_study(simulated(), pool_above=0.1).method


@pytest.mark.parametrize(("size", "kept"), [(0.5, (0.252, 0.611)), (1.0, (0.827, 0.966))])
def test_the_docstring_tells_how_often_an_interaction_is_kept(size, kept):
    # Under a true interaction the ratio of mean squares is (1 + r s^2) F; 3 readers, 10 scars, 2 repeats.
    limits = np.array([0.05, 0.25])
    shares = stats.f.sf(stats.f.isf(limits, 18, 30) / (1 + 2 * size**2), 18, 30)
    assert shares == pytest.approx(kept, abs=5e-4)
    assert all(
        f"{share:.0%}".replace("%", " %") in " ".join(reading_study.__doc__.split()) for share in shares
    )
    # and by drawing studies
    draws = np.random.default_rng(31)
    cells = draws.normal(0, size, (2000, 3, 10, 1)) + draws.normal(0, 1, (2000, 3, 10, 2))
    pooled = [reading_study(cube).pooled for cube in cells]
    assert 1 - np.mean(pooled) == pytest.approx(kept[1], abs=0.033)  # three standard errors


@pytest.mark.parametrize(
    ("cube", "words"), [(np.zeros((1, 3, 2)), "2 x 2"), (np.full((2, 2, 2), np.nan), "finite")]
)
def test_incomplete_studies_are_refused(cube, words):
    with pytest.raises(ValueError, match=words):
        reading_study(cube)


def test_layout_keeps_order_and_drops_surplus():
    readers = ["A", "A", "A", "B", "B", "A", "B"]
    scars = ["1", "1", "2", "1", "2", "3", "2"]
    layout = reading_layout(readers, scars, [1.0, 1.5, 2.0, 3.0, 4.0, 9.0, np.nan])
    assert layout.values.tolist() == [[[1.0], [2.0]], [[3.0], [4.0]]]
    assert layout.left_out == (
        "Scar 3 was not read by B.",
        "1 readings beyond the first 1 of a reader on a scar stay out.",
    )


def test_layout_of_a_complete_study_leaves_nothing_out():
    cube = simulated((2, 3, 2))
    reader, scar, _ = np.indices(cube.shape)
    layout = reading_layout(reader.ravel(), scar.ravel(), cube.ravel())
    assert np.array_equal(layout.values, cube)
    assert layout.left_out == ()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((["A"], ["1", "2"], [1.0]), "equal length"),
        ((["A", "B"], ["1", "2"], [1.0, 2.0]), "needs two of each"),
    ],
)
def test_layout_refuses_what_cannot_be_crossed(arguments, words):
    with pytest.raises(ValueError, match=words):
        reading_layout(*arguments)


def test_bias_agrees_with_a_one_sample_t_test():
    readings = np.array([1.002, 1.004, 1.003, 0.999, 1.001]) * 1e-3
    other = ttest_1samp(readings, 1e-3).confidence_interval(0.95)
    result = reading_bias(readings, 1e-3)
    assert (result.low, result.high) == pytest.approx((other.low - 1e-3, other.high - 1e-3), rel=1e-6, abs=0)
    assert result.df == pytest.approx(4)


def test_a_certificate_uncertainty_widens_the_interval_and_adds_degrees():
    readings = np.array([1.002, 1.004, 1.003]) * 1e-3
    plain, widened = reading_bias(readings, 1e-3), reading_bias(readings, 1e-3, 0.95, 2e-6)
    assert widened.df > plain.df
    assert widened.shown is False
    assert "no bias is shown" in widened.statement
    # 1.967 stands for Student's quantile at some hundreds of degrees of freedom.
    assert widened.high - widened.low == pytest.approx(
        2 * 1.967 * np.hypot(1e-6 / np.sqrt(3), 2e-6), rel=0.02
    )


def test_short_readings_are_called_short():
    assert reading_bias([0.99e-3, 0.991e-3, 0.989e-3], 1e-3).statement.startswith(
        "The readings are 1 % short"
    )


def test_one_reading_has_no_interval():
    result = reading_bias([1.01e-3], 1e-3)
    assert (result.low, result.high, result.shown) == (None, None, None)
    assert result.statement == "One reading, 1 % long: single reading, no interval."


@pytest.mark.parametrize("arguments", [([1.0], 0.0), ([1.0], 1.0, 0.95, -1.0), ([1.0], 1.0, 1.0)])
def test_bias_refuses_impossible_arguments(arguments):
    with pytest.raises(ValueError, match="must"):
        reading_bias(*arguments)

"""Margins: duality of test and interval, mirror images, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.weightstats import ttost_ind

from pinscar.stats.two_groups import contrast, equivalence, noninferiority, pooled_t

estimates = st.floats(-0.4, 0.4)
errors = st.floats(0.005, 0.3)


@given(estimates, errors, st.integers(2, 40))
def test_the_claim_is_shown_exactly_when_the_interval_clears_the_margin(estimate, error, df) -> None:
    c = contrast(estimate, error, df, 0.95)
    higher, lower = noninferiority(c, 0.1, "higher"), noninferiority(c, 0.1, "lower")
    both = equivalence(c, 0.9, 1.1)
    assert higher.shown == (higher.low > 0.9)
    assert lower.shown == (lower.high < 1.1)
    assert both.shown == (both.low > 0.9 and both.high < 1.1)
    assert both.p == max(higher.p, lower.p)


@given(estimates, errors, st.integers(2, 40))
def test_turning_the_ratio_over_turns_the_claim_over(estimate, error, df) -> None:
    first = equivalence(contrast(estimate, error, df, 0.95), 0.8, 1.25)
    second = equivalence(contrast(-estimate, error, df, 0.95), 0.8, 1.25)
    assert first.p == pytest.approx(second.p, rel=1e-9, abs=1e-300)


def test_equivalence_agrees_with_statsmodels() -> None:
    rng = np.random.default_rng(2)
    a, b = rng.normal(0, 0.1, 7), rng.normal(0.02, 0.1, 6)
    theirs = ttost_ind(a, b, np.log(0.9), np.log(1.1))[0]
    assert equivalence(pooled_t(a, b), 0.9, 1.1).p == pytest.approx(theirs, rel=1e-9, abs=0)


def test_the_method_tells_which_interval_is_shown() -> None:
    result = equivalence(contrast(0.0, 0.01, 10, 0.95), 0.9, 1.1)
    assert "90 % limits shown" in result.method
    assert "two one-sided t tests" in result.method


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda c: noninferiority(c, 0.0), "margin"),
        (lambda c: noninferiority(c, 10.0), "margin"),
        (lambda c: noninferiority(c, 0.1, "up"), "better"),
        (lambda c: equivalence(c, 1.1, 1.2), "either side"),
        (lambda c: equivalence(c, 0.9, 1.1, 95), "confidence"),
    ],
)
def test_misuse_is_refused(call, word) -> None:
    with pytest.raises(ValueError, match=word):
        call(contrast(0.0, 0.1, 5, 0.95))

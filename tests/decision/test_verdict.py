"""Verdicts follow the whole interval, and a bound alone can only ever refuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.decision.verdict import Verdict, judge, overall

NUMBERS = st.floats(0.1, 1000.0)


@pytest.mark.parametrize(
    ("low", "high", "side", "expected"),
    [
        (121.0, 140.0, "at least", Verdict.MET),
        (120.0, 140.0, "at least", Verdict.MET),
        (100.0, 119.9, "at least", Verdict.NOT_MET),
        (100.0, 120.0, "at least", Verdict.UNDECIDED),
        (100.0, 119.0, "at most", Verdict.MET),
        (100.0, 121.0, "at most", Verdict.UNDECIDED),
        (121.0, 130.0, "at most", Verdict.NOT_MET),
        (None, 110.0, "at least", Verdict.NOT_MET),
        (None, 130.0, "at least", Verdict.UNDECIDED),
        (None, 110.0, "at most", Verdict.MET),
        (None, None, "at least", Verdict.UNDECIDED),
    ],
)
def test_the_interval_decides(low: float | None, high: float | None, side: str, expected: Verdict) -> None:
    assert judge(low, high, 120.0, side) is expected  # type: ignore[arg-type]


@given(NUMBERS, NUMBERS)
def test_an_upper_bound_alone_never_meets_a_lower_limit(high: float, limit: float) -> None:
    assert judge(None, high, limit, "at least") is not Verdict.MET


@given(NUMBERS, NUMBERS, NUMBERS)
def test_turning_the_axis_round_turns_the_sides_round(a: float, b: float, limit: float) -> None:
    low, high = min(a, b), max(a, b)
    turned = judge(-high, -low, -limit, "at most")
    assert judge(low, high, limit, "at least") is turned


def test_one_failed_limit_fails_the_campaign_and_none_gives_no_verdict() -> None:
    assert overall([Verdict.MET, Verdict.UNDECIDED, Verdict.NOT_MET]) is Verdict.NOT_MET
    assert overall([Verdict.MET, Verdict.UNDECIDED]) is Verdict.UNDECIDED
    assert overall([Verdict.MET]) is Verdict.MET
    assert overall([]) is None

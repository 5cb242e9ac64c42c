"""Had wear stopped: every branch of the rule, and the contradictions between word and clock."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.contact.wear import (
    DECLARED_RUNNING_BUT_QUIET,
    DECLARED_STOPPED_BUT_NOISY,
    contradictions,
    left_censored,
    wear_stopped,
)

NAN = float("nan")


@pytest.mark.parametrize(
    ("declared", "quiet", "duration", "start", "expected"),
    [
        (True, NAN, 60, 0, True),
        (False, NAN, 60, 0, False),
        (True, 60, 60, 0, True),
        (False, 10, 60, 0, False),
        (None, NAN, 60, 0, None),
        (None, 10, 60, 0, True),
        (None, 54, 60, 0, True),
        (None, 54.1, 60, 0, None),
        (None, 60, 60, 0, None),
        (None, 25, 60, 30, None),
        (None, 31, 60, 30, True),
        (None, 57, 60, 30, True),
        (None, 57.1, 60, 30, None),
        (None, 10, NAN, 0, None),
        (np.bool_(True), NAN, 60, 0, True),
        (NAN, 10, 60, 0, True),
    ],
)
def test_rule(declared: object, quiet: float, duration: float, start: float, expected: bool | None) -> None:
    """A tenth of 40.2 s is not exact in binary; a quiet time on the limit still counts."""
    assert wear_stopped([declared], [quiet], [duration], [start]).tolist() == [expected]


def test_the_tenth_is_of_the_final_step_in_decimal_clock_readings() -> None:
    """0.1 x (60.3 - 20.1) is not exact in binary; a quiet time on the limit still counts."""
    assert wear_stopped([None], [56.28], [60.3], [20.1]).tolist() == [True]


def test_contradictions() -> None:
    """Only words that the clock denies are named: running but quiet, stopped but noisy."""
    said = [False, False, False, True, True, True, None, None]
    quiet = [10, 59, NAN, 60, 59, NAN, 10, 60]
    found = contradictions(said, quiet, 60, 0).tolist()
    assert found == [DECLARED_RUNNING_BUT_QUIET, "", "", DECLARED_STOPPED_BUT_NOISY, "", "", "", ""]


def test_quiet_in_an_earlier_step_contradicts_nothing() -> None:
    assert contradictions([False], [10], [60], [30]).tolist() == [""]


def test_only_a_stop_is_a_value() -> None:
    stopped = wear_stopped([[True, False, None]], 60, 60, 0)
    assert stopped.shape == (1, 3)
    assert left_censored(stopped).tolist() == [[False, True, True]]


def test_empty() -> None:
    """No runs give no answers, not an error."""
    nothing = np.array([], dtype=object)
    assert wear_stopped(nothing, [], [], []).shape == (0,)
    assert left_censored(nothing).shape == (0,)


def test_a_word_that_is_no_answer_is_refused() -> None:
    with pytest.raises(ValueError, match="'maybe'"):
        wear_stopped(["maybe"], [10], [60], [0])
    with pytest.raises(ValueError, match="last_step_start"):
        wear_stopped([None], [10], [60], [61])

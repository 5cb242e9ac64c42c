"""Numbers as a reader sees them: nothing positive becomes 0, nothing runs to hundreds of digits."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.campaign.model import Criterion
from pinscar.decision import words
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.judgements import Cell, Summary
from pinscar.decision.responses import STANDARD
from pinscar.decision.summaries import estimate_cell
from pinscar.wording import change_range, percent_change, significant, with_interval

SIZES = st.floats(1e-12, 1e300)


def read(text: str) -> float:
    """Read a number back as a person would."""
    text = text.replace("\N{MINUS SIGN}", "-")
    if "×" not in text:
        return float(text)
    mantissa, power = text.split(" × 10")
    return float(mantissa) * 10.0 ** int(power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")))


@given(st.tuples(SIZES, SIZES, SIZES))
def test_what_is_read_back_is_within_half_a_last_figure_of_two(numbers: tuple[float, float, float]) -> None:
    low, value, high = sorted(numbers)
    if low == high:
        return
    text = with_interval(value, low, high)
    shown = re.fullmatch(r"(.+) \((.+) to (.+)\)", text)
    assert shown is not None and len(text) < 60
    assert all(read(said) > 0.0 for said in shown.groups())
    # Two figures are shown: half a step in the second is up to 5 % (of 1.0).
    assert read(shown[1]) == pytest.approx(value, rel=0.051)
    assert read(shown[3]) == pytest.approx(high, rel=0.051) or high - low < 10.0 * high


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ((0.42, 1e-5, 19000.0), "0.42 (0.000010 to 19000)"),
        ((0.0, 0.0, 0.92), "0 (0 to 0.92)"),
        ((1.1, 0.03, 1e120), "1.1 (0.030 to 1.0 × 10¹²⁰)"),
        ((118.2, 104.4, 133.9), "118 (104 to 134)"),
        ((0.64, 0.578, 0.713), "0.64 (0.58 to 0.71)"),
        ((-0.3, -12.4, 11.0), "\N{MINUS SIGN}0.30 (\N{MINUS SIGN}12 to 11)"),
        ((8.1, 2.0, math.inf), "8.10 (at least 2.00)"),
    ],
)
def test_an_interval_in_words(numbers: tuple[float, float, float], text: str) -> None:
    assert with_interval(*numbers) == text


def test_changes_in_percent_are_0_or_100_only_where_they_are() -> None:
    assert percent_change(1.002, "smaller", "larger") == "about 0.2 % larger"
    assert percent_change(0.0004, "smaller", "larger") == "about 99.960 % smaller"
    assert change_range(0.9, 1e-4, 1e200) == "\N{MINUS SIGN}99.990 to +1.0 × 10²⁰² %"
    assert change_range(3.0, 0.004, 1e120) == "0.0040 to 1.0 × 10¹²⁰ times"
    assert significant(math.inf) == "–"


def judged(name: str, rule: str, limit: str, values: list[float], bounds: bool) -> str:
    response = next(one for one in STANDARD if one.name == name)
    criterion = Criterion.model_validate(
        {"id": "limit", "response": name, "lubricant": "C", "load": "450 N", "rule": rule, "limit": limit}
    )
    n = len(values)
    cell = Cell(
        lubricant="C",
        load_level=450.0,
        run_ids=tuple(f"r{i}" for i in range(n)),
        values=np.array(values),
        censored=np.full(n, bounds),
    )
    summary = Summary(response, cell, estimate_cell(cell, response, 0.95))
    (found,) = judge_criteria([criterion], [summary], [], 0.95, lambda evidence, limit: None)
    return words.because(found)


def test_runs_that_all_still_rub_say_at_least_and_never_a_dash() -> None:
    said = judged("quiet_time", "at most", "40 s", [60.0] * 6, True)
    assert "all 6 runs give lower bounds only: quiet time is at least 60.0 s" in said
    film = judged("film_pressure", "at least", "90 MPa", [8e7, 8.1e7, 7.9e7, 8e7, 8e7, 8e7], True)
    assert "the film carries at most" in film and "MPa" in film
    assert "–" not in said + film


def test_drips_need_no_article_and_no_unit() -> None:
    criterion = Criterion.model_validate(
        {"id": "d", "response": "drips", "lubricant": "C", "load": "450 N", "rule": "at most", "limit": "2"}
    )
    (found,) = judge_criteria([criterion], [], [], 0.95, lambda evidence, limit: None)
    assert words.because(found) == "no run of C at 450 N gives drips to judge"
    said = judged("drips", "at most", "2", [0.0, 0.0, 0.0, 0.0], False)
    assert said.startswith("0 (0 to 0.92) from 4 runs")

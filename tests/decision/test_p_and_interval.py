"""An adjusted p never contradicts the interval beside it: in random campaigns, as numbers and as printed."""

from __future__ import annotations

import re

import numpy as np
import pytest

from pinscar.stats.choose import compare_with_reference
from pinscar.stats.family import Comparison
from pinscar.wording import p_value, with_interval

CONFIDENCE = 0.95
CAMPAIGNS = {"welch": 150, "pooled": 60, "blocks": 25, "censored": 12}
"""Random campaigns of each kind: as many as a few seconds allow."""


def drawn(kind: str, rng: np.random.Generator) -> list[Comparison]:
    """Draw a campaign whose oils lie near the edge of being told from the reference, and compare it."""
    oils, n = int(rng.integers(1, 4)), int(rng.integers(3, 7))
    sd = float(rng.uniform(0.03, 0.3))
    names = ["R", *[f"C{i}" for i in range(oils)]]
    shifts = [0.0, *rng.uniform(-4.0, 4.0, oils) * sd / np.sqrt(n)]
    sizes = [n if kind != "welch" else int(rng.integers(2, 7)) for _ in names]
    days = [[f"day {i % 3}" for i in range(size)] for size in sizes]
    day = dict(
        zip(("day 0", "day 1", "day 2"), rng.normal(0.0, sd if kind == "blocks" else 0.0, 3), strict=True)
    )
    values = {
        name: 100.0 * np.exp(rng.normal(shift, sd, size) + [day[one] for one in labels])
        for name, shift, size, labels in zip(names, shifts, sizes, days, strict=True)
    }
    blocks = dict(zip(names, days, strict=True)) if kind == "blocks" else None
    hidden = {name: np.arange(len(v)) < int(kind == "censored") for name, v in values.items()}
    return compare_with_reference(
        values,
        "R",
        CONFIDENCE,
        blocks=blocks,
        left_censored=hidden if kind == "censored" else None,
        pooled=kind == "pooled",
    )


@pytest.mark.parametrize("kind", CAMPAIGNS)
def test_p_is_below_the_level_exactly_where_the_interval_leaves_out_equality(kind: str) -> None:
    rng = np.random.default_rng(20260414)
    level, told, apart, near = 1.0 - CONFIDENCE, 0, 0, 0
    for _ in range(CAMPAIGNS[kind]):
        for one in drawn(kind, rng):
            if one.p_adjusted is None or one.low is None or one.high is None:
                continue
            told += 1
            outside = not one.low <= 1.0 <= one.high
            apart += outside
            near += 0.01 < one.p_adjusted < 0.1
            # a p within the quadrature's error of the level could fall on either side
            if abs(one.p_adjusted - level) > 1e-4:
                assert (one.p_adjusted < level) == outside, one
            assert_printed_alike(one, level)
    assert told > CAMPAIGNS[kind] // 2
    assert 0 < apart < told and near > 0, "the draws must lie on both sides, and some near the edge"


def assert_printed_alike(one: Comparison, level: float) -> None:
    """Ask of the printed numbers what was asked of the exact ones."""
    shown = with_interval(one.ratio, one.low, one.high, equal=1.0)
    ends = re.fullmatch(r".* \((\S+) to (\S+)\)", shown)
    if ends is None or "×" in shown:
        return  # powers of ten, far from equality
    low, high = float(ends[1]), float(ends[2])
    assert (low <= 1.0 <= high) == (one.low <= 1.0 <= one.high)  # type: ignore[operator]
    printed = p_value(one.p_adjusted, level)
    if not printed.startswith("<") and one.p_adjusted != level:
        assert (float(printed) < level) == (one.p_adjusted < level)  # type: ignore[operator]


def test_an_interval_that_touches_equality_by_rounding_gets_more_decimals() -> None:
    assert with_interval(1.2, 1.0004, 1.44, equal=1.0) == "1.2000 (1.0004 to 1.4400)"
    assert with_interval(1.2, 1.0, 1.44, equal=1.0) == "1.20 (1.00 to 1.44)"
    assert p_value(0.0499, 0.05) == "0.0499"
    assert p_value(0.05003, 0.05) == "0.05003"

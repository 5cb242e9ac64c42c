"""Interval and adjusted p come from one procedure: p is small exactly where the interval leaves 1 out."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.choose import all_pairs, compare_with_reference
from pinscar.stats.estimates import VariancePrior
from pinscar.stats.intervals import mean_ratio, mean_ratio_in_blocks

DAYS = ["mon", "mon", "tue", "tue", "wed", "wed"]
PRIOR = VariancePrior(9.0, 0.05**2, 6)
CASES = {
    "one oil": ((4, 4), {}),
    "three oils": ((3, 3, 3, 3), {}),
    "unequal numbers": ((3, 7, 5), {}),
    "pooled": ((4, 5), {"pooled": True}),
    "pooled, three oils": ((4, 4, 3, 5), {"pooled": True}),
    "rounded": ((4, 4, 4), {"step": 0.05}),
    "rounded, pooled": ((4, 4, 4), {"step": 0.05, "pooled": True}),
    "earlier runs": ((3, 4, 3), {"prior": PRIOR}),
    "earlier runs, pooled": ((3, 4, 3), {"prior": PRIOR, "pooled": True}),
    "linear": ((4, 5, 4), {"scale": "linear"}),
    "blocks": ((6, 6, 6), {"blocks": True}),
    "blocks, rounded": ((6, 6), {"blocks": True, "step": 0.05}),
    "censored": ((4, 4), {"hide": 0.3}),
    "censored, two oils": ((5, 5, 5), {"hide": 0.3}),
    "censored in blocks": ((6, 6), {"hide": 0.15, "blocks": True}),
    "one oil all censored": ((6, 6, 6), {"hide_all": True}),
}


@pytest.mark.parametrize("name", CASES)
def test_small_p_and_an_interval_without_1_go_together(name: str) -> None:
    sizes, given = CASES[name]
    given = dict(given)
    hide, hide_all = given.pop("hide", 0.0), given.pop("hide_all", False)
    in_blocks = given.pop("blocks", False)
    rng = np.random.default_rng(5)
    tested = small = 0
    for campaign in range(6 if hide and in_blocks else 12 if hide or in_blocks else 60):
        confidence = (0.95, 0.8)[campaign % 2]
        day = dict(zip(DAYS, 0.08 * rng.standard_normal(6), strict=True))
        values, hidden, blocks = {}, {}, {}
        for place, n in enumerate(sizes):
            labels = DAYS[:n] if in_blocks else [""] * n
            logs = 0.1 * place * (campaign % 3) + 0.08 * rng.standard_normal(n)
            logs += np.array([day.get(label, 0.0) for label in labels])
            oil = "RABC"[place]
            values[oil], blocks[oil] = np.exp(logs), labels
            hidden[oil] = rng.random(n) < hide if not hide_all else np.full(n, place == 2)
        if hide or hide_all:
            given["left_censored"] = hidden
        if in_blocks:
            given["blocks"] = blocks
        equal = 0.0 if given.get("scale") == "linear" else 1.0
        for found in compare_with_reference(values, "R", confidence, **given):
            if found.p_adjusted is None or found.low is None or found.high is None:
                continue
            tested += 1
            apart = not found.low <= equal <= found.high
            small += apart
            assert apart == (found.p_adjusted < 1.0 - confidence), (campaign, found)
    assert tested > 4
    assert 0 < small < tested


@pytest.mark.parametrize("blocks", [None, DAYS])
def test_letters_rest_on_the_same_intervals(blocks: list[str] | None) -> None:
    rng = np.random.default_rng(6)
    small = 0
    for _ in range(6):
        groups = {name: 0.3 * place + 0.3 * rng.standard_normal(6) for place, name in enumerate("abc")}
        labels = None if blocks is None else dict.fromkeys("abc", blocks)
        for contrast in all_pairs(groups, 0.9, blocks=labels).pairs.values():
            apart = not contrast.low <= 0.0 <= contrast.high
            small += apart
            assert apart == (contrast.p < 0.1)
    assert small > 0


def test_fiellers_limits_and_p_agree() -> None:
    rng = np.random.default_rng(7)
    small = 0
    for campaign in range(120):
        x, y = 10 + 3 * (campaign % 3) + 2 * rng.standard_normal(6), 10 + 2 * rng.standard_normal(6)
        step = (0.0, 1.5)[campaign % 2]
        for found in (mean_ratio(x, y, 0.9, step), mean_ratio_in_blocks(x, y, DAYS, DAYS, 0.9, step)):
            if found.low is None or found.high is None:
                continue
            apart = not found.low <= 1.0 <= found.high
            small += apart
            assert apart == (found.p < 0.1)
    assert small > 10

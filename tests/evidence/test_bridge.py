"""Gaps of a trace, bridged: means over spans with gaps against the truth that readings were drawn from."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.evidence.recorder import bridges, mean_over


def test_without_gaps_there_is_nothing_to_bridge_and_with_too_many_nothing_is():
    time = np.arange(0.0, 61.0)
    assert bridges(time, np.full(61, 45.0), 0.0, 60.0) == ()
    torn = time[(time < 10.0) | (time > 40.0)]  # half of the run
    assert bridges(torn, np.full(torn.size, 45.0), 0.0, 60.0) == ()


def test_a_mean_of_straight_lines_is_exact():
    time = np.array([0.0, 2.0, 3.0, 8.0, 10.0])
    found = mean_over(time, 5.0 + 2.0 * time, 1.0, 9.0)
    assert found.mean == pytest.approx(15.0, rel=1e-12)
    assert found.uncertainty == pytest.approx(0.0, abs=1e-12)


def test_a_ramp_over_a_gap_keeps_its_mean():
    time = np.concatenate([np.arange(0.0, 25.0), np.arange(33.0, 61.0)])
    over = bridges(time, 60.0 - 0.5 * time, 0.0, 60.0)
    # medians of the five readings beside the gap lie two readings off its edges, on a ramp by 1 N each way
    assert mean_over(time, 60.0 - 0.5 * time, 0.0, 60.0, over).mean == pytest.approx(45.0, abs=0.02)


@pytest.mark.parametrize("kind", ["within", "first", "last"])
def test_the_true_mean_lies_within_twice_the_uncertainty(kind):
    """300 falls that end anywhere, a tenth of the run missing: 93 % and more of the truths are held."""
    rng, held = np.random.default_rng(5), 0
    fine = np.arange(0.0, 60.0, 0.01)
    for _ in range(300):
        end, power = rng.uniform(10.0, 50.0), rng.choice([0.0, 1.0, 2.0])
        fall = 20.0 + 15.0 * np.where(fine < end, (1.0 - fine / end).clip(0.0) ** power, 0.0)
        start = {"within": rng.uniform(5.0, 48.0), "first": -0.1, "last": 54.0}[kind]
        time = np.arange(0.5, 60.0)
        time = time[(time < start) | (time > start + 6.0)]
        force = np.interp(time, fine, fall) + rng.normal(0.0, 0.5, time.size)
        over = bridges(time, force, 0.0, 60.0)
        assert len(over) == 1
        found = mean_over(time, force, 0.0, 60.0, over)
        held += abs(found.mean - fall.mean()) <= 2.0 * found.uncertainty
    assert held / 300 > 0.93 - 2 * np.sqrt(0.93 * 0.07 / 300)


def test_a_gap_over_a_load_step_is_bridged_by_each_side_on_its_own():
    """Friction begins anew as metal where a load comes on: nothing joins the two sides of that moment."""
    time = np.concatenate([np.arange(0.0, 35.0), np.arange(45.0, 61.0)])
    # metal 0.16 for 12 s after each load, film 0.08 then; loads come on at 0, 20 and 40 s
    mu = np.where(time % 20.0 < 12.0, 0.16, 0.08)
    first, second = bridges(time, mu, 0.0, 60.0, changes=[0.0, 20.0, 40.0])
    # until 40 s film, as other steps end; from there metal, as they begin
    assert (first.start, first.end, first.before, first.after) == (34.0, 40.0, 0.08, 0.08)
    assert (second.start, second.end, second.before, second.after) == (40.0, 45.0, 0.16, 0.16)
    whole = mean_over(time, mu, 0.0, 60.0, (first, second))
    assert whole.mean == pytest.approx((3 * 12 * 0.16 + 3 * 8 * 0.08) / 60.0, abs=0.002)

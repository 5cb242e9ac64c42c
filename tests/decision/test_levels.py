"""Load levels gather loads within half a percent, whatever the order of the runs."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pinscar.decision.runs import load_levels, same_level


def test_loads_within_half_a_percent_form_one_level_shown_as_their_median() -> None:
    loads = [450.0, 451.5, 452.2, 600.0, 603.1]
    levels = load_levels(loads, [True] * 5)
    np.testing.assert_array_equal(levels, [451.5, 451.5, 451.5, 600.0, 603.1])


def test_an_excluded_run_neither_gets_nor_moves_a_level() -> None:
    levels = load_levels([450.0, 452.0, 451.0], [True, False, True])
    assert levels[0] == levels[2] == 450.5
    assert np.isnan(levels[1])


@given(st.lists(st.floats(50.0, 1000.0), min_size=1, max_size=20), st.randoms())
def test_levels_do_not_depend_on_the_order_of_the_runs(loads: list[float], shuffle: object) -> None:
    order = list(range(len(loads)))
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    direct = load_levels(loads, [True] * len(loads))
    shuffled = load_levels([loads[i] for i in order], [True] * len(loads))
    np.testing.assert_array_equal(shuffled, direct[order])


def test_a_criterion_load_means_the_level_within_half_a_percent() -> None:
    assert same_level(450.0, 452.2)
    assert not same_level(450.0, 453.0)

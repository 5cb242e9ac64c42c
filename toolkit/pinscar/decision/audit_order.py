"""Audit of the run order: whether a lubricant ran early or late, over all days together."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.wording import counted
from pinscar.stats.permutation import OrderTest, stratified_order_test

ORDER_P = 0.05


def run_order(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find a lubricant that ran earlier or later in the day than the others at its load, p < 0.05.

    All days are tested together by `stratified_order_test`, each day and load level a stratum of its own:
    lubricants are compared at one load, so only the order among the runs at that load can mislead.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        At most one; a note where no times were recorded.
    """
    timed = runs[runs["run_at"].notna()]
    if timed.empty:
        yield Finding(
            "order-unknown",
            Weight.NOTE,
            "the time of the runs was not recorded.",
            "Nobody can tell whether the order of the runs favoured a lubricant.",
        )
        return
    timed = timed[timed["load_level"].notna()]
    strata = [f"{day} {load}" for day, load in zip(timed["run_day"], timed["load_level"], strict=True)]
    test = stratified_order_test(timed["run_at"].rank(), list(timed["lubricant"]), strata)
    if test is None or test.p >= ORDER_P:
        return
    name = _farthest(test, reference)
    way, days = "late" if test.scores[name] > 0.0 else "early", timed["run_day"].nunique()
    kind = "exact" if test.exact else "simulated"
    yield Finding(
        "order-confounded",
        Weight.CAUTION,
        f"{name} ran {way} among the runs of the day at its load, over {counted(days, 'day')} together "
        f"({kind} permutation test, p = {test.p:.2g}).",
        "Warming of the rig or wear of the ring through the day may pass for a difference between "
        "lubricants.",
        tuple(timed.loc[timed["lubricant"] == name, "run_id"]),
    )


def _farthest(test: OrderTest, reference: str) -> str:
    # Of two lubricants both are equally far out: the one that is compared is named.
    return max(test.scores, key=lambda name: (round(abs(test.scores[name]), 9), name != reference))

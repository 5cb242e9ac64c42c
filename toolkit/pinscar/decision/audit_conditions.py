"""Audit of the conditions: whether the lubricants were run alike."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.grouping import by_cell, by_level, by_lubricant
from pinscar.decision.likeness import unlike_reason
from pinscar.decision.wording import counted, listing, load_text

SETTING_TOLERANCE = 0.02
DOSE_TOLERANCE = 0.10


def unlike_conditions(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants whose typical duration or speed differs from the reference's at the same load.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        One a lubricant and load, blocking.
    """
    for level, group in by_level(runs):
        base = group[group["lubricant"] == reference]
        if base.empty:
            continue
        for lubricant, own in by_lubricant(group):
            reason = None if lubricant == reference else unlike_reason(own, base)
            if reason is not None:
                yield Finding(
                    "unlike-conditions",
                    Weight.BLOCKS,
                    f"{lubricant} at {load_text(level)} was {reason}.",
                    f"{lubricant} and {reference} are shown side by side at this load but not tested "
                    "against each other.",
                    tuple(own["run_id"]),
                )


def load_not_shared(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that were run at a load at which the reference was not.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        One a load, blocking.
    """
    with_reference = set(runs.loc[runs["lubricant"] == reference, "load_level"])
    for level, group in by_level(runs):
        if level not in with_reference:
            names = listing(sorted(set(group["lubricant"])))
            yield Finding(
                "load-not-shared",
                Weight.BLOCKS,
                f"{names} ran at {load_text(level)}, {reference} did not.",
                "Results at different loads are not compared.",
                tuple(group["run_id"]),
            )


def odd_settings(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find single runs whose duration or speed differs from the rest at their load.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most one a setting.
    """
    del reference
    for column, words in (("duration", "a duration"), ("ring_speed", "a ring speed")):
        usual = runs.groupby(["lubricant", "load_level"])[column].transform("median")
        odd = runs[(runs[column] - usual).abs() > SETTING_TOLERANCE * usual]
        if not odd.empty:
            yield Finding(
                f"odd-{column.replace('_', '-')}",
                Weight.CAUTION,
                f"{counted(len(odd), 'run')} had {words} more than 2 % off the others of the same "
                "lubricant and load.",
                "Scar and wear volume grow with sliding distance, so these runs are not quite repeats of "
                "the others.",
                tuple(odd["run_id"]),
            )


def stepped_loads(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose load was raised while running.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where only one side of a comparison has such runs throughout.
    """
    stepped = np.array(["load-steps" in flags for flags in runs["flags"]], dtype=bool)
    if not stepped.any():
        return
    flagged = runs.assign(stepped=stepped)
    share = {(name, level): float(group["stepped"].mean()) for level, name, group in by_cell(flagged)}
    one_sided = [
        f"{name} at {load_text(level)}"
        for (name, level), value in share.items()
        if (reference, level) in share and abs(value - share[(reference, level)]) == 1.0
    ]
    yield Finding(
        "load-history",
        Weight.BLOCKS if one_sided else Weight.CAUTION,
        f"the load was raised while running in {counted(int(stepped.sum()), 'run')}.",
        f"The scar keeps the history of the lower load; {listing(one_sided)} can't be called like for like."
        if one_sided
        else (
            "Their final pressure is that of the last load, but the scar keeps the history of the "
            "earlier one."
        ),
        tuple(runs.loc[stepped, "run_id"]),
    )


def pin_preparation(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find re-ground pins among new ones.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where one lubricant ran on re-ground pins only and the reference on new ones only.
    """
    states = runs[runs["pin_state"].isin(["new", "reground"])]
    if states["pin_state"].nunique() < 2:
        return
    share = (states["pin_state"] == "reground").groupby(states["lubricant"]).mean()
    base = share.get(reference, np.nan)
    apart = [str(name) for name, value in share.items() if abs(value - base) == 1.0]
    reground = states[states["pin_state"] == "reground"]
    yield Finding(
        "pin-preparation",
        Weight.BLOCKS if apart else Weight.CAUTION,
        f"{counted(len(reground), 'run')} used re-ground pins, the others new ones.",
        f"{listing(apart)} differ from {reference} in pin preparation throughout, so pins may explain the "
        "difference."
        if apart
        else "A re-ground surface can wear in differently; the spread includes that.",
        tuple(reground["run_id"]),
    )


def doses(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose dose of lubricant differs from the usual one.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most one.
    """
    del reference
    usual = runs["dose"].median()
    odd = runs[(runs["dose"] - usual).abs() > DOSE_TOLERANCE * usual]
    if not odd.empty:
        yield Finding(
            "dose",
            Weight.CAUTION,
            f"{counted(len(odd), 'run')} had a dose more than 10 % off the usual {usual * 1e6:.3g} mL.",
            "More lubricant cools and feeds the contact; these runs may flatter or wrong their lubricant.",
            tuple(odd["run_id"]),
        )

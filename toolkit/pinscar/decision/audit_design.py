"""Audit of the design: days, rings, order and repeats."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd
from scipy import stats

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.grouping import by_cell, by_level, by_lubricant
from pinscar.decision.wording import counted, fixed, listing, load_text

FEW_REPEATS = 4
UNEQUAL_REPEATS = 2.0
ORDER_P = 0.05


def few_repeats(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find cells with too few repeats to say much.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most two: too few, and unequal.
    """
    del reference
    sizes = [(level, name, len(group)) for level, name, group in by_cell(runs)]
    small = [f"{name} at {load_text(level)} ({n})" for level, name, n in sizes if n < FEW_REPEATS]
    if small:
        yield Finding(
            "few-repeats",
            Weight.CAUTION,
            f"fewer than {FEW_REPEATS} repeats: {listing(small)}.",
            "Intervals from so few runs are wide and rest on the log-normal assumption.",
        )
    for level in dict.fromkeys(level for level, _, _ in sizes):
        counts = [n for at, _, n in sizes if at == level]
        if max(counts) >= UNEQUAL_REPEATS * min(counts):
            yield Finding(
                "unequal-repeats",
                Weight.NOTE,
                f"repeats at {load_text(level)} range from {min(counts)} to {max(counts)} per lubricant.",
                "The least repeated lubricant limits what the comparison can show.",
            )


def confounded_with(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that share no day, or no ring, with the reference at a load, or sit on one only.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where nothing is shared, a caution where a lubricant sits on one day or ring.
    """
    for column, word in (("run_day", "day"), ("ring_id", "ring")):
        known = runs[runs[column].fillna("").astype(str) != ""]
        for level, at_level in by_level(known):
            if at_level[column].nunique() == len(at_level):
                continue  # a fresh one in every run is part of the spread
            used = {name: frozenset(group[column]) for name, group in by_lubricant(at_level)}
            if reference in used:
                runs_of = {name: tuple(group["run_id"]) for name, group in by_lubricant(at_level)}
                yield from _confounded_at(used, runs_of, reference, word, level)


def _confounded_at(
    used: Mapping[str, frozenset[str]],
    runs_of: Mapping[str, tuple[str, ...]],
    reference: str,
    word: str,
    level: float,
) -> Iterator[Finding]:
    base = used[reference]
    for lubricant, own in used.items():
        if lubricant == reference:
            continue
        if not own & base:
            yield Finding(
                f"{word}-confounded",
                Weight.BLOCKS,
                f"at {load_text(level)}, {lubricant} and {reference} never ran on the same {word}.",
                f"A difference between them may be one between {word}s.",
                runs_of[lubricant],
            )
        elif len(own) == 1 and len(base) > 1:
            yield Finding(
                f"one-{word}",
                Weight.CAUTION,
                f"at {load_text(level)}, {lubricant} ran on one {word} only, {reference} on {len(base)}.",
                f"The spread of {lubricant} leaves out differences between {word}s, so it looks surer "
                "than it is.",
            )


def reference_drift(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find a drift of the reference's scar area through the campaign.

    Spearman rank correlation of scar area, relative to the load's median, with the time of the run, p < 0.05.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        At most one.
    """
    own = runs[(runs["lubricant"] == reference) & runs["run_at"].notna() & runs["scar_area"].notna()]
    if len(own) < 5:
        return
    relative = own["scar_area"] / own.groupby("load_level")["scar_area"].transform("median")
    test = stats.spearmanr(own["run_at"].rank(), relative)
    if float(test.pvalue) < ORDER_P:
        way = "grew" if test.statistic > 0 else "shrank"
        yield Finding(
            "reference-drift",
            Weight.CAUTION,
            f"the scars of {reference} {way} through the campaign (rank correlation "
            f"{fixed(float(test.statistic), 2)}, p = {test.pvalue:.2g}).",
            "The rig, the rings or the reference sample changed; compare within days.",
            tuple(own["run_id"]),
        )


def exclusions(runs: pd.DataFrame, excluded: pd.DataFrame) -> Iterator[Finding]:
    """List the excluded runs with their reasons.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    excluded : DataFrame
        Excluded runs.

    Yields
    ------
    Finding
        At most one.
    """
    if excluded.empty:
        return
    reasons = listing([f"{run.run_id} ({run.lubricant}: {run.excluded})" for run in excluded.itertuples()])
    yield Finding(
        "excluded-runs",
        Weight.NOTE,
        f"{counted(len(excluded), 'run')} of {len(runs) + len(excluded)} left out by the operator: "
        f"{reasons}.",
        "Excluded runs are listed and used nowhere; the reviewer should agree with each reason.",
        tuple(excluded["run_id"]),
    )
